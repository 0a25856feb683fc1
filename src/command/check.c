/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>
#include <stdlib.h>

#include "analysis.h"
#include "analysis_json.h"
#include "bench_command.h"
#include "load.h"
#include "sentences.h"
#include "version.h"

static const struct command_option options[] = {
	{ "profile", 'p', "NAME", "Meter profile, built in or a file, that the lines of readings are read with." },
	{ "json", 0, NULL, "Prints faults and findings as one JSON object instead." },
	BENCH_OPTION,
	{ .name = NULL },
};

static const char *const sections[] = { "comparison", "correction", "yield", "bench", NULL };

/* What can only be seen once all is joined and computed: fairness, and what is doubtful in the data. */
static void print_findings(const struct analysis *analysis)
{
	for (size_t i = 0; i < analysis->sentence_count; i++) {
		const struct sentence *sentence = &analysis->sentences[i];

		if (sentence->topic != TOPIC_FAIRNESS && sentence->topic != TOPIC_DATA &&
		    sentence->topic != TOPIC_METER)
			continue;
		printf("%s: ", severity_name(sentence->severity));
		print_line(stdout, sentence->text);
	}
}

static bool any_doubt(const struct analysis *analysis)
{
	for (size_t i = 0; i < analysis->sentence_count; i++)
		if (analysis->sentences[i].severity != SEVERITY_NOTE && analysis->sentences[i].topic != TOPIC_RESULT)
			return true;
	return false;
}

static enum status print_json(struct invocation *invocation, const struct analysis *analysis)
{
	char *text;

	faults_sort(&invocation->faults);
	text = faults_json(analysis, &invocation->faults, program_version());
	if (!text)
		return error_set(&invocation->error, STATUS_MEMORY, "no memory for the JSON text");
	fputs(text, stdout);
	free(text);
	return STATUS_OK;
}

static void print_all(const struct run *run, const struct analysis *analysis)
{
	print_findings(analysis);
	printf("%s of %s, %s, %zu of them used\n", words_count(run->brew_count, "brew", "brews").text,
	       words_count(run->treatment_count, "treatment", "treatments").text,
	       words_count(run->reading_count, "reading", "readings").text, analysis->readings_used);
}

static enum exit_code run_check(struct invocation *invocation)
{
	struct analysis *analysis = NULL;
	struct loaded loaded;
	enum exit_code code;
	enum status status = load_files(&loaded, invocation);
	bool json = invocation_given(invocation, "json");

	if (status == STATUS_OK)
		status = analysis_make(&analysis, loaded.run, &invocation->settings, &invocation->error);
	code = json ? (faults_any(&invocation->faults) ? EXIT_FAULTS : EXIT_DONE) : invocation_tell_faults(invocation);
	if (status == STATUS_REFUSED || (analysis && any_doubt(analysis)))
		code = EXIT_FAULTS;
	if (json && (status == STATUS_OK || status == STATUS_REFUSED))
		status = print_json(invocation, analysis) == STATUS_OK ? status : STATUS_MEMORY;
	if (status != STATUS_OK && status != STATUS_REFUSED)
		code = invocation_tell_error(invocation, status);
	else if (analysis && !json)
		print_all(loaded.run, analysis);
	analysis_free(analysis);
	loaded_release(&loaded);
	return code;
}

const struct command command_check = {
	.name = "check",
	.purpose = "Says everything that is wrong or unfair in a manifest and its readings; writes nothing.",
	.operands = "MANIFEST [READINGS...] | --bench DIR RUN",
	.operands_min = 1,
	.operands_max = COMMAND_OPERANDS_MAX,
	.sections = sections,
	.options = options,
	.example = "check fixtures/demo/manifest.csv fixtures/demo/readings.txt",
	.example_exit = EXIT_FAULTS,
	.run = run_check,
};
