/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>

#include "analysis.h"
#include "analysis_json.h"
#include "bench_command.h"
#include "command_words.h"
#include "data_file.h"
#include "labels_file.h"
#include "load.h"
#include "open_file.h"
#include "report_files.h"
#include "version.h"

static const struct command_option options[] = {
	{ "output", 'o', "PATH",
	  "Where the report goes: a file, or a folder where there are several; unless set, the run's name, in the current "
	  "folder." },
	{ "format", 'f', "LIST",
	  "What is written, some of xlsx, md, html, svg, png, pdf, json, csv, with commas between them. Unless set: xlsx." },
	{ "template", 't', "PATH",
	  "Own template for md or html, or a folder with write-up.md, write-up.html or both; also one in the folder of "
	  "data that \"brewspread --help\" names." },
	{ "labels", 'l', "FILE",
	  "Words of the workbook in another language: de for German, or a file as labels.csv in the folder of data, filled "
	  "in." },
	{ "open", 0, NULL, "Opens the report when it is there." },
	{ "profile", 'p', "NAME", "Meter profile, built in or a file, that the lines of readings are read with." },
	{ "summary", 's', NULL, "Prints the findings, too." },
	{ "json", 0, NULL, "Prints every number as JSON instead; files are written only with --output or --format." },
	BENCH_OPTION,
	{ .name = NULL },
};

static const char *const sections[] = { "comparison", "correction", "yield", "bench", NULL };

static void print_summary(const struct analysis *analysis)
{
	for (size_t i = 0; i < analysis->sentence_count; i++)
		print_line(stdout, analysis->sentences[i].text);
}

/* The run's name, with the ending of the format unless a folder is made of it; in a bench folder, "report" in its place. */
static const char *usual_path(const struct loaded *loaded, unsigned formats)
{
	struct run *run = loaded->run;
	struct slice name = loaded->folder ? SLICE_OF("report") : run->name;
	const char *before = loaded->folder ? loaded->folder : "";
	const char *slash = loaded->folder ? "/" : "";

	for (unsigned i = 0; i < REPORT_FORMATS; i++)
		if (formats == 1u << i && !report_formats_folder(formats))
			return arena_print(&run->memory, "%s%s%.*s.%s", before, slash, SLICE_ARG(name),
			                   report_format_name(i));
	return arena_print(&run->memory, "%s%s%.*s", before, slash, SLICE_ARG(name));
}

/* What is asked for: its formats, and the user's own words and templates. */
struct asked {
	unsigned formats; /* 0: no files */
	const char *labels, *templates;
	char labels_room[PATH_MAX], templates_room[PATH_MAX];
};

static void note_unused(struct invocation *invocation, const char *option, const char *formats)
{
	faults_add(&invocation->faults, SEVERITY_NOTE, (struct place){ .file = NULL },
	           "--%s is not used: it is for %s, and nothing of that kind is written", option, formats);
}

static enum status ask(struct asked *asked, struct invocation *invocation)
{
	const char *list = invocation_value(invocation, "format");
	const char *labels = invocation_value(invocation, "labels");
	const char *templates = invocation_value(invocation, "template");
	enum status status = STATUS_OK;

	*asked = (struct asked){ .formats = 1u << FORMAT_XLSX };
	if (list)
		status = report_formats_parse(&asked->formats, slice_from(list), &invocation->error);
	else if (invocation_given(invocation, "json") && !invocation_given(invocation, "output"))
		asked->formats = 0;
	if (status == STATUS_OK && labels) {
		asked->labels = data_file(asked->labels_room, sizeof(asked->labels_room), program_datadir(), labels);
		if (!(asked->formats & 1u << FORMAT_XLSX))
			note_unused(invocation, "labels", "the workbook, xlsx");
	}
	if (status == STATUS_OK && templates) {
		asked->templates = data_file(asked->templates_room, sizeof(asked->templates_room), program_datadir(),
		                             templates);
		status = report_template_check(asked->templates, &invocation->error);
		if (!(asked->formats & (1u << FORMAT_MD | 1u << FORMAT_HTML)))
			note_unused(invocation, "template", "write-ups, md and html");
	}
	return status;
}

static enum status write_files(struct invocation *invocation, struct loaded *loaded, const struct analysis *analysis,
                               const struct asked *asked, const struct labels *labels)
{
	const char *output = invocation_value(invocation, "output");
	struct report_request request = {
		.formats = asked->formats,
		.path = output ? output : usual_path(loaded, asked->formats),
		.version = program_version(),
		.command = command_words(invocation, &loaded->run->memory),
		.labels = labels,
		.templates = asked->templates,
	};
	char first[PATH_MAX];
	enum status status;

	if (!request.path)
		return error_set(&invocation->error, STATUS_MEMORY, "no memory");
	status = report_files_write(analysis, &invocation->faults, &request, &invocation->error);
	if (status == STATUS_OK && !invocation_given(invocation, "json"))
		printf("%s\n", request.path);
	if (status == STATUS_OK && invocation_given(invocation, "open"))
		status = open_file(report_files_first(&request, first, sizeof(first)), &invocation->error);
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

static enum status write_all(struct invocation *invocation, struct loaded *loaded, const struct analysis *analysis,
                             const struct asked *asked, const struct labels *labels)
{
	bool json = invocation_given(invocation, "json");
	enum status status = STATUS_OK;

	if (asked->formats != 0)
		status = write_files(invocation, loaded, analysis, asked, labels);
	if (status == STATUS_OK && invocation_given(invocation, "summary") && !json)
		print_summary(analysis);
	if (status == STATUS_OK && json)
		status = print_json(invocation, analysis);
	return status;
}

static enum exit_code run_report(struct invocation *invocation)
{
	struct analysis *analysis = NULL;
	struct asked asked;
	struct labels labels = LABELS_INIT;
	struct loaded loaded;
	enum exit_code faults;
	enum status status;

	if (invocation->operand_count < 2 && !invocation_given(invocation, "bench"))
		return invocation_wrong_use(invocation,
		                            "readings are missing; expected: brewspread report MANIFEST READINGS...");
	status = ask(&asked, invocation);
	if (status != STATUS_OK)
		return invocation_tell_error(invocation, status);
	status = load_files(&loaded, invocation);
	if (status == STATUS_OK && asked.labels)
		status = labels_file_read(&labels, asked.labels, &invocation->faults, &invocation->error);
	if (status == STATUS_OK)
		status = analysis_make(&analysis, loaded.run, &invocation->settings, &invocation->error);
	faults = invocation_tell_faults(invocation);
	if (status == STATUS_OK)
		status = write_all(invocation, &loaded, analysis, &asked, asked.labels ? &labels : NULL);
	analysis_free(analysis);
	loaded_release(&loaded);
	labels_release(&labels);
	if (status == STATUS_REFUSED)
		return EXIT_FAULTS;
	return status == STATUS_OK ? faults : invocation_tell_error(invocation, status);
}

const struct command command_report = {
	.name = "report",
	.purpose = "Compares the brews of a manifest by their readings and writes workbook, figures, write-up.",
	.operands = "MANIFEST READINGS... | --bench DIR RUN",
	.operands_min = 1,
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
