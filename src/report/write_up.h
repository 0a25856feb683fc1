/* SPDX-License-Identifier: GPL-3.0-or-later */
/* write_up.h: the comparison as a text to be published: Markdown, or one HTML page that needs nothing but itself. */
#ifndef BREWSPREAD_WRITE_UP_H
#define BREWSPREAD_WRITE_UP_H

#include <jansson.h>

#include "analysis.h"
#include "figures.h"
#include "template.h"

struct write_up_request {
	const char *version;           /* of this program */
	const char *command;           /* the words of the command line; "" if there were none */
	const struct figures *figures; /* NULL: none */
	const char *figure_folder;     /* where the figures' files are, with "/" at its end; "" for the same folder */
	const char *figure_ending;     /* ".svg", ".png"; NULL: there are no such files */
	enum markup markup;
};

/* The template that this program has built in: templates/write-up.md or write-up.html. */
struct template_text write_up_template(enum markup markup);

/*
 * Every fact that a template may use, as docs/templates.md lists them: numbers as they are shown, texts cleaned.
 * In HTML figures have their drawing with them. NULL when there is no memory. The caller's: json_decref().
 */
json_t *write_up_facts(const struct analysis *analysis, const struct write_up_request *request);

/* Adds the write-up. STATUS_INVALID: the template has a fault. STATUS_MEMORY. */
enum status write_up_make(struct phrase *out, const struct analysis *analysis, const struct write_up_request *request,
                          const struct template_text *from, struct error *error) MUST_USE;

#endif
