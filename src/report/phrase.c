/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "phrase.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { PRINT_MOST = 256 };

void phrase_clear(struct phrase *phrase)
{
	phrase->len = 0;
}

void phrase_add(struct phrase *phrase, struct slice piece)
{
	size_t wanted = phrase->len + piece.len;

	if (wanted > phrase->room) {
		size_t room = 2 * wanted + 256;
		char *text = realloc(phrase->text, room);

		if (!text) {
			phrase->failed = true;
			return;
		}
		phrase->text = text;
		phrase->room = room;
	}
	if (piece.len > 0)
		memcpy(phrase->text + phrase->len, piece.text, piece.len);
	phrase->len = wanted;
}

void phrase_words(struct phrase *phrase, const char *words)
{
	phrase_add(phrase, slice_from(words));
}

void phrase_print(struct phrase *phrase, const char *format, ...)
{
	char piece[PRINT_MOST];
	va_list args;

	va_start(args, format);
	vsnprintf(piece, sizeof(piece), format, args);
	va_end(args);
	phrase_words(phrase, piece);
}

void phrase_between(struct phrase *phrase, const char *words)
{
	if (phrase->len > 0)
		phrase_words(phrase, words);
}

struct slice phrase_slice(const struct phrase *phrase)
{
	return (struct slice){ phrase->text, phrase->len };
}

void phrase_release(struct phrase *phrase)
{
	free(phrase->text);
	*phrase = (struct phrase)PHRASE_INIT;
}
