/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bench_command.h"
#include "bench_run.h"
#include "ledger_meter.h"
#include "ledger_read.h"
#include "ledger_run.h"
#include "number.h"
#include "reading_json.h"
#include "timestamp.h"

static const struct command_option options[] = {
	BENCH_OPTION,
	{ "format", 'f', "FORMAT", "csv (unless set) or jsonl." },
	{ "run", 'r', "RUN", "Readings of that run alone." },
	{ "meter", 'm', "NAME", "Readings of that meter alone." },
	{ "since", 's', "TIME",
	  "Received then or later: 2026-03-01, or 2026-03-01T10:15, in UTC unless it says +01:00." },
	{ "until", 'u', "TIME", "Received before then." },
	{ "lines", 0, NULL, "Lines that gave no reading, too." },
	{ .name = NULL },
};

struct named {
	int64_t id;
	const char *name;
};

/* Names by id, in the order of the ids. */
struct names {
	struct named *items;
	size_t count;
	struct arena memory;
};

struct exporting {
	struct names meters, runs;
	struct json_line line;
	bool json;
};

static bool names_add(struct names *names, int64_t id, struct slice name)
{
	struct named *items = realloc(names->items, (names->count + 1) * sizeof(*items));

	if (!items)
		return false;
	names->items = items;
	items[names->count++] = (struct named){ id, arena_copy(&names->memory, name).text };
	return items[names->count - 1].name != NULL;
}

static struct slice name_of(const struct names *names, int64_t id)
{
	for (size_t low = 0, high = names->count; low < high;) {
		size_t middle = low + (high - low) / 2;

		if (names->items[middle].id == id)
			return slice_from(names->items[middle].name);
		if (names->items[middle].id < id)
			low = middle + 1;
		else
			high = middle;
	}
	return (struct slice){ NULL, 0 };
}

static bool names_have(const struct names *names, struct slice name)
{
	for (size_t i = 0; i < names->count; i++)
		if (slice_equal(slice_from(names->items[i].name), name))
			return true;
	return false;
}

static void names_release(struct names *names)
{
	free(names->items);
	arena_release(&names->memory);
}

static enum status meter_note(void *context, const struct ledger_meter *meter, struct error *error)
{
	struct exporting *exporting = context;

	return names_add(&exporting->meters, meter->id, meter->meter.name) ?
	               STATUS_OK :
	               error_set(error, STATUS_MEMORY, "no memory");
}

static enum status run_note(void *context, const struct ledger_run *run, struct error *error)
{
	struct exporting *exporting = context;

	return names_add(&exporting->runs, run->id, run->name) ? STATUS_OK :
	                                                         error_set(error, STATUS_MEMORY, "no memory");
}

/* Would a spreadsheet program take it for a formula? A leading ' is doubled, so that taking one off gives the text back. */
static bool is_formula_like(struct slice text)
{
	static const char leads[] = { '=', '+', '-', '@', '\t', '\r', '\'' };

	return text.len > 0 && memchr(leads, text.text[0], sizeof(leads));
}

/* A cell of text, in quotes where it needs them (RFC 4180). */
static void text_cell(struct slice text)
{
	bool quoted = false;

	for (size_t i = 0; i < text.len; i++)
		quoted = quoted || (text.text[i] && strchr(",\"\r\n", text.text[i]));
	if (quoted)
		putchar('"');
	if (is_formula_like(text))
		putchar('\'');
	for (size_t i = 0; i < text.len; i++) {
		if (text.text[i] == '"')
			putchar('"');
		putchar(text.text[i]);
	}
	if (quoted)
		putchar('"');
	putchar(',');
}

static void number_cell(double value, int decimals)
{
	char number[NUMBER_TEXT];

	if (isfinite(value))
		fputs(number_print(number, sizeof(number), value, decimals), stdout);
	putchar(',');
}

static void exact_cell(double value)
{
	char number[NUMBER_TEXT];

	if (isfinite(value))
		fputs(number_print_exact(number, sizeof(number), value), stdout);
	putchar(',');
}

static void time_cell(int64_t us, int decimals)
{
	char text[TIMESTAMP_TEXT];

	if (us != READING_NO_TIME)
		fputs(timestamp_print(text, sizeof(text), us, decimals), stdout);
	putchar(',');
}

static const char csv_header[] =
	"number,received,taken,meter,run,role,cup,shown,unit,temp_c,standard_percent,flags,sequence,status,note,line\n";

static enum status csv_row(const struct reading_facts *facts, struct error *error)
{
	const struct ledger_entry *entry = facts->entry;
	bool read = facts->role != LEDGER_RAW;
	char flags[READING_FLAG_WORDS];
	char *raw = raw_text(entry->raw);

	if (!raw)
		return error_set(error, STATUS_MEMORY, "no memory");
	printf("%lld,", (long long)entry->id);
	time_cell(entry->received_us, 6);
	time_cell(entry->taken_us, 3);
	text_cell(facts->meter);
	text_cell(facts->run);
	text_cell(slice_from(reading_role_word(facts->role)));
	text_cell(facts->label);
	number_cell(read ? entry->shown.value : NAN, entry->shown.decimals);
	text_cell(slice_from(read ? unit_name(entry->shown.unit) : ""));
	exact_cell(entry->temp_c);
	exact_cell(entry->standard_percent);
	text_cell(slice_from(reading_flag_words(flags, sizeof(flags), facts->flags)));
	text_cell(entry->sequence);
	text_cell(entry->status);
	text_cell(facts->note);
	printf("\"%s", is_formula_like(slice_from(raw)) ? "'" : "");
	for (const char *at = raw; *at; at++) {
		if (*at == '"')
			putchar('"');
		putchar(*at);
	}
	puts("\"");
	free(raw);
	return STATUS_OK;
}

static enum status json_row(struct json_line *line, const struct reading_facts *facts, struct error *error)
{
	const char *json = reading_json(line, facts, NULL);

	if (!json)
		return error_set(error, STATUS_MEMORY, "no memory");
	puts(json);
	return STATUS_OK;
}

static enum status row_export(void *context, const struct ledger_row *row, struct error *error)
{
	struct exporting *exporting = context;
	struct reading_facts facts = {
		.entry = &row->entry,
		.label = row->label,
		.note = row->note,
		.role = row->role,
		.flags = row->flags,
		.meter = name_of(&exporting->meters, row->entry.meter),
		.run = name_of(&exporting->runs, row->entry.run),
	};

	if (ferror(stdout))
		return error_set_errno(error, STATUS_IO, "standard output");
	return exporting->json ? json_row(&exporting->line, &facts, error) : csv_row(&facts, error);
}

/* The moment that an option names: itself, or a day for its beginning, in UTC. */
static bool moment_take(int64_t *us, const struct invocation *invocation, const char *name)
{
	const char *value = invocation_value(invocation, name);

	if (!value || moment_parse(us, slice_from(value)))
		return true;
	invocation_wrong_use(invocation,
	                     "--%s is \"%s\"; expected a day such as 2026-03-01, or a moment such as 2026-03-01T10:15",
	                     name, value);
	return false;
}

static enum status rows_export(struct ledger *ledger, struct ledger_query *query, struct exporting *exporting,
                               struct invocation *invocation)
{
	const char *run = invocation_value(invocation, "run");
	struct error *error = &invocation->error;
	enum status status = STATUS_OK;

	if (run)
		status = bench_run_find(ledger, slice_from(run), &query->run, NULL, 0, error);
	if (status == STATUS_OK && run && query->run == 0)
		return error_set(error, STATUS_INVALID, "%s has no run \"%s\"", ledger_path(ledger), run);
	if (status == STATUS_OK)
		status = ledger_each_meter(ledger, meter_note, exporting, error);
	if (status == STATUS_OK)
		status = ledger_each_run(ledger, run_note, exporting, error);
	if (status != STATUS_OK)
		return status;
	if (query->meter.len > 0 && !names_have(&exporting->meters, query->meter))
		return error_set(error, STATUS_INVALID, "%s has no meter \"%.*s\"", ledger_path(ledger),
		                 SLICE_ARG(query->meter));
	if (!exporting->json)
		fputs(csv_header, stdout);
	status = ledger_each(ledger, query, row_export, exporting, error);
	if (status == STATUS_OK && (fflush(stdout) != 0 || ferror(stdout)))
		status = error_set_errno(error, STATUS_IO, "standard output");
	return status;
}

static enum exit_code run_export(struct invocation *invocation)
{
	const char *format = invocation_value(invocation, "format");
	struct ledger_query query = { .raw_lines = invocation_given(invocation, "lines") };
	struct exporting exporting = { .json = format && strcmp(format, "jsonl") == 0 };
	struct bench *bench = NULL;
	struct ledger *ledger = NULL;
	enum status status;

	if (format && !exporting.json && strcmp(format, "csv") != 0)
		return invocation_wrong_use(invocation, "--format is \"%s\"; expected csv or jsonl", format);
	if (!moment_take(&query.since_us, invocation, "since") || !moment_take(&query.until_us, invocation, "until"))
		return EXIT_USAGE;
	query.meter = slice_from(invocation_value(invocation, "meter"));
	status = invocation_bench_open(&bench, invocation);
	if (status == STATUS_OK)
		status = invocation_ledger_open(&ledger, bench, LEDGER_READ, invocation);
	if (status == STATUS_OK)
		status = rows_export(ledger, &query, &exporting, invocation);
	names_release(&exporting.meters);
	names_release(&exporting.runs);
	json_line_release(&exporting.line);
	ledger_free(ledger);
	bench_free(bench);
	invocation_tell_faults(invocation);
	return status == STATUS_OK ? EXIT_DONE : invocation_tell_error(invocation, status);
}

const struct command command_export = {
	.name = "export",
	.purpose = "Prints the ledger as CSV or JSON lines, one row a reading.",
	.operands = "",
	.options = options,
	.details =
		"In CSV a text that begins with = + - @ ' a tab or a return has a ' before it, so that no spreadsheet\n"
		"program takes it for a formula; one ' taken off gives it back. In \"line\" \\xHH is a byte that is no\n"
		"printable UTF-8, and \\\\ a backslash.",
	.example = "export --format jsonl --bench fixtures",
	.example_exit = EXIT_SYSTEM,
	.run = run_export,
};
