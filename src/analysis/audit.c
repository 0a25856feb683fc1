/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "audit_chart.h"
#include "audit_effort.h"
#include "audit_pair.h"
#include "audit_session.h"
#include "audit_standard.h"
#include "audit_words.h"
#include "audit_zero.h"
#include "reading.h"

struct audit_query audit_query_standard(void)
{
	return (struct audit_query){
		.confidence = 0.95,
		.filter_factor = COFFEE_TDS_PER_BRIX,
		.temp_apart_c = STANDARD_TEMP_LIMIT_C,
		.dose_g = 20,
		.beverage_g = 300,
		.margin = 0.5,
		.brew_sd = NAN,
		.brew_df = NAN,
		.brew_cost = 10,
		.reading_cost = 1,
		.readings = 3,
		.standard_total_g = 200,
		.scale_step_g = 0.1,
		.scale_accuracy_g = NAN,
		.meter_accuracy = NAN,
		.now_us = READING_NO_TIME,
	};
}

struct audit *audit_new(const struct audit_query *query)
{
	struct audit *audit = calloc(1, sizeof(*audit));

	if (!audit)
		return NULL;
	audit->query = *query;
	audit->pairing = pairing_new();
	if (!audit->pairing) {
		free(audit);
		return NULL;
	}
	return audit;
}

/* -- meters --------------------------------------------------------------------------- */

static bool same_numbers(const struct meter *a, const struct meter *b)
{
	return a->unit == b->unit && a->compensated == b->compensated && a->scale_factor == b->scale_factor &&
	       a->cal_temp_c == b->cal_temp_c;
}

/* Another profile or port under a name that is there. */
static void meter_again(const struct audit_desk *desk, const struct meter *meter)
{
	struct slice name = desk->meter->name;

	if (same_numbers(&desk->meter->meter, meter))
		return;
	desk->meter->rescaled = true;
	desk->meter->meter = *meter;
	desk->meter->meter.name = name;
}

static bool meters_grow(struct audit *audit)
{
	size_t count = audit->meter_count;
	size_t room = count > 0 ? 2 * count : 1;
	struct audit_meter *meters;
	struct audit_live *live;

	if (count > 0 && (count & (count - 1)) != 0)
		return true;
	meters = realloc(audit->meters, room * sizeof(*meters));
	if (meters)
		audit->meters = meters;
	live = realloc(audit->live, room * sizeof(*live));
	if (live)
		audit->live = live;
	return meters && live;
}

static struct audit_desk desk_of(struct audit *audit, size_t index)
{
	return (struct audit_desk){
		.audit = audit, .meter = &audit->meters[index], .live = &audit->live[index], .index = index
	};
}

static void meter_begin(struct audit_meter *out, const struct meter *meter, struct slice name)
{
	*out = (struct audit_meter){
		.name = name,
		.meter = *meter,
		.versions = 1,
		.first_us = READING_NO_TIME,
		.last_us = READING_NO_TIME,
		.temp = MOMENTS_INIT,
		.strength = MOMENTS_INIT,
		.step = NAN,
		.zero = { .offset = MOMENTS_INIT },
	};
	out->meter.name = name;
}

bool audit_meter_change(struct audit *audit, uint32_t index, const struct meter *meter)
{
	struct audit_desk desk = desk_of(audit, index);

	if (!session_close(&desk))
		return false;
	meter_again(&desk, meter);
	live_prepare(desk.live, desk.meter, audit->query.filter_factor);
	return true;
}

enum status audit_meter_add(struct audit *audit, const struct meter *meter, uint32_t *index, struct error *error)
{
	struct audit_desk desk;
	struct slice name;

	for (size_t i = 0; i < audit->meter_count; i++) {
		if (!slice_equal(audit->meters[i].name, meter->name))
			continue;
		*index = (uint32_t)i;
		audit->meters[i].versions += !same_numbers(&audit->meters[i].meter, meter);
		if (!audit_meter_change(audit, *index, meter))
			return error_set(error, STATUS_MEMORY, "no memory for the audit");
		return STATUS_OK;
	}
	if (audit->meter_count == AUDIT_METERS)
		return error_set(error, STATUS_INVALID, "more than %d meters; expected --meter with one of them",
		                 AUDIT_METERS);
	name = arena_copy(&audit->memory, meter->name);
	if (!name.text || !meters_grow(audit))
		return error_set(error, STATUS_MEMORY, "no memory for the audit");
	desk = desk_of(audit, audit->meter_count);
	meter_begin(desk.meter, meter, name);
	*desk.live = (struct audit_live){ .open = false };
	live_prepare(desk.live, desk.meter, audit->query.filter_factor);
	*index = (uint32_t)audit->meter_count++;
	return STATUS_OK;
}

bool audit_add(struct audit *audit, const struct audit_reading *reading)
{
	struct audit_desk desk = desk_of(audit, reading->meter);

	if (audit->query.now_us != READING_NO_TIME && reading->at_us > audit->query.now_us && audit->late++ == 0)
		audit->late_id = reading->id;
	return session_take(&desk, reading);
}

/* -- the end ---------------------------------------------------------------------------- */

static int before(int64_t a_us, int64_t a_id, int64_t b_us, int64_t b_id)
{
	if (a_us != b_us)
		return a_us < b_us ? -1 : 1;
	return a_id < b_id ? -1 : a_id > b_id;
}

static int sessions_by_time(const void *left, const void *right)
{
	const struct audit_session *a = left, *b = right;

	return before(a->first_us, a->first_id, b->first_us, b->first_id);
}

static int checks_by_time(const void *left, const void *right)
{
	const struct audit_check *a = left, *b = right;

	return before(a->at_us, a->id, b->at_us, b->id);
}

static int months_by_time(const void *left, const void *right)
{
	const struct audit_month *a = left, *b = right;

	return a->from_us < b->from_us ? -1 : a->from_us > b->from_us;
}

static void meter_sort(struct audit_meter *meter)
{
	if (meter->session_count > 0)
		qsort(meter->sessions, meter->session_count, sizeof(*meter->sessions), sessions_by_time);
	if (meter->month_count > 0)
		qsort(meter->months, meter->month_count, sizeof(*meter->months), months_by_time);
	if (meter->zero_check_count > 0)
		qsort(meter->zero_checks, meter->zero_check_count, sizeof(*meter->zero_checks), checks_by_time);
	if (meter->standard_check_count > 0)
		qsort(meter->standard_checks, meter->standard_check_count, sizeof(*meter->standard_checks),
		      checks_by_time);
}

static void months_finish(struct audit_meter *meter, double confidence)
{
	meter->latest_s_r = NAN;
	for (size_t i = 0; i < meter->month_count; i++) {
		struct audit_month *month = &meter->months[i];
		struct interval interval;

		month->s_r = pooled_sd(&month->spread.pooled);
		interval = sd_interval(month->s_r, month->spread.pooled.df, confidence);
		month->lower = interval.lower;
		month->upper = interval.upper;
		month->step_limited = month->s_r < month->step;
		if (month->spread.pooled.df > 0) {
			meter->latest_s_r = month->s_r;
			meter->latest_df = month->spread.pooled.df;
		}
	}
}

static void repeatability_finish(struct audit_meter *meter, double confidence)
{
	struct interval interval;

	meter->s_r = pooled_sd(&meter->spread.pooled);
	meter->df = meter->spread.pooled.df;
	interval = sd_interval(meter->s_r, meter->df, confidence);
	meter->lower = interval.lower;
	meter->upper = interval.upper;
	meter->claim = sd_claimable(meter->s_r, meter->step);
	if (isnan(meter->s_r))
		meter->claim.sd = NAN;
	meter->limit = PRECISION_LIMIT_EXACT * meter->claim.sd;
}

static bool meter_finish(struct audit *audit, size_t index)
{
	struct audit_desk desk = desk_of(audit, index);

	if (!session_close(&desk))
		return false;
	meter_sort(desk.meter);
	months_finish(desk.meter, audit->query.confidence);
	repeatability_finish(desk.meter, audit->query.confidence);
	zero_finish(&desk);
	standards_finish(&desk);
	audit_effort_compute(&desk.meter->effort, &audit->query, desk.meter->claim.sd, 0,
	                     moments_mean(&desk.meter->strength));
	if (!charts_make(audit, desk.meter))
		return false;
	linearity_compute(&desk.meter->linearity, desk.meter, &audit->query);
	return true;
}

static void live_free(struct audit *audit)
{
	for (size_t i = 0; audit->live && i < audit->meter_count; i++)
		live_release(&audit->live[i]);
	free(audit->live);
	audit->live = NULL;
	pairing_free(audit->pairing);
	audit->pairing = NULL;
}

enum status audit_finish(struct audit *audit, struct error *error)
{
	bool done = true;

	for (size_t i = 0; done && i < audit->meter_count; i++)
		done = meter_finish(audit, i);
	if (done)
		pairs_finish(audit);
	done = done && audit_say(audit);
	live_free(audit);
	return done ? STATUS_OK : error_set(error, STATUS_MEMORY, "no memory for the audit");
}

void audit_free(struct audit *audit)
{
	if (!audit)
		return;
	live_free(audit);
	for (size_t i = 0; i < audit->meter_count; i++) {
		free(audit->meters[i].sessions);
		free(audit->meters[i].months);
		free(audit->meters[i].zero_checks);
		free(audit->meters[i].standard_checks);
	}
	free(audit->meters);
	for (size_t i = 0; i < audit->pair_count; i++)
		free(audit->pairs[i].points);
	free(audit->pairs);
	free(audit->notes);
	arena_release(&audit->memory);
	free(audit);
}

const char *audit_subject_name(enum audit_subject subject)
{
	switch (subject) {
	case AUDIT_ZERO:
		return "zero";
	case AUDIT_STANDARD:
		return "standard";
	case AUDIT_REPEATABILITY:
		return "repeatability";
	}
	return "";
}
