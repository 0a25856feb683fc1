/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "bench_sheet.h"
#include "blank_manifest.h"
#include "command.h"
#include "meter.h"
#include "number.h"
#include "plan_history.h"
#include "plan_json.h"
#include "plan_text.h"
#include "response.h"
#include "version.h"

static const struct command_option options[] = {
	{ "brews", 'b', "NUMBER", "Brews of each treatment." },
	{ "at-once", 'a', "NUMBER", "Brews that can be made at the same time; 1 unless set." },
	{ "output", 'o', "FOLDER", "Writes manifest.csv and bench-sheet.xlsx there; else the plan is only printed." },
	{ "dose", 0, "GRAMS", "Coffee that each brew is meant to take, for the bench sheet." },
	{ "water", 0, "GRAMS", "Water that each brew is meant to take." },
	{ "temp", 0, "CELSIUS", "Temperature that the water is meant to have." },
	{ "grind", 0, "WORDS", "Grind that is meant." },
	{ "time", 0, "WORDS", "How long each brew is meant to take, such as 3:00." },
	{ "method", 0, "NAME", "percolation or immersion; puts that column into the manifest." },
	{ "type", 0, "NAME", "Kind of sample: filter (unless set), espresso, or one that was added." },
	{ "with", 0, "NAMES", "Further columns of the manifest, separated by commas." },
	{ "paper", 0, "SIZE", "Of the bench sheet: a4 (unless set) or letter." },
	{ "find", 'f', "POINTS", "Says how many brews find a difference of so many yield points." },
	{ "treatments", 't', "NUMBER", "How many treatments that is asked for, where none are named; 2 unless set." },
	{ "brew-sd", 0, "POINTS", "Spread between brews of one treatment, without what readings add." },
	{ "brew-df", 0, "NUMBER", "Its degrees of freedom: brews less treatments that it was found from." },
	{ "reading-sd", 0, "POINTS", "Spread between readings of one cup, as yield points." },
	{ "reading-df", 0, "NUMBER", "Its degrees of freedom: readings less cups." },
	{ "bench", 0, "DIR", "Takes the spreads from the earlier runs of that bench folder." },
	{ "standard", 0, "PERCENT", "Says what to weigh for a check standard: a sugar solution of that strength." },
	{ "mass", 0, "GRAMS", "Mass of that solution in all; 200 unless set." },
	{ "standard-temp", 0, "CELSIUS", "Temperature that it is read at; 20 unless set." },
	{ "json", 0, NULL, "Prints everything as JSON instead." },
	{ .name = NULL },
};

static const char *const sections[] = { "comparison", "plan", "bench", "yield", NULL };

struct request {
	double brews, at_once, treatments; /* NaN: not given */
	double find;
	double standard, mass, standard_temp;
	struct effort_spread spread;
	char history[PLAN_HISTORY_WORDS]; /* where it came from */
	struct plan_targets targets;
	enum bench_paper paper;
	const char *folder;
};

/* What was found out; each NULL where it was not asked for. */
struct answers {
	struct run_plan *plan;
	struct effort_table effort;
	struct check_standard standard;
	bool has_effort, has_standard;
};

/* -- reading the request ------------------------------------------------------------ */

enum number_kind { NUMBER_ANY, NUMBER_POSITIVE, NUMBER_NOT_NEGATIVE, NUMBER_WHOLE, NUMBER_TEMP };

struct number_option {
	const char *name;
	enum number_kind kind;
	double *value;
};

static bool number_fits(enum number_kind kind, double value, int decimals)
{
	switch (kind) {
	case NUMBER_ANY:
		return true;
	case NUMBER_POSITIVE:
		return value > 0;
	case NUMBER_NOT_NEGATIVE:
		return value >= 0;
	case NUMBER_WHOLE:
		return value >= 1 && value <= 1e6 && decimals == 0;
	case NUMBER_TEMP:
		return value > 0 && value <= 100;
	}
	return false;
}

static enum exit_code take_number(const struct invocation *invocation, const struct number_option *option)
{
	static const char *const expected[] = {
		[NUMBER_ANY] = "a number",
		[NUMBER_POSITIVE] = "a number above 0, such as 0.5",
		[NUMBER_NOT_NEGATIVE] = "a number from 0 on, such as 0.3",
		[NUMBER_WHOLE] = "a whole number from 1 on",
		[NUMBER_TEMP] = "°C of liquid water, above 0 and up to 100",
	};
	const char *text = invocation_value(invocation, option->name);
	double value;
	int decimals;

	if (!text)
		return EXIT_DONE;
	if (!number_parse_any(&value, &decimals, slice_trim(slice_from(text))) ||
	    !number_fits(option->kind, value, decimals))
		return invocation_wrong_use(invocation, "--%s is \"%s\"; expected %s%s", option->name, text,
		                            expected[option->kind],
		                            slice_trim(slice_from(text)).len > 0 &&
		                                            strchr(".,", slice_trim(slice_from(text)).text[0]) ?
		                                    ", with a digit before the decimal point" :
		                                    "");
	*option->value = value;
	return EXIT_DONE;
}

/* A target stays as it was written: its digits are the user's. */
static enum exit_code take_target(const struct invocation *invocation, const char *name, enum number_kind kind,
                                  const char **out)
{
	double value;
	enum exit_code code = take_number(invocation, &(struct number_option){ name, kind, &value });

	if (code == EXIT_DONE)
		*out = invocation_value(invocation, name);
	return code;
}

static enum exit_code take_words(const struct invocation *invocation, const char *name, const char **out)
{
	*out = invocation_value(invocation, name);
	if (*out && strpbrk(*out, "\r\n"))
		return invocation_wrong_use(invocation, "--%s holds a line end; expected one line", name);
	return EXIT_DONE;
}

static enum exit_code take_targets(const struct invocation *invocation, struct plan_targets *targets)
{
	const char *type = invocation_value(invocation, "type");
	const struct sample_type *sample = settings_type(&invocation->settings, slice_from(type ? type : "filter"));

	targets->readings = (size_t)invocation->settings.readings_wanted;
	targets->method = invocation_value(invocation, "method");
	if (targets->method && strcmp(targets->method, "percolation") != 0 && strcmp(targets->method, "immersion") != 0)
		return invocation_wrong_use(invocation, "--method is \"%s\"; expected percolation or immersion",
		                            targets->method);
	if (!sample)
		return invocation_wrong_use(invocation, "no sample type is called \"%s\"; --sample-type adds one",
		                            type);
	targets->sample_type = sample->name;
	if (take_target(invocation, "dose", NUMBER_POSITIVE, &targets->dose_g) != EXIT_DONE ||
	    take_target(invocation, "water", NUMBER_POSITIVE, &targets->water_g) != EXIT_DONE ||
	    take_target(invocation, "temp", NUMBER_TEMP, &targets->temp_c) != EXIT_DONE ||
	    take_words(invocation, "grind", &targets->grind) != EXIT_DONE ||
	    take_words(invocation, "time", &targets->time) != EXIT_DONE)
		return EXIT_USAGE;
	return EXIT_DONE;
}

static enum exit_code take_numbers(const struct invocation *invocation, struct request *request)
{
	const struct number_option numbers[] = {
		{ "brews", NUMBER_WHOLE, &request->brews },
		{ "at-once", NUMBER_WHOLE, &request->at_once },
		{ "treatments", NUMBER_WHOLE, &request->treatments },
		{ "find", NUMBER_POSITIVE, &request->find },
		{ "brew-sd", NUMBER_NOT_NEGATIVE, &request->spread.brew_sd },
		{ "brew-df", NUMBER_POSITIVE, &request->spread.brew_df },
		{ "reading-sd", NUMBER_NOT_NEGATIVE, &request->spread.reading_sd },
		{ "reading-df", NUMBER_POSITIVE, &request->spread.reading_df },
		{ "standard", NUMBER_POSITIVE, &request->standard },
		{ "mass", NUMBER_POSITIVE, &request->mass },
		{ "standard-temp", NUMBER_ANY, &request->standard_temp },
	};

	for (size_t i = 0; i < sizeof(numbers) / sizeof(numbers[0]); i++)
		if (take_number(invocation, &numbers[i]) != EXIT_DONE)
			return EXIT_USAGE;
	return EXIT_DONE;
}

/* What the settings know of earlier runs, where the options don't tell it. */
static void take_history(const struct settings *settings, struct effort_spread *spread)
{
	spread->source = "given";
	if (!isnan(spread->brew_sd) || isnan(settings->history_sd))
		return;
	spread->brew_sd = settings->history_sd;
	spread->brew_df = settings->history_df;
	spread->source = "between brews: history-sd of the settings";
	if (!isnan(spread->reading_sd))
		return;
	spread->reading_sd = 0;
	spread->source = "history-sd of the settings, which holds what readings add";
}

static enum exit_code take_paper(const struct invocation *invocation, struct request *request)
{
	const char *paper = invocation_value(invocation, "paper");

	request->paper = paper && strcmp(paper, "letter") == 0 ? BENCH_LETTER : BENCH_A4;
	if (paper && strcmp(paper, "letter") != 0 && strcmp(paper, "a4") != 0)
		return invocation_wrong_use(invocation, "--paper is \"%s\"; expected a4 or letter", paper);
	return EXIT_DONE;
}

/* Do the options go together? */
static enum exit_code check_request(const struct invocation *invocation, const struct request *request)
{
	bool named = invocation->operand_count > 0;

	if (!named && isnan(request->standard) && isnan(request->find) && isnan(request->brews))
		return invocation_wrong_use(invocation, "nothing is asked for; expected the treatments' names, --find, "
		                                        "--brews or --standard");
	if (named && !isnan(request->treatments))
		return invocation_wrong_use(invocation, "--treatments is for where none are named; %zu are named here",
		                            invocation->operand_count);
	if (!named && request->folder)
		return invocation_wrong_use(invocation, "--output needs the treatments' names");
	if (named && isnan(request->brews) && isnan(request->find))
		return invocation_wrong_use(invocation,
		                            "how many brews of each is missing; expected --brews, or --find "
		                            "to have it worked out");
	if (named && isnan(request->brews) && !effort_spread_known(&request->spread))
		return invocation_wrong_use(invocation,
		                            "--find works brews out from known spreads only; expected --brews, "
		                            "--brew-sd and --reading-sd, or --bench with earlier runs of several "
		                            "brews a treatment");
	if ((!named || !isnan(request->find) || effort_spread_known(&request->spread)) &&
	    (!isnan(request->find) || !isnan(request->brews)) && !response_names_yield(invocation->settings.response))
		return invocation_wrong_use(
			invocation,
			"how many brews it takes is worked out in yield points only, from spreads of yields, "
			"and the response is \"%s\"; expected --response yield",
			invocation->settings.response);
	if (!isnan(request->treatments) && request->treatments < 2)
		return invocation_wrong_use(invocation, "a comparison needs at least two treatments");
	return EXIT_DONE;
}

static enum exit_code take_request(struct invocation *invocation, struct request *request)
{
	*request = (struct request){
		.brews = NAN,
		.at_once = 1,
		.treatments = NAN,
		.find = NAN,
		.standard = NAN,
		.mass = 200,
		.standard_temp = 20,
		.spread = { NAN, NAN, NAN, NAN, NULL },
		.folder = invocation_value(invocation, "output"),
	};
	if (take_numbers(invocation, request) != EXIT_DONE ||
	    take_targets(invocation, &request->targets) != EXIT_DONE || take_paper(invocation, request) != EXIT_DONE)
		return EXIT_USAGE;
	if (blank_manifest_check(invocation_value(invocation, "with"), &invocation->error) != STATUS_OK)
		return invocation_wrong_use(invocation, "--with: %s", invocation->error.text);
	take_history(&invocation->settings, &request->spread);
	if (invocation_given(invocation, "bench") && isnan(request->spread.brew_sd)) {
		enum status status = plan_history(&request->spread, &request->targets, request->history, invocation);

		if (status != STATUS_OK)
			return invocation_tell_error(invocation, status);
	}
	return check_request(invocation, request);
}

/* -- answering it -------------------------------------------------------------------- */

static enum status find_control(struct invocation *invocation, size_t *control)
{
	struct slice wanted = slice_trim(slice_from(invocation->settings.control));

	*control = SIZE_MAX;
	if (wanted.len == 0 || invocation->operand_count == 0)
		return STATUS_OK;
	for (size_t i = 0; i < invocation->operand_count; i++)
		if (slice_equal_nocase(slice_trim(slice_from(invocation->operands[i])), wanted))
			*control = i;
	if (*control == SIZE_MAX)
		return error_set(&invocation->error, STATUS_INVALID,
		                 "the control \"%.*s\" is none of the treatments; expected one of those named",
		                 SLICE_ARG(wanted));
	return STATUS_OK;
}

static void ask_effort(const struct invocation *invocation, const struct request *request, struct answers *answers)
{
	const struct settings *settings = &invocation->settings;
	size_t named = invocation->operand_count;
	struct effort_question question = {
		.query = {
			.spread = request->spread,
			.treatments = named ? named : isnan(request->treatments) ? 2 : (size_t)request->treatments,
			.power = settings->power,
			.alpha = 1 - settings->confidence,
			.brew_cost = settings->brew_cost,
			.reading_cost = settings->reading_cost,
		},
		.difference = request->find,
		.brews = isnan(request->brews) ? 0 : (size_t)request->brews,
		.readings = request->targets.readings,
	};

	/* a plan without a word on spreads is not asked about them */
	if (named && isnan(request->find) && !effort_spread_known(&request->spread))
		return;
	question.query.family = effort_family_of(question.query.treatments, settings->control[0] != '\0');
	effort_table_make(&answers->effort, &question);
	answers->has_effort = true;
}

static enum status make_standard(struct invocation *invocation, const struct request *request, struct answers *answers)
{
	struct check_standard_query query = {
		.strength_percent = request->standard,
		.total_g = request->mass,
		.temp_c = request->standard_temp,
		.scale_step_g = invocation->settings.scale_step_g,
		.scale_accuracy_g = invocation->settings.scale_accuracy_g,
		.meter_factor = meter_standard().scale_factor,
	};

	if (isnan(request->standard))
		return STATUS_OK;
	answers->has_standard = true;
	return check_standard_make(&answers->standard, &query, &invocation->error);
}

static enum status brews_of_each(struct invocation *invocation, const struct request *request,
                                 const struct answers *answers, size_t *brews)
{
	*brews = isnan(request->brews) ? answers->effort.lines[0].asked[answers->effort.question.query.family].brews :
	                                 (size_t)request->brews;
	if (*brews > 0)
		return STATUS_OK;
	return error_set(&invocation->error, STATUS_INVALID,
	                 "a difference of %g points would take more than %d brews of each; expected a larger one",
	                 request->find, EFFORT_BREWS_MOST);
}

static enum status draw_plan(struct invocation *invocation, const struct request *request, struct answers *answers)
{
	struct run_plan_query query = {
		.treatment_count = invocation->operand_count,
		.at_once = (size_t)request->at_once,
		.seed = (uint64_t)invocation->settings.seed,
	};
	struct slice *names;
	enum status status;

	if (invocation->operand_count == 0)
		return STATUS_OK;
	names = calloc(invocation->operand_count, sizeof(*names));
	if (!names)
		return error_set(&invocation->error, STATUS_MEMORY, "no memory for the plan");
	for (size_t i = 0; i < invocation->operand_count; i++)
		names[i] = slice_from(invocation->operands[i]);
	query.treatments = names;
	status = find_control(invocation, &query.control);
	if (status == STATUS_OK)
		status = brews_of_each(invocation, request, answers, &query.brews);
	if (status == STATUS_OK)
		status = run_plan_make(&answers->plan, &query, &invocation->error);
	free(names);
	return status;
}

/* -- writing it ------------------------------------------------------------------------ */

struct output {
	const char *manifest;
	const char *bench;
	struct arena memory;
};

static enum status make_folder(struct invocation *invocation, const char *folder, struct output *output)
{
	output->manifest = arena_print(&output->memory, "%s/manifest.csv", folder);
	output->bench = arena_print(&output->memory, "%s/bench-sheet.xlsx", folder);
	if (!output->manifest || !output->bench)
		return error_set(&invocation->error, STATUS_MEMORY, "no memory for the plan");
	if (mkdir(folder, 0777) != 0 && errno != EEXIST)
		return error_set_errno(&invocation->error, STATUS_IO, "%s: the folder can't be made", folder);
	return STATUS_OK;
}

/* The manifest's place is looked at first: where it is taken nothing is written. */
static enum status write_files(struct invocation *invocation, const struct request *request,
                               const struct run_plan *plan, const struct output *output)
{
	struct manifest_request manifest = { &request->targets, invocation_value(invocation, "with") };
	struct bench_request bench = { output->bench, program_version(), request->paper, &request->targets };
	char *text = blank_manifest_text(plan, &manifest);
	enum status status;
	bool same;

	if (!text)
		return error_set(&invocation->error, STATUS_MEMORY, "no memory for the manifest");
	status = blank_manifest_room(output->manifest, text, &same, &invocation->error);
	if (status == STATUS_OK)
		status = bench_sheet_write(plan, &bench, &invocation->error);
	if (status == STATUS_OK && !same)
		status = blank_manifest_write(output->manifest, text, &invocation->error);
	free(text);
	return status;
}

static enum status write_plan(struct invocation *invocation, const struct request *request,
                              const struct answers *answers)
{
	struct output output = { .memory = ARENA_INIT };
	enum status status = STATUS_OK;

	if (answers->plan && request->folder) {
		status = make_folder(invocation, request->folder, &output);
		if (status == STATUS_OK)
			status = write_files(invocation, request, answers->plan, &output);
		if (status == STATUS_OK && !invocation_given(invocation, "json"))
			printf("%s\n%s\n", output.manifest, output.bench);
	}
	arena_release(&output.memory);
	return status;
}

static enum status print_json(struct invocation *invocation, const struct request *request,
                              const struct answers *answers)
{
	struct plan_answers shown = {
		.plan = answers->plan,
		.targets = &request->targets,
		.effort = answers->has_effort ? &answers->effort : NULL,
		.standard = answers->has_standard ? &answers->standard : NULL,
	};
	char *text = plan_json(&shown, program_version());

	if (!text)
		return error_set(&invocation->error, STATUS_MEMORY, "no memory for the JSON text");
	fputs(text, stdout);
	free(text);
	return STATUS_OK;
}

static void print_answers(const struct request *request, const struct answers *answers)
{
	if (answers->plan) {
		plan_text_notes(answers->plan);
		if (!request->folder)
			plan_text_brews(answers->plan);
	}
	if (answers->has_effort) {
		printf("%s", answers->plan ? "\n" : "");
		plan_text_effort(&answers->effort);
	}
	if (answers->has_standard) {
		printf("%s", answers->plan || answers->has_effort ? "\n" : "");
		plan_text_standard(&answers->standard);
	}
}

static enum exit_code run_plan_command(struct invocation *invocation)
{
	struct answers answers = { .plan = NULL };
	struct request request;
	enum status status;
	enum exit_code code = take_request(invocation, &request);

	if (code != EXIT_DONE)
		return code;
	status = make_standard(invocation, &request, &answers);
	if (status == STATUS_OK && (invocation->operand_count > 0 || !isnan(request.find) || !isnan(request.brews)))
		ask_effort(invocation, &request, &answers);
	if (status == STATUS_OK)
		status = draw_plan(invocation, &request, &answers);
	if (status == STATUS_OK)
		status = write_plan(invocation, &request, &answers);
	if (status == STATUS_OK && invocation_given(invocation, "json"))
		status = print_json(invocation, &request, &answers);
	else if (status == STATUS_OK)
		print_answers(&request, &answers);
	run_plan_free(answers.plan);
	if (status == STATUS_INVALID)
		return invocation_wrong_use(invocation, "%s", invocation->error.text);
	return status == STATUS_OK ? EXIT_DONE : invocation_tell_error(invocation, status);
}

const struct command command_plan = {
	.name = "plan",
	.purpose =
		"Draws up a run: order, rounds, codes, blank manifest, bench sheet; says how many brews are worth making.",
	.operands = "[TREATMENT...]",
	.operands_min = 0,
	.operands_max = COMMAND_OPERANDS_MAX,
	.sections = sections,
	.options = options,
	.details =
		"Same treatments, numbers and seed: same plan. A manifest that is there already is never written over.\n"
		"\n"
		"  brewspread plan soft hard \"half and half\" --brews 4 --at-once 3 -o run1      draws a run\n"
		"  brewspread plan --find 0.5 --treatments 3 --brew-sd 0.3 --reading-sd 0.15    how many brews?\n"
		"  brewspread plan --brews 4 --treatments 3 --brew-sd 0.3 --reading-sd 0.15     which difference?\n"
		"  brewspread plan --find 0.5 --treatments 3 --bench bench --dose 15 --water 250  … by this bench's earlier runs\n"
		"  brewspread plan --standard 2.00 --mass 200                                  what to weigh",
	.example =
		"plan soft hard mixed --brews 6 --at-once 3 --control soft --dose 15.0 --water 250 -o build/demo/plan",
	.example_exit = EXIT_DONE,
	.run = run_plan_command,
};
