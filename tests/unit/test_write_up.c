/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdlib.h>
#include <string.h>

#include "clean_text.h"
#include "run_builder.h"
#include "write_up.h"

/* -- templates ---------------------------------------------------------------------- */

#define FACTS                                                                              \
	"{\"name\": \"a<b\", \"none\": \"\", \"yes\": true, \"no\": false, \"empty\": []," \
	" \"list\": [{\"item\": \"1\", \"inner\": [{\"x\": \"p\"}, {\"x\": \"q\"}]}, {\"item\": \"2\", \"inner\": []}]}"

struct template_row {
	const char *name;
	const char *text;
	const char *want; /* what it becomes, or, of a faulty one, what the error begins with */
	bool faulty;
};

static void template_does_as_told(void **state)
{
	const struct template_row *row = *state;
	struct template_text from = { "my.html", slice_from(row->text), MARKUP_HTML };
	json_t *facts = json_loads(FACTS, 0, NULL);
	struct phrase out = PHRASE_INIT;
	struct error error = ERROR_INIT;
	enum status status = template_fill(&out, &from, facts, &error);

	assert_int_equal(status, row->faulty ? STATUS_INVALID : STATUS_OK);
	if (row->faulty) {
		assert_memory_equal(error.text, row->want, strlen(row->want));
	} else {
		phrase_add(&out, (struct slice){ "", 1 });
		assert_string_equal(out.text, row->want);
	}
	phrase_release(&out);
	json_decref(facts);
}

static void markup_goes_in_as_it_is(void **state)
{
	struct template_text from = { "my.html", SLICE_OF("{{svg}}"), MARKUP_HTML };
	json_t *facts = json_object();
	struct phrase out = PHRASE_INIT;

	(void)state;
	json_object_set_new(facts, "svg", template_markup(SLICE_OF("<svg/>")));
	assert_int_equal(template_fill(&out, &from, facts, NULL), STATUS_OK);
	assert_int_equal(out.len, 6);
	assert_memory_equal(out.text, "<svg/>", 6);
	phrase_release(&out);
	json_decref(facts);
}

/* -- escaping --------------------------------------------------------------------------- */

struct escape_row {
	const char *name;
	enum markup markup;
	const char *before; /* what stands there already */
	const char *text;
	const char *want;
};

static void escapes_as_told(void **state)
{
	const struct escape_row *row = *state;
	struct phrase out = PHRASE_INIT;

	phrase_words(&out, row->before);
	markup_add(&out, row->markup, slice_from(row->text));
	phrase_add(&out, (struct slice){ "", 1 });
	assert_string_equal(out.text + strlen(row->before), row->want);
	phrase_release(&out);
}

/* -- the whole ------------------------------------------------------------------------------ */

static void make(struct phrase *out, struct run *run, enum markup markup)
{
	struct write_up_request request = {
		.version = "1", .command = "brewspread `x` | <y>", .figure_folder = "", .markup = markup
	};
	struct template_text from = write_up_template(markup);
	struct analysis *analysis = NULL;
	struct settings settings;
	struct error error = ERROR_INIT;

	settings_init(&settings);
	assert_int_equal(analysis_make(&analysis, run, &settings, NULL), STATUS_OK);
	assert_int_equal(write_up_make(out, analysis, &request, &from, &error), STATUS_OK);
	phrase_add(out, (struct slice){ "", 1 });
	analysis_free(analysis);
	run_free(run);
}

#define HOSTILE "<script>alert(1)</script> | ](x) `y` \x07\u202E\""

static struct run *hostile_run(void)
{
	struct run *run = build_run();

	for (int i = 0; i < 4; i++) {
		uint32_t brew = build_brew(run, i % 2 ? "A" HOSTILE : "B", i % 2 ? HOSTILE : "plain");

		run->brews[brew].word[BREW_NOTES] = SLICE_OF("sweet" HOSTILE);
		build_reading(run, brew, 1.40 + 0.01 * i);
		build_reading(run, brew, 1.41);
	}
	return run;
}

static void hostile_labels_do_nothing_to_a_page(void **state)
{
	struct phrase out = PHRASE_INIT;

	(void)state;
	make(&out, hostile_run(), MARKUP_HTML);
	assert_non_null(strstr(out.text, "&lt;script&gt;alert(1)&lt;/script&gt; | ](x) `y` &quot;"));
	assert_null(strstr(out.text, "<script"));
	assert_null(strchr(out.text, '\x07'));
	assert_null(strstr(out.text, "\u202E"));
	assert_null(strstr(out.text, "{{"));
	phrase_release(&out);
}

static void hostile_labels_do_nothing_to_markdown(void **state)
{
	struct phrase out = PHRASE_INIT;

	(void)state;
	make(&out, hostile_run(), MARKUP_MARKDOWN);
	assert_non_null(strstr(out.text, "&lt;script&gt;alert(1)&lt;/script&gt; \\| \\](x) \\`y\\` \""));
	assert_null(strstr(out.text, "<script"));
	assert_null(strchr(out.text, '\x07'));
	assert_null(strstr(out.text, "{{"));
	phrase_release(&out);
}

static void each_table_of_markdown_has_even_rows(void **state)
{
	struct phrase out = PHRASE_INIT;
	size_t columns = 0, rows = 0;

	(void)state;
	make(&out, hostile_run(), MARKUP_MARKDOWN);
	for (char *line = out.text, *end; (end = strchr(line, '\n')) != NULL; line = end + 1) {
		size_t bars = 0;

		for (char *c = line; c < end; c++)
			bars += *c == '|' && (c == line || c[-1] != '\\');
		if (*line == '|' && columns > 0)
			assert_int_equal(bars, columns);
		rows += *line == '|';
		columns = *line == '|' ? bars : 0;
	}
	assert_true(rows > 10);
	phrase_release(&out);
}

static void an_empty_run_is_written_up_too(void **state)
{
	struct phrase out = PHRASE_INIT;

	(void)state;
	make(&out, build_run(), MARKUP_HTML);
	assert_non_null(strstr(out.text, "</html>"));
	phrase_release(&out);
}

int main(void)
{
	static struct template_row templates[] = {
		{ "nothing to do", "a { } b\n", "a { } b\n", false },
		{ "a fact is escaped", "{{name}}", "a&lt;b", false },
		{ "blanks inside do not count", "{{  name }}", "a&lt;b", false },
		{ "one that is there", "{{if name}}x{{else}}y{{end}}", "x", false },
		{ "one that is not", "{{if none}}x{{else}}y{{end}}", "y", false },
		{ "not, without else", "{{if none}}x{{end}}.", ".", false },
		{ "true and false", "{{if yes}}x{{end}}{{if no}}y{{end}}", "x", false },
		{ "a list that is not empty is there", "{{if list}}x{{end}}{{if empty}}y{{end}}", "x", false },
		{ "once for each", "{{each list}}{{item}},{{end}}", "1,2,", false },
		{ "lists in lists", "{{each list}}{{item}}{{each inner}}{{x}}{{end}};{{end}}", "1pq;2;", false },
		{ "facts outside the item", "{{each list}}{{name}}{{end}}", "a&lt;ba&lt;b", false },
		{ "an empty list", "{{each empty}}{{whatever}}{{end}}.", ".", false },
		{ "alone on a line", "a\n  {{if yes}}\nb\n{{end}}\t\nc\n", "a\nb\nc\n", false },
		{ "not alone on a line", "a {{if yes}}\nb{{end}}\n", "a \nb\n", false },
		{ "a remark", "a\n{{remark not\nshown}}\nb", "a\nb", false },
		{ "what is left out may hold unknown names", "{{if no}}{{whatever}}{{end}}", "", false },
		{ "unknown", "a\n b {{nmae}}", "my.html:2:4: nmae is no placeholder; expected one of name, ", true },
		{ "unknown with if", "{{if nmae}}{{end}}", "my.html:1:1: nmae is no placeholder", true },
		{ "no end", "x{{if yes}}y", "my.html:1:2: yes has no {{end}}", true },
		{ "no end of a list", "{{each list}}y", "my.html:1:1: list has no {{end}}", true },
		{ "end of nothing", "x{{end}}", "my.html:1:2: end ends or divides nothing", true },
		{ "else twice", "{{if yes}}{{else}}{{else}}{{end}}", "my.html:1:1: yes has no {{end}}", true },
		{ "never closed", "x {{name", "my.html:1:3: {{ has no }} behind it", true },
		{ "a list as a text", "{{list}}", "my.html:1:1: list is no text", true },
		{ "a text as a list", "{{each name}}{{end}}", "my.html:1:1: name is no list", true },
		{ "too deep",
		  "{{if yes}}{{if yes}}{{if yes}}{{if yes}}{{if yes}}{{if yes}}{{if yes}}{{if yes}}{{if yes}}",
		  "my.html:1:71: too many parts within parts", true },
	};
	/* CommonMark 0.31: 2.4 backslash escapes, 2.5 entities; tables and addresses as widely read */
	static struct escape_row escapes[] = {
		{ "HTML", MARKUP_HTML, "", "<a href=\"x\" b='y'>&", "&lt;a href=&quot;x&quot; b=&#39;y&#39;&gt;&amp;" },
		{ "stars and lines", MARKUP_MARKDOWN, "x", "*a* _b_ ~c~", "\\*a\\* \\_b\\_ \\~c\\~" },
		{ "a link", MARKUP_MARKDOWN, "x", "[a](b) ![c](d)", "\\[a\\](b) \\!\\[c\\](d)" },
		{ "a cell's end", MARKUP_MARKDOWN, "x", "a | b \\| c", "a \\| b \\\\\\| c" },
		{ "code", MARKUP_MARKDOWN, "x", "`a`", "\\`a\\`" },
		{ "markup", MARKUP_MARKDOWN, "x", "<b> &amp;", "&lt;b&gt; &amp;amp;" },
		{ "an address", MARKUP_MARKDOWN, "x", "http://a www.b c@d", "http\\://a www\\.b c\\@d" },
		{ "a heading at the beginning", MARKUP_MARKDOWN, "", "# a", "\\# a" },
		{ "a list at the beginning", MARKUP_MARKDOWN, "x\n", "- a", "\\- a" },
		{ "a dash elsewhere", MARKUP_MARKDOWN, "x ", "- a", "- a" },
		{ "a number at the beginning", MARKUP_MARKDOWN, "", "12. a 1.5", "12\\. a 1.5" },
		{ "a number elsewhere", MARKUP_MARKDOWN, "x ", "1.38", "1.38" },
	};
	static const struct CMUnitTest rest[] = {
		cmocka_unit_test(markup_goes_in_as_it_is),
		cmocka_unit_test(hostile_labels_do_nothing_to_a_page),
		cmocka_unit_test(hostile_labels_do_nothing_to_markdown),
		cmocka_unit_test(each_table_of_markdown_has_even_rows),
		cmocka_unit_test(an_empty_run_is_written_up_too),
	};
	enum {
		TEMPLATES = sizeof(templates) / sizeof(templates[0]),
		ESCAPES = sizeof(escapes) / sizeof(escapes[0]),
		REST = sizeof(rest) / sizeof(rest[0]),
	};
	struct CMUnitTest tests[TEMPLATES + ESCAPES + REST];

	for (size_t i = 0; i < TEMPLATES; i++)
		tests[i] = (struct CMUnitTest){ .name = templates[i].name,
			                        .test_func = template_does_as_told,
			                        .initial_state = &templates[i] };
	for (size_t i = 0; i < ESCAPES; i++)
		tests[TEMPLATES + i] = (struct CMUnitTest){ .name = escapes[i].name,
			                                    .test_func = escapes_as_told,
			                                    .initial_state = &escapes[i] };
	memcpy(tests + TEMPLATES + ESCAPES, rest, sizeof(rest));
	return cmocka_run_group_tests(tests, NULL, NULL);
}
