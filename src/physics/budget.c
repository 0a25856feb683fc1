/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "budget.h"

#include <math.h>

#include <Rmath.h>

#include "doubles.h"
#include "random.h"

/* x, or NaN unless it is finite and not below 0. */
static double not_negative(double x)
{
	return x >= 0 && isfinite(x) ? x : NAN;
}

double step_u(double step)
{
	return not_negative(step) / sqrt(12);
}

double limit_u(double limit)
{
	return not_negative(limit) / sqrt(3);
}

double difference_u(double step)
{
	return not_negative(step) / sqrt(6);
}

double mean_u(double s, size_t count, double step)
{
	return count > 0 ? hypot(not_negative(s) / sqrt((double)count), step_u(step)) : NAN;
}

double beverage_estimate_u(double dose_g, double tds_percent, double retention_u)
{
	if (!(dose_g > 0 && tds_percent > -100 && tds_percent < 100))
		return NAN;
	return dose_g * not_negative(retention_u) / (1 - tds_percent / 100);
}

/* A running sum for Welch and Satterthwaite. */
struct spread {
	double variance;
	double weight; /* Σ part⁴/df */
};

static void spread_add(struct spread *spread, double part, double df)
{
	double variance = part * part;

	spread->variance += variance;
	spread->weight += df > 0 ? variance * variance / df : NAN;
}

static double spread_df(const struct spread *spread)
{
	if (spread->weight == 0)
		return INFINITY;
	return spread->variance * spread->variance / spread->weight;
}

double effective_df(const double *parts, const double *df, size_t n)
{
	struct spread spread = { 0, 0 };

	for (size_t i = 0; i < n; i++)
		spread_add(&spread, parts[i], df[i]);
	return spread_df(&spread);
}

double coverage_factor(double confidence, double df)
{
	const double rounding = 1e-9; /* 16 computed as 15.999999999 is 16 */

	if (!(confidence > 0 && confidence < 1) || !(df >= 1 - rounding))
		return NAN;
	return qt(0.5 + confidence / 2, isinf(df) ? df : floor(df + rounding), 1, 0);
}

void budget_combine(double value, const double *sensitivity, const struct budget_source *sources, size_t n,
                    double confidence, struct budget *out, double *shares)
{
	struct spread own = { 0, 0 };
	struct spread all = { 0, 0 };

	for (size_t i = 0; i < n; i++) {
		double part = sensitivity[sources[i].input] * not_negative(sources[i].u);

		spread_add(&all, part, sources[i].df);
		if (sources[i].scope == SCOPE_OWN)
			spread_add(&own, part, sources[i].df);
		if (shares)
			shares[i] = part * part;
	}
	for (size_t i = 0; shares && i < n; i++)
		shares[i] = all.variance > 0 ? 100 * shares[i] / all.variance : NAN;
	*out = (struct budget){
		.value = value,
		.u = sqrt(all.variance),
		.u_own = sqrt(own.variance),
		.u_common = sqrt(fmax(all.variance - own.variance, 0)),
		.df = spread_df(&all),
		.df_own = spread_df(&own),
		.confidence = confidence,
	};
	out->coverage = coverage_factor(confidence, out->df);
	out->expanded = out->coverage * out->u;
}

double correlated_u(const double *sensitivity, const double *u, const double *correlation, size_t n)
{
	const double rounding = 1e-12;
	double variance = 0;
	double size = 0;

	for (size_t i = 0; i < n; i++) {
		for (size_t j = 0; j < n; j++) {
			double term = sensitivity[i] * u[i] * sensitivity[j] * u[j] * correlation[i * n + j];

			variance += term;
			size += fabs(term);
		}
	}
	if (variance < 0)
		return variance < -rounding * size ? NAN : 0;
	return sqrt(variance);
}

double budget_difference_u(const struct budget *a, const struct budget *b)
{
	return hypot(a->u_own, b->u_own);
}

/* One error of source, with standard uncertainty u (a t's is wider by √(df/(df - 2)), as JCGM 101 has it). */
static double draw(struct random *state, const struct budget_source *source)
{
	switch (source->shape) {
	case SHAPE_NORMAL:
		return source->u * random_normal(state);
	case SHAPE_RECTANGULAR:
		return source->u * sqrt(3) * (2 * random_uniform(state) - 1);
	case SHAPE_TRIANGULAR:
		return source->u * sqrt(6) * (random_uniform(state) - random_uniform(state));
	case SHAPE_ARCSINE:
		return source->u * sqrt(2) * cos(M_PI * random_uniform(state));
	case SHAPE_STUDENT:
		return source->u * random_student(state, source->df);
	}
	return NAN;
}

static void mean_and_sd(const double *x, size_t n, struct montecarlo *out)
{
	double sum = 0;
	double squares = 0;

	for (size_t i = 0; i < n; i++)
		sum += x[i];
	out->mean = sum / (double)n;
	for (size_t i = 0; i < n; i++)
		squares += (x[i] - out->mean) * (x[i] - out->mean);
	out->sd = sqrt(squares / (double)(n - 1));
}

/* The interval between the r-th and the (r + q)-th of m sorted draws, q = confidence · m, r half of the rest. */
static void coverage_interval(const double *sorted, size_t m, double confidence, struct montecarlo *out)
{
	size_t inside, before;

	if (!(confidence > 0 && confidence < 1))
		return;
	inside = (size_t)floor(confidence * (double)m + 0.5);
	if (inside + 2 > m)
		return;
	before = (m - inside + 1) / 2;
	out->low = sorted[before - 1];
	out->high = sorted[before + inside - 1];
}

static bool sources_sound(const struct budget_source *sources, size_t n, size_t inputs)
{
	for (size_t i = 0; i < n; i++) {
		if (sources[i].input >= inputs)
			return false;
	}
	return true;
}

void montecarlo_run(const struct montecarlo_task *task, double *draws, size_t m, struct montecarlo *out)
{
	struct random state;
	double x[BUDGET_INPUTS_MAX];

	*out = (struct montecarlo){ NAN, NAN, NAN, NAN };
	if (m < 2 || task->inputs == 0 || task->inputs > BUDGET_INPUTS_MAX ||
	    !sources_sound(task->sources, task->source_count, task->inputs))
		return;
	random_seed(&state, task->seed);
	for (size_t k = 0; k < m; k++) {
		for (size_t i = 0; i < task->inputs; i++)
			x[i] = task->values[i];
		for (size_t i = 0; i < task->source_count; i++)
			x[task->sources[i].input] += draw(&state, &task->sources[i]);
		draws[k] = task->model(x, task->context);
		if (isnan(draws[k]))
			return;
	}
	doubles_sort(draws, m);
	mean_and_sd(draws, m, out);
	coverage_interval(draws, m, task->confidence, out);
}

static double *quantity_of(struct yield_input *brew, enum yield_quantity quantity)
{
	switch (quantity) {
	case QUANTITY_TDS:
		return &brew->tds_percent;
	case QUANTITY_DOSE:
		return &brew->dose_g;
	case QUANTITY_WATER:
		return &brew->water_g;
	case QUANTITY_BEVERAGE:
		return &brew->beverage_g;
	case QUANTITY_BYPASS:
		return &brew->bypass_g;
	case QUANTITY_RETENTION:
		return &brew->retention_g_per_g;
	case YIELD_QUANTITIES:
		break;
	}
	return NULL;
}

static double yield_of(const struct yield_input *brew)
{
	struct yield yield;

	yield_compute(brew, &yield);
	return yield.yield_percent;
}

/* The retention that stands in where none is given, written out, so that it can be varied. */
static struct yield_input with_retention(const struct yield_input *brew)
{
	struct yield_input full = *brew;

	if (isnan(full.retention_g_per_g))
		full.retention_g_per_g = RETENTION_STANDARD;
	return full;
}

static double central_difference(const struct yield_input *brew, enum yield_quantity quantity, double span)
{
	struct yield_input low = *brew;
	struct yield_input high = *brew;

	*quantity_of(&low, quantity) -= span;
	*quantity_of(&high, quantity) += span;
	return (yield_of(&high) - yield_of(&low)) / (2 * span);
}

void yield_sensitivity(const struct yield_input *brew, double *sensitivity)
{
	struct yield_input full = with_retention(brew);
	bool none = isnan(yield_of(brew));

	for (int q = 0; q < YIELD_QUANTITIES; q++) {
		enum yield_quantity quantity = (enum yield_quantity)q;
		double value = *quantity_of(&full, quantity);
		double span = quantity == QUANTITY_TDS ? 1e-3 : 1e-3 * value;

		if (none)
			sensitivity[q] = NAN;
		else if (isnan(value) || span == 0)
			sensitivity[q] = 0;
		else /* Richardson's step: the error falls from span² to span⁴ */
			sensitivity[q] = (4 * central_difference(&full, quantity, span / 2) -
			                  central_difference(&full, quantity, span)) /
			                 3;
	}
}

void yield_budget(const struct yield_input *brew, const struct budget_source *sources, size_t n, double confidence,
                  struct budget *out, double *shares)
{
	double sensitivity[YIELD_QUANTITIES];

	yield_sensitivity(brew, sensitivity);
	budget_combine(yield_of(brew), sensitivity, sources, n, confidence, out, shares);
}

static double yield_model(const double *x, const void *context)
{
	struct yield_input brew = *(const struct yield_input *)context;

	for (int q = 0; q < YIELD_QUANTITIES; q++)
		*quantity_of(&brew, (enum yield_quantity)q) = x[q];
	return yield_of(&brew);
}

void yield_montecarlo(const struct yield_input *brew, const struct budget_source *sources, size_t n, uint64_t seed,
                      double confidence, double *draws, size_t m, struct montecarlo *out)
{
	struct yield_input full = with_retention(brew);
	double values[YIELD_QUANTITIES];

	for (int q = 0; q < YIELD_QUANTITIES; q++)
		values[q] = *quantity_of(&full, (enum yield_quantity)q);
	montecarlo_run(&(struct montecarlo_task){ .model = yield_model,
	                                          .context = &full,
	                                          .values = values,
	                                          .inputs = YIELD_QUANTITIES,
	                                          .sources = sources,
	                                          .source_count = n,
	                                          .seed = seed,
	                                          .confidence = confidence },
	               draws, m, out);
}

/* A list of sources being written. */
struct source_list {
	struct budget_source *sources;
	const double *sensitivity;
	size_t count;
};

/* Adds source unless it has nothing to say: no uncertainty, or a quantity that plays no part. */
static void source_add(struct source_list *list, struct budget_source source)
{
	if (source.u > 0 && list->sensitivity[source.input] != 0)
		list->sources[list->count++] = source;
}

static void add_weighing(struct source_list *list, enum yield_quantity quantity, const struct weighing *weighing,
                         const char *step_name, const char *limit_name)
{
	source_add(list,
	           (struct budget_source){
			   .name = step_name,
			   .input = quantity,
			   .u = weighing->by_difference ? difference_u(weighing->step_g) : step_u(weighing->step_g),
			   .df = INFINITY,
			   .shape = weighing->by_difference ? SHAPE_TRIANGULAR : SHAPE_RECTANGULAR,
			   .scope = SCOPE_OWN,
		   });
	source_add(list, (struct budget_source){
				 .name = limit_name,
				 .input = quantity,
				 .u = limit_u(weighing->limit_g),
				 .df = INFINITY,
				 .shape = SHAPE_RECTANGULAR,
				 .scope = weighing->shared_scale ? SCOPE_COMMON : SCOPE_OWN,
			 });
}

static void add_readings(struct source_list *list, const struct brew_knowledge *known)
{
	source_add(list, (struct budget_source){
				 .name = "spread of the readings",
				 .input = QUANTITY_TDS,
				 .u = mean_u(known->reading_s_percent, known->reading_count, 0),
				 .df = known->reading_df,
				 .shape = isinf(known->reading_df) ? SHAPE_NORMAL : SHAPE_STUDENT,
				 .scope = SCOPE_OWN,
			 });
	source_add(list, (struct budget_source){
				 .name = "meter's display step",
				 .input = QUANTITY_TDS,
				 .u = step_u(known->meter_step_percent),
				 .df = INFINITY,
				 .shape = SHAPE_RECTANGULAR,
				 .scope = SCOPE_OWN,
			 });
	source_add(list, (struct budget_source){
				 .name = "meter's stated accuracy",
				 .input = QUANTITY_TDS,
				 .u = limit_u(known->meter_limit_percent),
				 .df = INFINITY,
				 .shape = SHAPE_RECTANGULAR,
				 .scope = SCOPE_COMMON,
			 });
	source_add(list, (struct budget_source){
				 .name = "thermometer",
				 .input = QUANTITY_TDS,
				 .u = known->temp_u_percent,
				 .df = INFINITY,
				 .shape = SHAPE_NORMAL,
				 .scope = SCOPE_COMMON,
			 });
}

size_t brew_sources(const struct yield_input *brew, const struct brew_knowledge *known, struct budget_source *sources)
{
	double sensitivity[YIELD_QUANTITIES];
	struct source_list list = { .sources = sources, .sensitivity = sensitivity, .count = 0 };

	yield_sensitivity(brew, sensitivity);
	add_readings(&list, known);
	add_weighing(&list, QUANTITY_DOSE, &known->dose, "dose: scale's step", "dose: scale's accuracy");
	add_weighing(&list, QUANTITY_WATER, &known->water, "water: scale's step", "water: scale's accuracy");
	add_weighing(&list, QUANTITY_BEVERAGE, &known->beverage, "beverage: scale's step",
	             "beverage: scale's accuracy");
	add_weighing(&list, QUANTITY_BYPASS, &known->bypass, "bypass: scale's step", "bypass: scale's accuracy");
	source_add(&list, (struct budget_source){
				  .name = "retention that the beverage is estimated from",
				  .input = QUANTITY_RETENTION,
				  .u = isnan(known->retention_u) ? RETENTION_STANDARD_U : known->retention_u,
				  .df = INFINITY,
				  .shape = SHAPE_NORMAL,
				  .scope = SCOPE_OWN,
			  });
	return list.count;
}
