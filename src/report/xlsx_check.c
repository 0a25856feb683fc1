/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "xlsx_check.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <zlib.h>

/* Layout of a zip archive: PKWARE's APPNOTE 6.3, sections 4.3.7, 4.3.12 and 4.3.16. */
enum {
	END_SIZE = 22,
	END_SIGNATURE = 0x06054b50,
	ENTRY_SIZE = 46,
	ENTRY_SIGNATURE = 0x02014b50,
	LOCAL_SIZE = 30,
	LOCAL_SIGNATURE = 0x04034b50,
	METHOD_STORED = 0,
	METHOD_DEFLATED = 8,
	PACKED_ROOM = 1 << 16,
	PLAIN_ROOM = 1 << 18,
	NAME_ROOM = 128,
	TAIL_ROOM = 64,
	DIRECTORY_MOST = 1 << 20,
	ELEMENTS_DEEP = 64,
};

struct entry {
	char name[NAME_ROOM];
	unsigned method;
	uint32_t crc;
	uint32_t packed;
	uint32_t size;
	uint32_t local; /* where its local header stands */
};

struct archive {
	int fd;
	uint64_t size;
	unsigned char *directory;
	size_t directory_size;
	size_t entries;
	unsigned char *packed; /* PACKED_ROOM */
	unsigned char *plain;  /* PLAIN_ROOM */
	enum status status;    /* of the first thing that went wrong */
	struct error *error;
};

/* Names of elements are kept as their hash, FNV-1a. */
#define NAME_BEGIN           2166136261u
#define NAME_ADD(name, byte) (((name) ^ (uint32_t)(byte)) * 16777619u)
#define NAME_CELL            NAME_ADD(NAME_BEGIN, 'c')
#define NAME_ROW             NAME_ADD(NAME_ADD(NAME_ADD(NAME_BEGIN, 'r'), 'o'), 'w')

/* Elements that are open, and the tag at hand. */
struct nesting {
	uint32_t names[ELEMENTS_DEEP];
	size_t depth;
	size_t tags;
	uint64_t rows, cells;
	bool in_tag, in_name, quoted;
	char first, last; /* bytes of the tag, "<" aside */
	uint32_t name;
	bool broken;
};

/* What is seen of a part while it is unpacked. */
struct look {
	uint64_t seen;
	uint32_t crc;
	struct nesting nesting;
	unsigned char tail[TAIL_ROOM]; /* its last bytes */
	size_t tail_len;
};

static uint32_t u16(const unsigned char *at)
{
	return (uint32_t)at[0] | (uint32_t)at[1] << 8;
}

static uint32_t u32(const unsigned char *at)
{
	return u16(at) | u16(at + 2) << 16;
}

/* Remembers what is wrong; false, for the caller to pass on. */
static bool broken(struct archive *archive, const char *what)
{
	archive->status = error_set(archive->error, STATUS_IO, "the file is not whole (%s)", what);
	return false;
}

static bool unreadable(struct archive *archive)
{
	archive->status = error_set_errno(archive->error, STATUS_IO, "reading it back");
	return false;
}

static bool no_memory(struct archive *archive)
{
	archive->status = error_set(archive->error, STATUS_MEMORY, "no memory to read the workbook back");
	return false;
}

static bool read_at(struct archive *archive, void *out, size_t len, uint64_t offset)
{
	size_t got = 0;

	while (got < len) {
		ssize_t n = pread(archive->fd, (char *)out + got, len - got, (off_t)(offset + got));

		if (n < 0 && errno == EINTR)
			continue;
		if (n < 0)
			return unreadable(archive);
		if (n == 0)
			return broken(archive, "it ends too early");
		got += (size_t)n;
	}
	return true;
}

static bool read_directory(struct archive *archive)
{
	unsigned char end[END_SIZE];
	uint64_t offset;

	if (archive->size < END_SIZE)
		return broken(archive, "it is too short");
	if (!read_at(archive, end, sizeof(end), archive->size - END_SIZE))
		return false;
	offset = u32(end + 16);
	archive->directory_size = u32(end + 12);
	archive->entries = u16(end + 10);
	if (u32(end) != END_SIGNATURE || archive->directory_size > DIRECTORY_MOST ||
	    offset + archive->directory_size > archive->size)
		return broken(archive, "its directory is missing");
	archive->directory = malloc(archive->directory_size + 1);
	if (!archive->directory)
		return no_memory(archive);
	return read_at(archive, archive->directory, archive->directory_size, offset);
}

/* The entry at *at of the directory, which moves on to the next. */
static bool next_entry(struct archive *archive, size_t *at, struct entry *entry)
{
	const unsigned char *head = archive->directory + *at;
	size_t name_len;

	if (*at + ENTRY_SIZE > archive->directory_size || u32(head) != ENTRY_SIGNATURE)
		return broken(archive, "its directory is damaged");
	name_len = u16(head + 28);
	if (*at + ENTRY_SIZE + name_len > archive->directory_size || name_len >= NAME_ROOM)
		return broken(archive, "its directory is damaged");
	*entry = (struct entry){
		.method = u16(head + 10),
		.crc = u32(head + 16),
		.packed = u32(head + 20),
		.size = u32(head + 24),
		.local = u32(head + 42),
	};
	memcpy(entry->name, head + ENTRY_SIZE, name_len);
	*at += ENTRY_SIZE + name_len + u16(head + 30) + u16(head + 32);
	return true;
}

/* -- looking at what comes out ----------------------------------------------------- */

static void tag_end(struct nesting *nesting)
{
	bool closes = nesting->first == '/';

	nesting->in_tag = false;
	/* the library begins every part with its declaration */
	nesting->broken = nesting->broken || (nesting->tags++ == 0) != (nesting->first == '?');
	nesting->rows += !closes && nesting->name == NAME_ROW;
	nesting->cells += !closes && nesting->name == NAME_CELL;
	if (nesting->first == '?' || (!closes && nesting->last == '/'))
		return;
	if (closes ? nesting->depth == 0 || nesting->names[nesting->depth - 1] != nesting->name :
	             nesting->depth == ELEMENTS_DEEP) {
		nesting->broken = true;
		return;
	}
	if (closes)
		nesting->depth--;
	else
		nesting->names[nesting->depth++] = nesting->name;
}

static void tag_byte(struct nesting *nesting, char byte)
{
	if (byte == '>' && !nesting->quoted) {
		tag_end(nesting);
		return;
	}
	if (!nesting->first)
		nesting->first = byte;
	nesting->last = byte;
	nesting->quoted = nesting->quoted != (byte == '"');
	nesting->broken = nesting->broken || byte == '<';
	nesting->in_name = nesting->in_name && byte != ' ';
	if (nesting->in_name && byte != '/')
		nesting->name = NAME_ADD(nesting->name, (unsigned char)byte);
}

static void tag_begin(struct nesting *nesting)
{
	nesting->in_tag = nesting->in_name = true;
	nesting->quoted = false;
	nesting->first = nesting->last = '\0';
	nesting->name = NAME_BEGIN;
}

/* The highest bit of each byte of word that is byte. */
static uint64_t bytes_like(uint64_t word, unsigned char byte)
{
	const uint64_t low = 0x7F7F7F7F7F7F7F7Fu;
	uint64_t rest = word ^ (0x0101010101010101u * byte);

	return ~(((rest & low) + low) | rest | low);
}

/* What stands behind the name of a tag: does it end within quotes, does a tag begin in it? */
static void attributes_scan(const unsigned char *text, size_t len, bool *quoted, bool *begins)
{
	uint64_t quotes = 0, tags = 0;

	while (len > 0) {
		uint64_t word = 0;
		size_t piece = len < sizeof(word) ? len : sizeof(word);

		memcpy(&word, text, piece);
		quotes ^= bytes_like(word, '"');
		tags |= bytes_like(word, '<');
		text += piece;
		len -= piece;
	}
	*quoted = __builtin_parityll(quotes);
	*begins = tags != 0;
}

/*
 * As tag_byte() of each byte from tag to the ">" that ends it, at once; returns what stands behind that. NULL, and nothing
 * done: there is none before end, or it stands between quotes.
 */
static const unsigned char *tag_whole(struct nesting *nesting, const unsigned char *tag, const unsigned char *end)
{
	const unsigned char *at = tag, *close;
	uint32_t name = NAME_BEGIN;
	bool quoted = false, begins = false, broken = false;

	for (; at < end && *at != ' ' && *at != '>'; at++) {
		name = *at == '/' ? name : NAME_ADD(name, *at);
		broken = broken || *at == '<';
	}
	close = memchr(at, '>', (size_t)(end - at));
	if (!close)
		return NULL;
	attributes_scan(at, (size_t)(close - at), &quoted, &begins);
	if (quoted)
		return NULL;
	nesting->first = close > tag ? (char)tag[0] : '\0';
	nesting->last = close > tag ? (char)close[-1] : '\0';
	nesting->name = name;
	nesting->broken = nesting->broken || broken || begins;
	tag_end(nesting);
	return close + 1;
}

/* To the next tag. */
static const unsigned char *text_skip(struct nesting *nesting, const unsigned char *at, const unsigned char *end)
{
	const unsigned char *tag;

	if (*at == '<')
		return at;
	tag = memchr(at, '<', (size_t)(end - at));
	if (memchr(at, '>', (size_t)((tag ? tag : end) - at)))
		nesting->broken = true;
	return tag ? tag : end;
}

/* Each write that the library lost without noticing leaves a hole, where tags do not fit each other any more. */
static void nest(struct nesting *nesting, const unsigned char *bytes, size_t len)
{
	const unsigned char *at = bytes, *end = bytes + len;

	while (at < end) {
		const unsigned char *behind;

		if (nesting->in_tag) {
			tag_byte(nesting, (char)*at++);
			continue;
		}
		at = text_skip(nesting, at, end);
		if (at == end)
			return;
		behind = tag_whole(nesting, ++at, end);
		if (behind)
			at = behind;
		else
			tag_begin(nesting);
	}
}

static void keep_tail(struct look *look, const unsigned char *bytes, size_t len)
{
	size_t keep;

	if (len >= TAIL_ROOM) {
		memcpy(look->tail, bytes + len - TAIL_ROOM, TAIL_ROOM);
		look->tail_len = TAIL_ROOM;
		return;
	}
	keep = look->tail_len + len > TAIL_ROOM ? TAIL_ROOM - len : look->tail_len;
	memmove(look->tail, look->tail + look->tail_len - keep, keep);
	memcpy(look->tail + keep, bytes, len);
	look->tail_len = keep + len;
}

static void look_at(struct look *look, const unsigned char *bytes, size_t len)
{
	look->crc = (uint32_t)crc32(look->crc, bytes, (uInt)len);
	look->seen += len;
	keep_tail(look, bytes, len);
	nest(&look->nesting, bytes, len);
}

/* -- unpacking ----------------------------------------------------------------------- */

static bool feed_stored(struct archive *archive, const struct entry *entry, uint64_t offset, struct look *look)
{
	uint32_t left = entry->packed;

	while (left > 0) {
		uint32_t piece = left < PACKED_ROOM ? left : PACKED_ROOM;

		if (!read_at(archive, archive->packed, piece, offset))
			return false;
		look_at(look, archive->packed, piece);
		offset += piece;
		left -= piece;
	}
	return true;
}

/* Unpacks what the stream was given; Z_STREAM_END behind the last byte. */
static int drain(const struct archive *archive, z_stream *stream, struct look *look)
{
	int result;

	do {
		stream->next_out = archive->plain;
		stream->avail_out = PLAIN_ROOM;
		result = inflate(stream, Z_NO_FLUSH);
		if (result != Z_OK && result != Z_STREAM_END && result != Z_BUF_ERROR)
			return result;
		look_at(look, archive->plain, PLAIN_ROOM - stream->avail_out);
	} while (stream->avail_out == 0);
	return result;
}

/* Reads all that is packed; the outcome of the last piece, Z_ERRNO if it can't be read. */
static int feed_pieces(struct archive *archive, const struct entry *entry, uint64_t offset, z_stream *stream,
                       struct look *look)
{
	uint32_t left = entry->packed;
	int result = Z_OK;

	while (left > 0 && (result == Z_OK || result == Z_BUF_ERROR)) {
		uint32_t piece = left < PACKED_ROOM ? left : PACKED_ROOM;

		if (!read_at(archive, archive->packed, piece, offset))
			return Z_ERRNO;
		stream->next_in = archive->packed;
		stream->avail_in = piece;
		result = drain(archive, stream, look);
		offset += piece;
		left -= piece;
	}
	return result;
}

static bool feed_deflated(struct archive *archive, const struct entry *entry, uint64_t offset, struct look *look)
{
	z_stream stream = { .next_in = NULL };
	int result;

	if (inflateInit2(&stream, -MAX_WBITS) != Z_OK)
		return no_memory(archive);
	result = feed_pieces(archive, entry, offset, &stream, look);
	inflateEnd(&stream);
	if (result == Z_ERRNO)
		return false;
	return result == Z_STREAM_END || broken(archive, entry->name);
}

static bool nested(const struct nesting *nesting)
{
	return !nesting->broken && !nesting->in_tag && nesting->depth == 0;
}

/* "<name>" … "</name>", or an element without content: the end of a part that is whole. */
static bool closed(const struct look *look)
{
	size_t len = look->tail_len;

	while (len > 0 && (look->tail[len - 1] == '\n' || look->tail[len - 1] == '\r'))
		len--;
	if (len < 3 || look->tail[len - 1] != '>')
		return false;
	if (look->tail[len - 2] == '/')
		return true;
	while (--len > 0)
		if (look->tail[len - 1] == '<')
			return look->tail[len] == '/';
	return true; /* its name is longer than what was kept */
}

/* Which sheet of the workbook entry is, from 1; 0: none. */
static size_t sheet_number(const struct entry *entry)
{
	static const char prefix[] = "xl/worksheets/sheet";
	const char *digit = entry->name + sizeof(prefix) - 1;
	size_t number = 0;

	if (strncmp(entry->name, prefix, sizeof(prefix) - 1) != 0)
		return 0;
	while (*digit >= '0' && *digit <= '9')
		number = number * 10 + (size_t)(*digit++ - '0');
	return strcmp(digit, ".xml") == 0 ? number : 0;
}

static bool check_part(struct archive *archive, const struct entry *entry, struct look *look)
{
	unsigned char local[LOCAL_SIZE];
	uint64_t offset;
	bool fed;

	if (!read_at(archive, local, sizeof(local), entry->local))
		return false;
	if (u32(local) != LOCAL_SIGNATURE)
		return broken(archive, entry->name);
	offset = (uint64_t)entry->local + LOCAL_SIZE + u16(local + 26) + u16(local + 28);
	if (entry->method == METHOD_DEFLATED)
		fed = feed_deflated(archive, entry, offset, look);
	else if (entry->method == METHOD_STORED)
		fed = feed_stored(archive, entry, offset, look);
	else
		return broken(archive, entry->name);
	if (fed && (look->seen != entry->size || look->crc != entry->crc || !closed(look) || !nested(&look->nesting)))
		return broken(archive, entry->name);
	return fed;
}

static bool check_sheet(struct archive *archive, const struct look *look, const struct sheet_size *wanted,
                        size_t number)
{
	if (look->nesting.rows == wanted->rows && look->nesting.cells == wanted->cells)
		return true;
	archive->status =
		error_set(archive->error, STATUS_IO,
	                  "the file is not whole (sheet %zu has %llu rows and %llu cells, %llu and %llu were written)",
	                  number, (unsigned long long)look->nesting.rows, (unsigned long long)look->nesting.cells,
	                  (unsigned long long)wanted->rows, (unsigned long long)wanted->cells);
	return false;
}

static bool check_parts(struct archive *archive, const struct sheet_size *sheets, size_t count)
{
	size_t at = 0, found = 0;

	for (size_t i = 0; i < archive->entries; i++) {
		struct entry entry;
		struct look look = { .crc = 0 };
		size_t number;

		if (!next_entry(archive, &at, &entry))
			return false;
		number = sheet_number(&entry);
		if (!check_part(archive, &entry, &look))
			return false;
		if (number == 0 || number > count)
			continue;
		if (!check_sheet(archive, &look, &sheets[number - 1], number))
			return false;
		found++;
	}
	return found == count || broken(archive, "a sheet is missing");
}

static bool check_archive(struct archive *archive, const struct sheet_size *sheets, size_t count)
{
	struct stat stat;

	if (!archive->packed || !archive->plain)
		return no_memory(archive);
	if (fstat(archive->fd, &stat) != 0)
		return unreadable(archive);
	archive->size = (uint64_t)stat.st_size;
	return read_directory(archive) && check_parts(archive, sheets, count);
}

enum status xlsx_check(const char *path, const struct sheet_size *sheets, size_t count, struct error *error)
{
	struct archive archive = { .fd = open(path, O_RDONLY | O_CLOEXEC), .error = error };
	bool good;

	if (archive.fd < 0)
		return error_set_errno(error, STATUS_IO, "reading it back");
	archive.packed = malloc(PACKED_ROOM);
	archive.plain = malloc(PLAIN_ROOM);
	good = check_archive(&archive, sheets, count);
	free(archive.directory);
	free(archive.packed);
	free(archive.plain);
	close(archive.fd);
	return good ? STATUS_OK : archive.status;
}
