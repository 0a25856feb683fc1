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

void phrase_label(struct phrase *phrase, const char *english)
{
	phrase_add(phrase, labels_find(phrase->labels, slice_from(english)));
}

/* gap has its braces. */
static struct slice part_for(struct slice gap, const struct phrase_part *parts, size_t count)
{
	for (size_t i = 0; i < count; i++)
		if (slice_equal(slice_part(gap, 1, gap.len - 1), slice_from(parts[i].name)))
			return parts[i].text;
	return gap;
}

void phrase_fill(struct phrase *phrase, const char *english, const struct phrase_part *parts, size_t count)
{
	phrase_fill_in(phrase, labels_find(phrase->labels, slice_from(english)), parts, count);
}

void phrase_fill_in(struct phrase *phrase, struct slice text, const struct phrase_part *parts, size_t count)
{
	struct slice gap;
	size_t from = 0, at = 0;

	for (gap = label_gap(text, &at); gap.len > 0; gap = label_gap(text, &at)) {
		phrase_add(phrase, slice_part(text, from, at - gap.len));
		phrase_add(phrase, part_for(gap, parts, count));
		from = at;
	}
	phrase_add(phrase, slice_part(text, from, text.len));
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
