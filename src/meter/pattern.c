/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "pattern.h"

#define PCRE2_CODE_UNIT_WIDTH 8
#include <pcre2.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "lines.h"

enum { DEPTH_LIMIT = 20000, HEAP_LIMIT_KIB = 16384 };

struct pattern_runner {
	pcre2_match_data *data;
	pcre2_match_context *context;
};

static void message_get(int number, char reason[PATTERN_REASON])
{
	PCRE2_UCHAR text[PATTERN_REASON];

	if (pcre2_get_error_message(number, text, sizeof(text)) < 0)
		snprintf((char *)text, sizeof(text), "error %d", number);
	snprintf(reason, PATTERN_REASON, "%s", (const char *)text);
}

pcre2_code *pattern_compile(const char *text, bool anchored, char reason[PATTERN_REASON], size_t *at)
{
	uint32_t options = PCRE2_NEVER_UTF | PCRE2_NEVER_UCP | PCRE2_NEVER_BACKSLASH_C | PCRE2_DOLLAR_ENDONLY;
	pcre2_code *code;
	int error;

	if (anchored)
		options |= PCRE2_ANCHORED | PCRE2_ENDANCHORED;
	code = pcre2_compile((PCRE2_SPTR)text, PCRE2_ZERO_TERMINATED, options, &error, at, NULL);
	if (!code)
		message_get(error, reason);
	else
		pcre2_jit_compile(code, PCRE2_JIT_COMPLETE); /* only slower where it fails */
	return code;
}

void pattern_free(pcre2_code *code)
{
	pcre2_code_free(code);
}

struct pattern_runner *pattern_runner_new(const pcre2_code *code, size_t steps)
{
	struct pattern_runner *runner = calloc(1, sizeof(*runner));

	if (!runner)
		return NULL;
	runner->data = pcre2_match_data_create_from_pattern(code, NULL);
	runner->context = pcre2_match_context_create(NULL);
	if (!runner->data || !runner->context) {
		pattern_runner_free(runner);
		return NULL;
	}
	pcre2_set_match_limit(runner->context, (uint32_t)steps);
	pcre2_set_depth_limit(runner->context, DEPTH_LIMIT);
	pcre2_set_heap_limit(runner->context, HEAP_LIMIT_KIB);
	return runner;
}

void pattern_runner_free(struct pattern_runner *runner)
{
	if (!runner)
		return;
	pcre2_match_data_free(runner->data);
	pcre2_match_context_free(runner->context);
	free(runner);
}

static int run_with(const pcre2_code *code, struct pattern_runner *runner, struct slice line, uint32_t options)
{
	return pcre2_match(code, (PCRE2_SPTR)(line.text ? line.text : ""), line.len, 0, options, runner->data,
	                   runner->context);
}

int pattern_run(const pcre2_code *code, struct pattern_runner *runner, struct slice line)
{
	int result = run_with(code, runner, line, 0);

	if (result == PCRE2_ERROR_JIT_STACKLIMIT)
		result = run_with(code, runner, line, PCRE2_NO_JIT);
	return result;
}

bool pattern_group(const struct pattern_runner *runner, int group, struct slice line, struct slice *out)
{
	const PCRE2_SIZE *offsets = pcre2_get_ovector_pointer(runner->data);
	size_t number = (size_t)group;

	if (group < 0 || number >= pcre2_get_ovector_count(runner->data) || offsets[2 * number] == PCRE2_UNSET)
		return false;
	*out = slice_part(line, offsets[2 * number], offsets[2 * number + 1]);
	return true;
}

const char *pattern_failure(int result, char reason[PATTERN_REASON])
{
	message_get(result, reason);
	return reason;
}

int pattern_group_number(const pcre2_code *code, const char *name)
{
	int number = pcre2_substring_number_from_name(code, (PCRE2_SPTR)name);

	if (number == PCRE2_ERROR_NOUNIQUESUBSTRING)
		return -1;
	return number > 0 ? number : 0;
}

const char *pattern_group_name(const pcre2_code *code, size_t index)
{
	uint32_t count, size;
	PCRE2_SPTR table;

	if (pcre2_pattern_info(code, PCRE2_INFO_NAMECOUNT, &count) != 0 || index >= count ||
	    pcre2_pattern_info(code, PCRE2_INFO_NAMEENTRYSIZE, &size) != 0 ||
	    pcre2_pattern_info(code, PCRE2_INFO_NAMETABLE, &table) != 0)
		return NULL;
	return (const char *)table + index * size + 2; /* an entry begins with two bytes of the group's number */
}

/* The characters that text begins with and that stand for themselves, so that the hard part lies behind them. */
static size_t literal_start(const char *text, const char **start)
{
	size_t len;

	if (*text == '^')
		text++;
	*start = text;
	len = strcspn(text, "\\^$.[|()?*+{");
	if (len > 0 && text[len] && strchr("?*{", text[len]))
		len--; /* the last one may be missing */
	return len < 64 ? len : 64;
}

/* Is the line run through, with a match or without one? */
static bool probe_line(const pcre2_code *code, struct pattern_runner *runner, struct slice line,
                       char reason[PATTERN_REASON])
{
	char failure[PATTERN_REASON];
	char shown[48];
	int result = pattern_run(code, runner, line);

	if (result >= PATTERN_NO_MATCH)
		result = run_with(code, runner, line, PCRE2_NO_JIT);
	if (result >= PATTERN_NO_MATCH)
		return true;
	snprintf(reason, PATTERN_REASON, "%.80s on a line such as \"%s\"", pattern_failure(result, failure),
	         line_print(shown, sizeof(shown), line));
	return false;
}

/* start, then unit again and again up to len bytes, then last. */
static bool probe_unit(const pcre2_code *code, struct pattern_runner *runner, struct slice start, const char *unit,
                       size_t len, char reason[PATTERN_REASON])
{
	static const char last[] = { 'x', '!', '\x01' };
	size_t period = strlen(unit);
	char line[512];

	if (start.len > 0)
		memcpy(line, start.text, start.len);
	for (size_t i = 0; i < len; i++)
		line[start.len + i] = unit[i % period];
	for (size_t i = 0; i < sizeof(last); i++) {
		line[start.len + len] = last[i];
		if (!probe_line(code, runner, (struct slice){ line, start.len + len + 1 }, reason))
			return false;
	}
	return true;
}

bool pattern_probe(const pcre2_code *code, const char *text, size_t steps, char reason[PATTERN_REASON])
{
	static const char *const units[] = { "1", "a", "A", " ", "1.", "1,", "1 ", "a ", "a1", ".", "-", "%", "\xb0" };
	struct pattern_runner *runner = pattern_runner_new(code, steps);
	const char *literal;
	struct slice start;
	bool good = runner != NULL;

	snprintf(reason, PATTERN_REASON, "no memory");
	start.len = literal_start(text, &literal);
	start.text = literal;
	for (size_t i = 0; good && i < sizeof(units) / sizeof(units[0]); i++)
		for (size_t len = 40; good && len <= 256; len += 216)
			good = probe_unit(code, runner, (struct slice){ NULL, 0 }, units[i], len, reason) &&
			       (start.len == 0 || probe_unit(code, runner, start, units[i], len, reason));
	pattern_runner_free(runner);
	return good;
}
