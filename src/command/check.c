/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>

#include "analysis.h"
#include "bench_command.h"
#include "load.h"

static const struct command_option options[] = {
	{ "profile", 'p', "NAME", "Meter profile, built in or a file, that the lines of readings are read with." },
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

static enum exit_code run_check(struct invocation *invocation)
{
	struct analysis *analysis = NULL;
	struct loaded loaded;
	enum exit_code code = EXIT_DONE;
	enum status status = load_files(&loaded, invocation);

	if (status == STATUS_OK)
		status = analysis_make(&analysis, loaded.run, &invocation->settings, &invocation->error);
	if (invocation_tell_faults(invocation) != EXIT_DONE)
		code = EXIT_FAULTS;
	if (status != STATUS_OK && status != STATUS_REFUSED)
		code = invocation_tell_error(invocation, status);
	if (status == STATUS_REFUSED)
		code = EXIT_FAULTS;
	if (analysis) {
		print_findings(analysis);
		printf("%zu brews of %zu treatments, %zu readings, %zu of them used\n", loaded.run->brew_count,
		       loaded.run->treatment_count, loaded.run->reading_count, analysis->readings_used);
		if (any_doubt(analysis))
			code = EXIT_FAULTS;
	}
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
