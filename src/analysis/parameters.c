/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "parameters.h"

#include <math.h>
#include <stdlib.h>

#include "pairwise.h"
#include "sentences.h"
#include "strata.h"

/* Meant to be equal, unless one of them is what is compared; brewing time and beverage are outcomes. */
static bool is_parameter(const struct column *column)
{
	static const int meant_equal[] = { BREW_DOSE_G, BREW_WATER_G, BREW_BYPASS_G, BREW_MOISTURE_PERCENT,
		                           BREW_TEMP_C, BREW_BLOOM_G, BREW_SAMPLE_G };

	if (!column->numeric || column->empty)
		return false;
	if (column->known == COLUMN_WORD + BREW_GRIND)
		return true;
	for (size_t i = 0; i < sizeof(meant_equal) / sizeof(meant_equal[0]); i++)
		if (column->known == COLUMN_NUMBER + meant_equal[i])
			return true;
	return false;
}

static double cell_of(const struct analysis *analysis, size_t brew, const void *context)
{
	const struct column *column = context;

	/* the brew's own number is in the program's unit; a grind has none */
	return column->known < BREW_NUMBERS ? analysis->run->brews[brew].number[column->known] : column->number[brew];
}

static const char *unit_of(const struct column *column)
{
	switch (column->known) {
	case COLUMN_NUMBER + BREW_MOISTURE_PERCENT:
		return " %";
	case COLUMN_NUMBER + BREW_TEMP_C:
		return " °C";
	case COLUMN_WORD + BREW_GRIND:
		return "";
	default:
		return " g";
	}
}

struct finding {
	double p;
	double effect; /* in the response's unit; NaN: can't be had */
	double low, high;
	bool exact; /* no spread within treatments, but between them */
	bool differs;
};

static bool look(struct finding *finding, const struct analysis *analysis, const struct column *column)
{
	struct strata strata;
	bool done = strata_fill(&strata, analysis, cell_of, column);

	if (done) {
		struct oneway oneway = oneway_of_values(strata.groups, strata.treatments);

		*finding = (struct finding){
			.p = oneway.p,
			.effect = strata_effect(&strata),
			.low = strata.low,
			.high = strata.high,
			.exact = strata.n > 0 && oneway.ss_between > 0 && !(oneway.ss_within > 0),
		};
	}
	strata_release(&strata);
	return done;
}

static bool say_equal(struct analysis *analysis, const struct column *column, const struct finding *finding)
{
	const char *unit = unit_of(column);

	if (!(finding->high >= finding->low))
		return true;
	if (finding->low < finding->high)
		return sentence_say(
			analysis, TOPIC_FAIRNESS, SEVERITY_NOTE, NAN,
			"%.*s: %s to %s%s; no difference between treatments was found beyond that within them.",
			SLICE_ARG(column->name), words_number(finding->low, column->decimals).text,
			words_number(finding->high, column->decimals).text, unit);
	return sentence_say(analysis, TOPIC_FAIRNESS, SEVERITY_NOTE, NAN, "%.*s: %s%s in every brew.",
	                    SLICE_ARG(column->name), words_number(finding->low, column->decimals).text, unit);
}

static bool say_different(struct analysis *analysis, const struct column *column, const struct finding *finding)
{
	const struct response *response = &analysis->comparison.response;
	const char *unit = unit_of(column);

	if (isfinite(finding->effect) && !finding->exact)
		return sentence_say(
			analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, finding->effect,
			"%.*s was not equal: the treatments differ in it (%s to %s%s; %s). Going by how it acts within "
			"treatments, that may stand for %s %s of the differences.",
			SLICE_ARG(column->name), words_number(finding->low, column->decimals).text,
			words_number(finding->high, column->decimals).text, unit, words_p(finding->p).text,
			words_spread(finding->effect).text, response->difference_unit);
	return sentence_say(
		analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, NAN,
		"%.*s goes with the treatment (%s to %s%s). Unless it is what you compare, its effect can't be told "
		"from the treatment's.",
		SLICE_ARG(column->name), words_number(finding->low, column->decimals).text,
		words_number(finding->high, column->decimals).text, unit);
}

/* Holm over the columns, so that looking at many does not raise false alarms. */
static void judge(struct finding *findings, size_t count, double *p, struct ranked *scratch)
{
	for (size_t i = 0; i < count; i++)
		p[i] = findings[i].exact ? NAN : findings[i].p;
	holm_adjust(p, p, count, scratch);
	for (size_t i = 0; i < count; i++)
		findings[i].differs = findings[i].exact || p[i] < 0.05;
}

bool parameters_say(struct analysis *analysis)
{
	const struct run *run = analysis->run;
	struct finding *findings = calloc(run->column_count + 1, sizeof(*findings));
	const struct column **columns = calloc(run->column_count + 1, sizeof(const struct column *));
	double *p = calloc(run->column_count + 1, sizeof(*p));
	struct ranked *scratch = calloc(run->column_count + 1, sizeof(*scratch));
	bool done = findings && columns && p && scratch;
	size_t count = 0;

	for (size_t c = 0; done && c < run->column_count; c++) {
		if (!is_parameter(&run->columns[c]))
			continue;
		columns[count] = &run->columns[c];
		done = look(&findings[count++], analysis, &run->columns[c]);
	}
	if (done)
		judge(findings, count, p, scratch);
	for (size_t i = 0; done && i < count; i++)
		done = findings[i].differs ? say_different(analysis, columns[i], &findings[i]) :
		                             say_equal(analysis, columns[i], &findings[i]);
	free(findings);
	free(columns);
	free(p);
	free(scratch);
	return done;
}
