/* SPDX-License-Identifier: GPL-3.0-or-later */
/* markup.h: text that means nothing but itself in HTML, XML or Markdown. */
#ifndef BREWSPREAD_MARKUP_H
#define BREWSPREAD_MARKUP_H

#include "phrase.h"

enum markup {
	MARKUP_HTML,     /* and XML: in an element, and in an attribute between quotes */
	MARKUP_MARKDOWN, /* CommonMark, in a paragraph, a list, a heading or a cell of a table */
};

/*
 * Adds text, which clean_text.h has cleaned, escaped. In Markdown what begins a line is escaped too if the phrase
 * is at the beginning of one, and what would be taken for an address is not made a link.
 */
void markup_add(struct phrase *phrase, enum markup markup, struct slice text);

#endif
