/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>
#include <stdlib.h>

#include "analysis.h"
#include "analysis_json.h"
#include "book.h"
#include "command.h"
#include "load.h"
#include "version.h"

static const struct command_option options[] = {
	{ "output", 'o', "FILE", "The workbook; unless set, the manifest's name with .xlsx, in the current folder." },
	{ "profile", 'p', "NAME", "Meter profile, built in or a file, that the lines of readings are read with." },
	{ "summary", 's', NULL, "Prints the findings, too." },
	{ "json", 0, NULL, "Prints every number as JSON instead; a workbook is written only with --output." },
	{ .name = NULL },
};

static const char *const sections[] = { "comparison", "correction", "yield", "bench", NULL };

static void print_summary(const struct analysis *analysis)
{
	for (size_t i = 0; i < analysis->sentence_count; i++)
		printf("%s\n", analysis->sentences[i].text);
}

/* The words of the command line in one text, for the Method sheet; in the run's memory. */
static const char *command_words(const struct invocation *invocation, struct run *run)
{
	const char *words = "brewspread";

	for (int i = 0; words && i < invocation->argc; i++)
		words = arena_print(&run->memory, "%s %s", words, invocation->argv[i]);
	return words ? words : "";
}

static enum status write_book(struct invocation *invocation, struct loaded *loaded, const struct analysis *analysis)
{
	const char *output = invocation_value(invocation, "output");
	struct book_request request = {
		.path = output ? output : arena_print(&loaded->run->memory, "%.*s.xlsx", SLICE_ARG(loaded->run->name)),
		.version = program_version(),
		.command = command_words(invocation, loaded->run),
	};
	enum status status;

	if (!request.path)
		return error_set(&invocation->error, STATUS_MEMORY, "no memory");
	status = book_write(analysis, &invocation->faults, &request, &invocation->error);
	if (status == STATUS_OK && !invocation_given(invocation, "json"))
		printf("%s\n", request.path);
	return status;
}

static enum status print_json(struct invocation *invocation, const struct analysis *analysis)
{
	char *text = analysis_json(analysis, &invocation->faults, program_version());

	if (!text)
		return error_set(&invocation->error, STATUS_MEMORY, "no memory for the JSON text");
	fputs(text, stdout);
	free(text);
	return STATUS_OK;
}

static enum status write_all(struct invocation *invocation, struct loaded *loaded, const struct analysis *analysis)
{
	bool json = invocation_given(invocation, "json");
	enum status status = STATUS_OK;

	if (!json || invocation_given(invocation, "output"))
		status = write_book(invocation, loaded, analysis);
	if (status == STATUS_OK && invocation_given(invocation, "summary") && !json)
		print_summary(analysis);
	if (status == STATUS_OK && json)
		status = print_json(invocation, analysis);
	return status;
}

static enum exit_code run_report(struct invocation *invocation)
{
	struct analysis *analysis = NULL;
	struct loaded loaded;
	enum exit_code faults;
	enum status status = load_files(&loaded, invocation);

	if (status == STATUS_OK)
		status = analysis_make(&analysis, loaded.run, &invocation->settings, &invocation->error);
	faults = invocation_tell_faults(invocation);
	if (status == STATUS_OK)
		status = write_all(invocation, &loaded, analysis);
	analysis_free(analysis);
	loaded_release(&loaded);
	if (status == STATUS_REFUSED)
		return EXIT_FAULTS;
	return status == STATUS_OK ? faults : invocation_tell_error(invocation, status);
}

const struct command command_report = {
	.name = "report",
	.purpose = "Compares the brews of a manifest by their readings and writes the workbook.",
	.operands = "MANIFEST READINGS...",
	.operands_min = 2,
	.operands_max = COMMAND_OPERANDS_MAX,
	.sections = sections,
	.options = options,
	.details =
		"A file called \"-\" is standard input. The report of an earlier run is replaced only by a whole new one.",
	.example =
		"report fixtures/demo/manifest.csv fixtures/demo/readings.txt --control plain -o build/demo/comparison.xlsx",
	.example_exit = EXIT_FAULTS,
	.run = run_report,
};
