/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "covariates.h"

#include <math.h>
#include <stdlib.h>

#include "describe.h"
#include "ranks.h"
#include "sentences.h"

enum { TREATMENTS_LEAST = 3 };

/* Left out: what a yield is computed from (it would explain itself) and what says when or in which round. */
static bool is_covariate(const struct analysis *analysis, const struct column *column)
{
	if (!column->numeric || column->empty)
		return false;
	if (slice_equal(column->name, slice_from(analysis->comparison.response.name)))
		return false;
	return column->known < 0 || column->known == COLUMN_NUMBER + BREW_TIME_S ||
	       column->known == COLUMN_NUMBER + BREW_TEMP_C || column->known == COLUMN_NUMBER + BREW_BLOOM_G;
}

/* Means of the column over each treatment's brews into x[treatments]; those that have a response too. */
static void treatment_means(const struct analysis *analysis, const struct column *column, struct moments *moments,
                            double *x)
{
	const struct run *run = analysis->run;

	for (size_t t = 0; t < run->treatment_count; t++)
		moments[t] = (struct moments)MOMENTS_INIT;
	for (size_t b = 0; b < run->brew_count; b++)
		if (isfinite(column_value(run, column, b)) && isfinite(analysis->brews[b].response))
			moments_add(&moments[run->brews[b].treatment], column_value(run, column, b));
	for (size_t t = 0; t < run->treatment_count; t++)
		x[t] = moments_mean(&moments[t]);
}

struct pairing {
	double *x, *y; /* of the treatments with both */
	double *work;  /* for theil_sen_fit() */
	struct moments *moments;
	size_t n;
};

static bool fit(struct covariate *covariate, struct pairing *pairing, double level)
{
	struct association pearson = pearson_test(pairing->x, pairing->y, pairing->n);
	struct association spearman = spearman_test(pairing->x, pairing->y, pairing->n);
	struct association kendall = kendall_test(pairing->x, pairing->y, pairing->n);
	struct theil_sen line;

	if (pairing->n < TREATMENTS_LEAST || !isfinite(kendall.estimate))
		return false;
	line = theil_sen_fit(pairing->x, pairing->y, pairing->n, level, pairing->work);
	covariate->n = pairing->n;
	covariate->pearson = pearson.estimate;
	covariate->pearson_p = pearson.p;
	covariate->spearman = spearman.estimate;
	covariate->spearman_p = spearman.p;
	covariate->kendall = kendall.estimate;
	covariate->kendall_p = kendall.p;
	covariate->smallest_p = kendall.p_smallest;
	covariate->slope = line.slope;
	covariate->intercept = line.intercept;
	return true;
}

static enum status add_covariate(struct analysis *analysis, size_t c, struct pairing *pairing)
{
	size_t k = analysis->run->treatment_count;
	struct covariate covariate = { .column = c };

	covariate.x = arena_take(&analysis->memory, (k + 1) * sizeof(*covariate.x));
	if (!covariate.x)
		return STATUS_MEMORY;
	treatment_means(analysis, &analysis->run->columns[c], pairing->moments, covariate.x);
	pairing->n = 0;
	for (size_t t = 0; t < k; t++)
		if (isfinite(covariate.x[t])) {
			pairing->x[pairing->n] = covariate.x[t];
			pairing->y[pairing->n++] = analysis->treatments[t].mean;
		}
	if (fit(&covariate, pairing, analysis->settings->confidence))
		analysis->covariates[analysis->covariate_count++] = covariate;
	return STATUS_OK;
}

static bool adjust(struct analysis *analysis)
{
	size_t n = analysis->covariate_count;
	double *p = calloc(n + 1, sizeof(*p));
	struct ranked *scratch = calloc(n + 1, sizeof(*scratch));
	bool done = p && scratch;

	for (size_t i = 0; done && i < n; i++)
		p[i] = analysis->covariates[i].kendall_p;
	if (done)
		holm_adjust(p, p, n, scratch);
	for (size_t i = 0; done && i < n; i++)
		analysis->covariates[i].holm_p = p[i];
	free(p);
	free(scratch);
	return done;
}

enum status covariates_compute(struct analysis *analysis, struct error *error)
{
	const struct run *run = analysis->run;
	size_t k = run->treatment_count;
	struct pairing pairing = {
		.x = calloc(k + 1, sizeof(*pairing.x)),
		.y = calloc(k + 1, sizeof(*pairing.y)),
		.moments = calloc(k + 1, sizeof(*pairing.moments)),
	};
	enum status status = STATUS_OK;

	if (k >
	    PAIRS_SHOWN_TREATMENTS) { /* all pairs of treatments are walked through: no help to a reader of so many */
		free(pairing.x);
		free(pairing.y);
		free(pairing.moments);
		return STATUS_OK;
	}
	pairing.work = calloc(k * k + k + 1, sizeof(*pairing.work));
	analysis->covariates = arena_take(&analysis->memory, (run->column_count + 1) * sizeof(*analysis->covariates));
	if (!pairing.x || !pairing.y || !pairing.moments || !pairing.work || !analysis->covariates)
		status = STATUS_MEMORY;
	for (size_t c = 0; status == STATUS_OK && c < run->column_count; c++)
		if (is_covariate(analysis, &run->columns[c]))
			status = add_covariate(analysis, c, &pairing);
	if (status == STATUS_OK && !adjust(analysis))
		status = STATUS_MEMORY;
	free(pairing.x);
	free(pairing.y);
	free(pairing.moments);
	free(pairing.work);
	return status == STATUS_OK ? STATUS_OK : error_set(error, status, "no memory for the covariates");
}

static bool say_one(struct analysis *analysis, const struct covariate *covariate)
{
	const struct response *response = &analysis->comparison.response;
	struct slice name = analysis->run->columns[covariate->column].name;
	bool clear = covariate->holm_p < 0.05;

	if (!(covariate->smallest_p <= 0.05))
		return sentence_say(
			analysis, TOPIC_COVARIATE, SEVERITY_NOTE, NAN,
			"%.*s against %s: with %zu treatments no pattern, however clear, can be told from chance (its p can't "
			"be below %s); Kendall's rank correlation is %s.",
			SLICE_ARG(name), response->name, covariate->n, words_number(covariate->smallest_p, 3).text,
			words_signed(covariate->kendall, 2).text);
	return sentence_say(
		analysis, TOPIC_COVARIATE, SEVERITY_NOTE, NAN,
		"%.*s against %s over %zu treatments: Kendall's rank correlation %s (%s; %s once it is allowed for that "
		"%s tried): %s.",
		SLICE_ARG(name), response->name, covariate->n, words_signed(covariate->kendall, 2).text,
		words_p(covariate->kendall_p).text, words_p(covariate->holm_p).text,
		words_count(analysis->covariate_count, "column was", "columns were").text,
		clear ? "they go together, which does not make one the cause of the other" :
			"chance alone can do that");
}

bool covariates_say(struct analysis *analysis)
{
	if (analysis->covariate_count == 0)
		return true;
	for (size_t i = 0; i < analysis->covariate_count; i++)
		if (!say_one(analysis, &analysis->covariates[i]))
			return false;
	return sentence_say(
		analysis, TOPIC_COVARIATE, SEVERITY_NOTE, NAN,
		"A handful of treatments can suggest a cause but can't prove one: whatever else differs between "
		"them goes along. Change the one thing alone, and brew again.");
}
