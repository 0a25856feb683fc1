/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * clean_text.h: any bytes made fit to stand in a figure, a page or a Markdown text: valid UTF-8 on one line. What has a
 * meaning to a markup is left for whoever writes that markup.
 */
#ifndef BREWSPREAD_CLEAN_TEXT_H
#define BREWSPREAD_CLEAN_TEXT_H

#include "phrase.h"

/*
 * Adds text to phrase: line ends, tabs and runs of blanks as one blank, none at the ends; control characters and what
 * turns the direction of a text around (U+202A … U+202E, U+2066 … U+2069) left out; bytes that are not UTF-8, and code
 * points that no text may have, as U+FFFD.
 */
void clean_text_add(struct phrase *phrase, struct slice text);

/* Adds clean text, a sentence, with U+2212 before negative numbers, as tables have it. */
void clean_sentence_add(struct phrase *phrase, struct slice text);

#endif
