/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * template.h: a text with placeholders, filled in from facts. docs/templates.md tells users about it.
 *
 *   {{name}}                  the fact of that name, escaped as the markup asks for
 *   {{if name}} … {{else}} … {{end}}   the first part where the fact is there, else the second, which may be missing
 *   {{each name}} … {{end}}   once for each item of a list; names are looked for in the item first, then outside it
 *   {{remark …}}              nothing
 *
 * A fact is there unless it is an empty text, an empty list or false. if, else, each, end and remark that stand alone on a
 * line take the line with them.
 */
#ifndef BREWSPREAD_TEMPLATE_H
#define BREWSPREAD_TEMPLATE_H

#include <jansson.h>

#include "markup.h"
#include "status.h"

struct template_text {
	const char *name; /* of its file, for messages */
	struct slice text;
	enum markup markup;
};

/* A fact that is markup itself and goes in as it is: svg, say. The caller's, as any json_t. NULL: no memory. */
json_t *template_markup(struct slice text);

/*
 * Adds the template, filled in from facts, an object: texts, booleans, lists of objects, and what template_markup() made. All
 * names that a template may use are in it, whether they are there or not.
 * STATUS_INVALID: the template has a fault; error says where and what was expected. STATUS_MEMORY.
 */
enum status template_fill(struct phrase *out, const struct template_text *from, const json_t *facts,
                          struct error *error) MUST_USE;

#endif
