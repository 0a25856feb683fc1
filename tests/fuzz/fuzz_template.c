/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A write-up's template, HTML or Markdown by its first byte, filled in from a few facts. */
#include "fuzz.h"
#include "template.h"

static json_t *facts_make(void)
{
	return json_pack("{s:s, s:s, s:b, s:[{s:s, s:s}, {s:s, s:s}], s:[]}", "title", "<b>&\"'|*_`", "question", "",
	                 "provisional", 1, "treatments", "name", "</script>", "mean", "20.1", "name", "| a", "mean", "",
	                 "brews");
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static json_t *facts;
	struct error error = ERROR_INIT;
	struct phrase out = PHRASE_INIT;
	char *copy = fuzz_copy(size > 0 ? data + 1 : data, size > 0 ? size - 1 : 0);
	struct template_text from = { .name = "own.html",
		                      .markup = size > 0 && data[0] % 2 ? MARKUP_MARKDOWN : MARKUP_HTML };

	if (!facts)
		facts = facts_make();
	if (copy && facts) {
		from.text = (struct slice){ copy, size > 0 ? size - 1 : 0 };
		if (template_fill(&out, &from, facts, &error) == STATUS_OK)
			FUZZ_HOLDS(!(from.markup == MARKUP_HTML && out.len > 0 &&
			             !memmem(copy, from.text.len, "</script", 8) &&
			             memmem(out.text, out.len, "</script", 8)));
		else
			FUZZ_HOLDS(error.text[0] != '\0');
	}
	phrase_release(&out);
	free(copy);
	return 0;
}
