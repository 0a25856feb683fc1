/* SPDX-License-Identifier: GPL-3.0-or-later */
/* text.h: the content of a file, brought to UTF-8. */
#ifndef BREWSPREAD_TEXT_H
#define BREWSPREAD_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "slice.h"
#include "status.h"

enum encoding {
	ENCODING_UTF8,
	ENCODING_UTF16LE,
	ENCODING_UTF16BE,
	ENCODING_WINDOWS_1252, /* taken for it, since it is not valid UTF-8 */
};

struct text {
	char *bytes; /* from malloc(), NUL at [len] */
	size_t len;
	enum encoding encoding; /* of the file */
	bool mark;              /* the file began with a byte order mark, which is taken off */
	size_t first_bad; /* offset in the file of the first byte that is not UTF-8, where that is the fault; else 0 */
};

#define TEXT_INIT             \
	{                     \
		.bytes = NULL \
	}

/*
 * The bytes of the file at path ("-": standard input), as they are. Anything that can be read to its end will do: a
 * pipe too. STATUS_IO: error names the path and the reason. The caller's: text_release().
 */
enum status text_load(struct text *out, const char *path, struct error *error) MUST_USE;

/*
 * Finds out the encoding of text's bytes and brings them to UTF-8: byte order marks for UTF-8 and UTF-16, UTF-16
 * without a mark where every second byte of the beginning is NUL, else UTF-8 if valid, else Windows-1252.
 * Without a fault in it the buffer is left as it is. A NUL stays: the reader reports it by its place.
 */
enum status text_decode(struct text *text, struct error *error) MUST_USE;

/* "UTF-8", "UTF-16LE", … */
const char *encoding_name(enum encoding encoding);

/* Offset of the first byte of text that is not valid UTF-8; text.len if all of it is. */
size_t utf8_valid_part(struct slice text);

/* Characters in the first bytes bytes of valid UTF-8 text. */
size_t utf8_count(struct slice text);

/* What stands behind the last "/" of a path; all of it where nothing does. */
const char *file_base(const char *path);

/* Does that code point turn the direction of what follows around: U+202A to U+202E, U+2066 to U+2069? */
bool turns_direction(uint32_t code_point);

void text_release(struct text *text);

#endif
