/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "write_up.h"

/* The files as they stand in templates/, so that what is documented and what is built in can't differ. */
#define BUILT_IN(symbol, path)                                  \
	__asm__(".section .rodata\n"                            \
	        ".global " #symbol "_begin\n"                   \
	        ".global " #symbol "_end\n" #symbol "_begin:\n" \
	        ".incbin \"" path "\"\n" #symbol "_end:\n"      \
	        ".byte 0\n"                                     \
	        ".previous\n");                                 \
	extern const char symbol##_begin[], symbol##_end[]

BUILT_IN(write_up_markdown, "templates/write-up.md");
BUILT_IN(write_up_html, "templates/write-up.html");

struct template_text write_up_template(enum markup markup)
{
	/* begin and end are of one piece of text, which the linker lays out */
	// cppcheck-suppress comparePointers
	size_t html = (size_t)(write_up_html_end - write_up_html_begin);
	// cppcheck-suppress comparePointers
	size_t markdown = (size_t)(write_up_markdown_end - write_up_markdown_begin);

	if (markup == MARKUP_HTML)
		return (struct template_text){
			.name = "write-up.html",
			.text = { write_up_html_begin, html },
			.markup = markup,
		};
	return (struct template_text){
		.name = "write-up.md",
		.text = { write_up_markdown_begin, markdown },
		.markup = markup,
	};
}

enum status write_up_make(struct phrase *out, const struct analysis *analysis, const struct write_up_request *request,
                          const struct template_text *from, struct error *error)
{
	json_t *facts = write_up_facts(analysis, request);
	enum status status;

	if (!facts)
		return error_set(error, STATUS_MEMORY, "no memory for the write-up");
	status = template_fill(out, from, facts, error);
	json_decref(facts);
	return status;
}
