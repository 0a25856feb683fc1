/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "text.h"

#include <errno.h>
#include <fcntl.h>
#include <iconv.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#include <unistr.h>

enum {
	FIRST_READ = 64 * 1024, /* where the size is not known beforehand */
	SEEN_UNITS = 8,         /* so many 16-bit units tell UTF-16 without a mark */
};

static const char replacement[] = "\xef\xbf\xbd"; /* U+FFFD */

/* Room for one more byte at least, and the NUL behind it. */
static bool room_make(struct text *text, size_t *capacity)
{
	size_t wanted = *capacity > SIZE_MAX / 2 ? SIZE_MAX : *capacity * 2;
	char *bytes;

	if (text->len + 1 < *capacity)
		return true;
	bytes = realloc(text->bytes, wanted);
	if (!bytes)
		return false;
	text->bytes = bytes;
	*capacity = wanted;
	return true;
}

static enum status load_from(struct text *text, int descriptor, const char *path, struct error *error)
{
	struct stat about;
	size_t capacity = FIRST_READ;

	if (fstat(descriptor, &about) == 0 && S_ISREG(about.st_mode) && about.st_size > 0)
		capacity = (size_t)about.st_size + 2;
	text->bytes = malloc(capacity);
	if (!text->bytes)
		return error_set(error, STATUS_MEMORY, "%s: no memory for its %zu bytes", path, capacity);
	for (;;) {
		ssize_t got;

		if (!room_make(text, &capacity))
			return error_set(error, STATUS_MEMORY, "%s: no memory for more than %zu bytes", path,
			                 text->len);
		got = read(descriptor, text->bytes + text->len, capacity - text->len - 1);
		if (got < 0 && errno == EINTR)
			continue;
		if (got < 0)
			return error_set_errno(error, STATUS_IO, "%s", path);
		if (got == 0)
			break;
		text->len += (size_t)got;
	}
	text->bytes[text->len] = '\0';
	return STATUS_OK;
}

enum status text_load(struct text *out, const char *path, struct error *error)
{
	bool standard_input = strcmp(path, "-") == 0;
	int descriptor = standard_input ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY);
	enum status status;

	*out = (struct text)TEXT_INIT;
	if (descriptor < 0)
		return error_set_errno(error, STATUS_IO, "%s", path);
	status = load_from(out, descriptor, path, error);
	if (!standard_input)
		close(descriptor);
	if (status != STATUS_OK)
		text_release(out);
	return status;
}

/* Takes what iconv() refuses for U+FFFD: one unit of in, or what is left of it. */
static void replace_one(char **in, size_t *in_left, char **out, size_t *out_left, size_t unit)
{
	size_t skipped = *in_left < unit ? *in_left : unit;

	*in += skipped;
	*in_left -= skipped;
	memcpy(*out, replacement, sizeof(replacement) - 1);
	*out += sizeof(replacement) - 1;
	*out_left -= sizeof(replacement) - 1;
}

/* A byte of Windows-1252, and a unit of UTF-16, becomes three bytes of UTF-8 at most. */
static enum status convert(struct text *text, size_t from, struct error *error)
{
	size_t unit = text->encoding == ENCODING_WINDOWS_1252 ? 1 : 2;
	const char *name = text->encoding == ENCODING_WINDOWS_1252 ? "WINDOWS-1252" : encoding_name(text->encoding);
	size_t in_left = text->len - from;
	size_t out_left = in_left <= (SIZE_MAX - 4) / 3 ? in_left / unit * 3 + 3 : 0;
	char *bytes = out_left > 0 ? malloc(out_left + 1) : NULL;
	iconv_t converter = iconv_open("UTF-8", name);
	char *in = text->bytes + from;
	char *out = bytes;

	if (converter == (iconv_t)-1) {
		free(bytes);
		return error_set_errno(error, STATUS_IO, "this system cannot convert from %s", name);
	}
	if (!bytes) {
		iconv_close(converter);
		return error_set(error, STATUS_MEMORY, "no memory to convert %zu bytes", text->len);
	}
	while (in_left > 0)
		if (iconv(converter, &in, &in_left, &out, &out_left) == (size_t)-1)
			replace_one(&in, &in_left, &out, &out_left, unit);
	iconv_close(converter);
	free(text->bytes);
	text->bytes = bytes;
	text->len = (size_t)(out - bytes);
	bytes[text->len] = '\0';
	return STATUS_OK;
}

/* Which byte of each of the first units is NUL and the other not: 1, 0; or -1 where it is not so all along. */
static int nul_side(const struct text *text)
{
	size_t units = text->len / 2 < SEEN_UNITS ? text->len / 2 : SEEN_UNITS;
	int side;

	if (units < 2)
		return -1;
	side = text->bytes[0] == '\0' ? 0 : 1;
	for (size_t i = 0; i < units; i++)
		if (text->bytes[2 * i + (size_t)side] != '\0' || text->bytes[2 * i + (size_t)(1 - side)] == '\0')
			return -1;
	return side;
}

static bool begins_with(const struct text *text, const char *bytes, size_t len)
{
	return text->len >= len && memcmp(text->bytes, bytes, len) == 0;
}

static void mark_drop(struct text *text, size_t len)
{
	memmove(text->bytes, text->bytes + len, text->len - len + 1);
	text->len -= len;
}

static enum status decode_bytes(struct text *text, struct error *error)
{
	size_t mark = text->mark ? 3 : 0;
	size_t valid = utf8_valid_part((struct slice){ text->bytes, text->len });

	if (valid < text->len) {
		text->encoding = ENCODING_WINDOWS_1252;
		text->first_bad = valid;
		return convert(text, mark, error);
	}
	text->encoding = ENCODING_UTF8;
	if (mark > 0)
		mark_drop(text, mark);
	return STATUS_OK;
}

enum status text_decode(struct text *text, struct error *error)
{
	int side = nul_side(text);

	text->first_bad = 0;
	text->mark = true;
	if (begins_with(text, "\xff\xfe", 2)) {
		text->encoding = ENCODING_UTF16LE;
		return convert(text, 2, error);
	}
	if (begins_with(text, "\xfe\xff", 2)) {
		text->encoding = ENCODING_UTF16BE;
		return convert(text, 2, error);
	}
	text->mark = begins_with(text, "\xef\xbb\xbf", 3);
	if (side >= 0) {
		text->encoding = side == 1 ? ENCODING_UTF16LE : ENCODING_UTF16BE;
		return convert(text, 0, error);
	}
	return decode_bytes(text, error);
}

const char *encoding_name(enum encoding encoding)
{
	switch (encoding) {
	case ENCODING_UTF8:
		return "UTF-8";
	case ENCODING_UTF16LE:
		return "UTF-16LE";
	case ENCODING_UTF16BE:
		return "UTF-16BE";
	case ENCODING_WINDOWS_1252:
		return "Windows-1252";
	}
	return "";
}

/* Nearly all of a file is ASCII: eight bytes at a time. */
static size_t ascii_part(struct slice text)
{
	const uint64_t high_bits = UINT64_C(0x8080808080808080);
	size_t at = 0;

	while (text.len - at >= sizeof(uint64_t)) {
		uint64_t eight;

		memcpy(&eight, text.text + at, sizeof(eight));
		if (eight & high_bits)
			break;
		at += sizeof(eight);
	}
	while (at < text.len && (unsigned char)text.text[at] < 0x80)
		at++;
	return at;
}

size_t utf8_valid_part(struct slice text)
{
	size_t at = 0;

	for (;;) {
		ucs4_t character;
		int len;

		at += ascii_part(slice_part(text, at, text.len));
		if (at == text.len)
			return at;
		len = u8_mbtoucr(&character, (const uint8_t *)text.text + at, text.len - at);
		if (len < 0)
			return at;
		at += (size_t)len;
	}
}

size_t utf8_count(struct slice text)
{
	const uint64_t high_bits = UINT64_C(0x8080808080808080), ones = UINT64_C(0x0101010101010101);
	size_t count = 0, at = 0;

	for (; text.len - at >= sizeof(uint64_t); at += sizeof(uint64_t)) {
		uint64_t eight, within; /* bytes that go on with a character: the top bit set, the next not */

		memcpy(&eight, text.text + at, sizeof(eight));
		within = eight & ~(eight << 1) & high_bits;
		count += sizeof(eight) - (size_t)(((within >> 7) * ones) >> 56);
	}
	for (; at < text.len; at++)
		count += ((unsigned char)text.text[at] & 0xc0) != 0x80;
	return count;
}

bool turns_direction(uint32_t code_point)
{
	return (code_point >= 0x202A && code_point <= 0x202E) || (code_point >= 0x2066 && code_point <= 0x2069);
}

void text_release(struct text *text)
{
	free(text->bytes);
	*text = (struct text)TEXT_INIT;
}

const char *file_base(const char *path)
{
	const char *slash = strrchr(path, '/');

	return slash && slash[1] != '\0' ? slash + 1 : path;
}
