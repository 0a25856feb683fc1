/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_session.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "audit_ring.h"
#include "audit_standard.h"
#include "reading.h"
#include "sucrose.h"

#define MICROSECONDS 1e6
#define CHECK_GAP_US INT64_C(600000000) /* ten minutes between readings end a check: a judgement, no source */

void live_prepare(struct audit_live *live, const struct audit_meter *meter, double filter_factor)
{
	const struct meter *m = &meter->meter;

	live->factor[UNIT_NONE] = NAN;
	live->factor[UNIT_TDS_PERCENT] = m->scale_factor > 0 ? filter_factor / m->scale_factor : NAN;
	live->factor[UNIT_BRIX] = filter_factor;
	live->factor[UNIT_INDEX] = filter_factor / sucrose_slope_20(0);
	live->plain = m->compensated;
}

static struct meter_scale scale_of(const struct audit_meter *meter, struct shown shown)
{
	return (struct meter_scale){
		.unit = shown.unit != UNIT_NONE ? shown.unit : meter->meter.unit,
		.meter_factor = meter->meter.scale_factor,
		.cal_temp_c = meter->meter.cal_temp_c,
		.compensated = meter->meter.compensated,
	};
}

/* Through the whole chain, on the sucrose scale times factor; NaN where it can't be. */
static double corrected(const struct meter_scale *scale, const struct zero_offset *zero, double shown, double temp_c,
                        double factor)
{
	struct correction_input in = {
		.shown = shown,
		.scale = scale,
		.zero = zero,
		.temp_c = temp_c,
		.temp_limit_c = NAN,
		.type_factor = factor,
		.sample_g = NAN,
		.diluent_g = NAN,
	};
	struct correction out;

	correction_apply(&in, &out);
	return out.tds_percent;
}

/* -- months ------------------------------------------------------------------------- */

/* Days since 1970-01-01 of the first day of the month that day is in (proleptic Gregorian calendar). */
static int64_t month_first_day(int64_t day)
{
	int64_t shifted = day + 719468; /* since 0000-03-01 */
	int64_t era = (shifted >= 0 ? shifted : shifted - 146096) / 146097;
	int64_t of_era = shifted - era * 146097;
	int64_t year = (of_era - of_era / 1460 + of_era / 36524 - of_era / 146096) / 365;
	int64_t of_year = of_era - (365 * year + year / 4 - year / 100);
	int64_t month = (5 * of_year + 2) / 153; /* from March */

	return day - (of_year - (153 * month + 2) / 5);
}

static int64_t month_from(int64_t us)
{
	const int64_t day_us = INT64_C(86400000000);
	int64_t day = us / day_us - (us % day_us < 0);

	return month_first_day(day) * day_us;
}

/* NULL: no memory, or too many. */
static struct audit_month *month_of(struct audit_meter *meter, int64_t us, bool *memory)
{
	int64_t from = month_from(us);
	struct audit_month *months;

	*memory = true;
	for (size_t i = meter->month_count; i-- > 0;)
		if (meter->months[i].from_us == from)
			return &meter->months[i];
	if (meter->month_count == AUDIT_MONTHS)
		return NULL;
	if ((meter->month_count & (meter->month_count - 1)) == 0) {
		months = realloc(meter->months,
		                 (meter->month_count > 0 ? 2 * meter->month_count : 1) * sizeof(*months));
		*memory = months != NULL;
		if (!months)
			return NULL;
		meter->months = months;
	}
	meter->months[meter->month_count] = (struct audit_month){ .from_us = from, .step = NAN };
	return &meter->months[meter->month_count++];
}

static void counts_add(struct audit_counts *into, const struct audit_counts *counts)
{
	into->readings += counts->readings;
	into->samples += counts->samples;
	into->zeros += counts->zeros;
	into->standards += counts->standards;
	into->excluded += counts->excluded;
	into->out_of_range += counts->out_of_range;
	into->repeated += counts->repeated;
	into->questioned += counts->questioned;
	into->unlabelled += counts->unlabelled;
	into->unmeasured += counts->unmeasured;
}

static void spread_add(struct audit_spread *into, const struct audit_spread *spread)
{
	pooled_add(&into->pooled, spread->pooled.sum_of_squares, spread->pooled.df);
	into->cups += spread->cups;
	into->equal_cups += spread->equal_cups;
}

static void month_add(struct audit_month *month, const struct audit_session *session)
{
	counts_add(&month->counts, &session->counts);
	spread_add(&month->spread, &session->spread);
	moments_merge(&month->zero, &session->zero);
	moments_merge(&month->temp, &session->temp);
	month->step = fmax(month->step, session->step); /* NaN gives way */
	month->sessions++;
}

/* -- cups ----------------------------------------------------------------------------- */

/* FNV-1a, 64 bits, by Fowler, Noll and Vo. */
static uint64_t label_bytes_hash(struct slice label)
{
	uint64_t hash = 0xcbf29ce484222325;

	for (size_t i = 0; i < label.len; i++)
		hash = (hash ^ (unsigned char)label.text[i]) * 0x100000001b3;
	return hash;
}

static bool cup_close(const struct audit_desk *desk, const struct live_cup *cup)
{
	struct audit_session *session = &desk->live->session;
	struct paired_cup paired = {
		.key = pairing_key(session->run, cup->hash),
		.meter = desk->index,
		.mean = moments_mean(&cup->strength) - (session->zero.n > 0 ? moments_mean(&session->zero) : 0),
		.at_us = cup->at_us,
		.id = cup->id,
	};

	moments_merge(&session->strength, &cup->strength);
	if (cup->strength.n > 1) {
		pooled_add(&session->spread.pooled, cup->strength.m2, (double)(cup->strength.n - 1));
		session->spread.cups++;
		session->spread.equal_cups += cup->strength.min == cup->strength.max;
	}
	return pairing_take(desk->audit, &paired);
}

static bool cups_close(const struct audit_desk *desk)
{
	struct audit_live *live = desk->live;

	for (size_t i = 0; i < live->cup_count; i++)
		if (!cup_close(desk, &live->cups[i]))
			return false;
	if (live->cup_count > 0)
		memset(live->slots, 0, LIVE_SLOTS * sizeof(*live->slots));
	live->cup_count = 0;
	live->last_cup = NULL;
	arena_release(&live->labels);
	return true;
}

static bool cups_ready(struct audit_live *live)
{
	if (!live->cups)
		live->cups = malloc(LIVE_CUPS * sizeof(*live->cups));
	if (!live->slots)
		live->slots = calloc(LIVE_SLOTS, sizeof(*live->slots));
	return live->cups && live->slots;
}

/* NULL: no memory. */
static struct live_cup *cup_of(const struct audit_desk *desk, struct slice label)
{
	struct audit_live *live = desk->live;
	uint64_t hash;
	size_t slot;

	if (live->last_cup && slice_equal(live->last_cup->label, label))
		return live->last_cup;
	hash = label_bytes_hash(label);
	if (!cups_ready(live) || (live->cup_count == LIVE_CUPS && !cups_close(desk)))
		return NULL;
	for (slot = hash % LIVE_SLOTS; live->slots[slot] != 0; slot = (slot + 1) % LIVE_SLOTS) {
		live->last_cup = &live->cups[live->slots[slot] - 1];
		/* NOLINTNEXTLINE(clang-analyzer-core.UndefinedBinaryOperatorResult): a slot in use has its cup filled in */
		if (live->last_cup->hash == hash && slice_equal(live->last_cup->label, label))
			return live->last_cup;
	}
	live->last_cup = &live->cups[live->cup_count];
	*live->last_cup = (struct live_cup){
		.hash = hash,
		.label = arena_copy(&live->labels, label),
		.strength = MOMENTS_INIT,
	};
	live->slots[slot] = (uint16_t)++live->cup_count;
	return live->last_cup->label.text ? live->last_cup : NULL;
}

/* The strength that was shown, % TDS. */
static double strength_of(const struct audit_desk *desk, const struct audit_reading *reading, enum unit unit)
{
	struct meter_scale scale;

	if (desk->live->plain && unit != UNIT_INDEX)
		return reading->shown.value * desk->live->factor[unit];
	scale = scale_of(desk->meter, reading->shown);
	return corrected(&scale, NULL, reading->shown.value, reading->temp_c, desk->audit->query.filter_factor);
}

static enum unit unit_of(const struct audit_desk *desk, const struct audit_reading *reading)
{
	return reading->shown.unit != UNIT_NONE ? reading->shown.unit : desk->meter->meter.unit;
}

static double step_of(const struct audit_desk *desk, const struct audit_reading *reading, enum unit unit)
{
	static const double steps[] = { 1, 0.1, 0.01, 0.001, 1e-4, 1e-5, 1e-6, 1e-7 };
	const int last = (int)(sizeof(steps) / sizeof(steps[0])) - 1;
	int decimals = reading->shown.decimals < 0 ? 0 : reading->shown.decimals;
	double step = desk->meter->meter.step;

	if (!(step > 0))
		step = steps[decimals > last ? last : decimals];
	return step * desk->live->factor[unit];
}

static bool sample_take(const struct audit_desk *desk, const struct audit_reading *reading)
{
	struct audit_session *session = &desk->live->session;
	enum unit unit = unit_of(desk, reading);
	double strength = strength_of(desk, reading, unit);
	struct live_cup *cup;

	if (!(strength >= TDS_PERCENT_LOW && strength <= TDS_PERCENT_HIGH)) {
		session->counts.out_of_range++;
		return true;
	}
	session->step = fmin(session->step, step_of(desk, reading, unit)); /* NaN gives way */
	if (reading->label.len == 0) {
		moments_add(&session->strength, strength);
		session->counts.unlabelled++;
		return true;
	}
	cup = cup_of(desk, reading->label);
	if (!cup)
		return false;
	moments_add(&cup->strength, strength);
	cup->id = reading->id;
	cup->at_us = reading->at_us;
	return true;
}

/* -- checks --------------------------------------------------------------------------- */

static bool zero_check_close(const struct audit_desk *desk)
{
	struct audit_live *live = desk->live;
	const struct live_check *in_hand = &live->check;
	struct audit_check check = {
		.at_us = in_hand->first_us,
		.id = in_hand->first_id,
		.n = in_hand->value.n,
		.value = moments_mean(&in_hand->value),
		.shown = moments_mean(&in_hand->value),
		.ss = in_hand->value.m2,
		.temp_c = moments_mean(&in_hand->temp),
	};
	struct audit_zero *zero = &desk->meter->zero;
	struct audit_check *checks = ring_put(desk->meter->zero_checks, sizeof(check), zero->checks, AUDIT_CHECKS_KEPT,
	                                      &check);

	if (!checks)
		return false;
	desk->meter->zero_checks = checks;
	desk->meter->zero_check_count = ring_count(++zero->checks, AUDIT_CHECKS_KEPT);
	zero->readings += check.n;
	moments_add(&zero->offset, check.value);
	moments_add(&live->session.zero, check.value);
	if (live->session.timed)
		fit_add(&live->zero_line, (double)(check.at_us - live->session.first_us) / MICROSECONDS / 3600,
		        check.value);
	return true;
}

/* Puts what waited into the results, with the zero that was in force. */
static bool standards_settle(const struct audit_desk *desk)
{
	struct audit_live *live = desk->live;

	for (size_t i = 0; i < live->standard_count; i++) {
		struct live_standard *waiting = &live->standards[i];
		size_t after = 0;
		struct zero_offset zero;

		while (after < live->zero_count && live->zeros[after].time_s <= waiting->seconds)
			after++;
		zero = zero_offset_between(after > 0 ? &live->zeros[after - 1] : NULL,
		                           after < live->zero_count ? &live->zeros[after] : NULL, waiting->seconds);
		waiting->check.zeroed = zero.kind == ZERO_SINGLE || zero.kind == ZERO_INTERPOLATED;
		if (waiting->check.zeroed)
			waiting->check.value += corrected(&waiting->scale, &zero, waiting->shown, waiting->temp_c, 1) -
			                        corrected(&waiting->scale, NULL, waiting->shown, waiting->temp_c, 1);
		if (!standard_take(desk, &waiting->check))
			return false;
	}
	live->standard_count = 0;
	return true;
}

/* Where checks stand in the session: by time, or by id where times are not told. */
static double check_key(const struct audit_live *live)
{
	const struct live_check *check = &live->check;

	return live->session.timed ? (double)(check->first_us - live->session.first_us) / MICROSECONDS :
	                             (double)(check->first_id - live->session.first_id);
}

static bool standard_check_close(const struct audit_desk *desk)
{
	struct audit_live *live = desk->live;
	const struct live_check *in_hand = &live->check;
	double bias = moments_mean(&in_hand->value) - in_hand->strength;

	if (live->standard_count == LIVE_CHECKS && !standards_settle(desk))
		return false;
	live->standards[live->standard_count++] = (struct live_standard){
		.check = {
			.at_us = in_hand->first_us,
			.id = in_hand->first_id,
			.n = in_hand->value.n,
			.value = bias,
			.shown = bias,
			.ss = in_hand->value.m2,
			.temp_c = moments_mean(&in_hand->temp),
			.strength = in_hand->strength,
		},
		.scale = in_hand->scale,
		.shown = moments_mean(&in_hand->shown),
		.temp_c = moments_mean(&in_hand->temp),
		.seconds = check_key(live),
	};
	return true;
}

static void zero_remember(struct audit_live *live)
{
	const struct live_check *check = &live->check;
	struct zero_offset offset = zero_offset_from_check(&check->scale, moments_mean(&check->shown),
	                                                   moments_mean(&check->temp), check_key(live));

	/* the newest take the place of the last: standards between them wait no longer than LIVE_CHECKS anyway */
	if (live->zero_count < LIVE_CHECKS)
		live->zero_count++;
	live->zeros[live->zero_count - 1] = offset;
}

static bool check_close(const struct audit_desk *desk)
{
	struct audit_live *live = desk->live;
	bool done = true;

	if (live->check.role == READING_ZERO) {
		zero_remember(live);
		done = zero_check_close(desk);
	} else if (live->check.role == READING_STANDARD) {
		done = standard_check_close(desk);
	}
	live->check.role = READING_SAMPLE;
	return done;
}

/* Does the reading go on with the check in hand? */
static bool check_goes_on(const struct live_check *check, const struct audit_reading *reading)
{
	return check->role == reading->role && check->scale.unit != UNIT_NONE &&
	       (check->role == READING_ZERO || check->strength == reading->standard_percent) &&
	       (reading->at_us == READING_NO_TIME || check->last_us == READING_NO_TIME ||
	        reading->at_us - check->last_us <= CHECK_GAP_US);
}

/* What one reading of zero or standard says; NaN: nothing. */
static double check_value(const struct audit_desk *desk, const struct audit_reading *reading,
                          const struct meter_scale *scale)
{
	struct zero_offset offset;

	if (reading->role == READING_STANDARD)
		return corrected(scale, NULL, reading->shown.value, reading->temp_c, 1);
	offset = zero_offset_from_check(scale, reading->shown.value, reading->temp_c, 0);
	return offset.kind == ZERO_UNUSABLE ? NAN : offset.delta_n * desk->live->factor[UNIT_INDEX];
}

static bool check_take(const struct audit_desk *desk, const struct audit_reading *reading)
{
	struct audit_live *live = desk->live;
	struct live_check *check = &live->check;
	struct meter_scale scale = scale_of(desk->meter, reading->shown);
	double value = check_value(desk, reading, &scale);

	if (isnan(value)) {
		live->session.counts.out_of_range++;
		return true;
	}
	if (reading->role == READING_STANDARD && !(reading->standard_percent >= 0)) {
		live->session.counts.unmeasured++;
		return true;
	}
	live->session.step = fmin(live->session.step, step_of(desk, reading, scale.unit));
	if (!check_goes_on(check, reading) || check->scale.unit != scale.unit) {
		if (!check_close(desk))
			return false;
		*check = (struct live_check){
			.role = reading->role,
			.strength = reading->role == READING_STANDARD ? reading->standard_percent : 0,
			.first_id = reading->id,
			.first_us = reading->at_us,
			.value = MOMENTS_INIT,
			.shown = MOMENTS_INIT,
			.temp = MOMENTS_INIT,
			.scale = scale,
		};
	}
	check->last_us = reading->at_us;
	moments_add(&check->value, value);
	moments_add(&check->shown, reading->shown.value);
	if (!isnan(reading->temp_c))
		moments_add(&check->temp, reading->temp_c);
	return true;
}

/* -- sessions -------------------------------------------------------------------------- */

static void session_open(struct audit_live *live, const struct audit_reading *reading)
{
	live->open = true;
	live->source = reading->source;
	live->session = (struct audit_session){
		.first_us = reading->at_us,
		.last_us = reading->at_us,
		.first_id = reading->id,
		.run = reading->run,
		.step = NAN,
		.temp = MOMENTS_INIT,
		.strength = MOMENTS_INIT,
		.zero = MOMENTS_INIT,
		.zero_slope = NAN,
		.timed = reading->timed,
	};
	live->check.role = READING_SAMPLE;
	live->zero_count = 0;
	live->zero_line = (struct fit_sums){ .n = 0 };
}

static bool session_goes_on(const struct audit_live *live, const struct audit_reading *reading)
{
	const struct audit_session *session = &live->session;
	int64_t gap;

	if (!live->open || live->source != reading->source || session->run != reading->run)
		return false;
	if (session->last_us == READING_NO_TIME || reading->at_us == READING_NO_TIME)
		return session->last_us == reading->at_us;
	return !__builtin_sub_overflow(reading->at_us, session->last_us, &gap) && session->timed == reading->timed &&
	       fabs((double)gap) <= AUDIT_GAP_S * MICROSECONDS;
}

/* The slope of zero within the session, for it and for all of the meter's. */
static void session_drift(struct audit_live *live)
{
	if (live->zero_line.n < 2 || !(live->zero_line.sxx > 0))
		return;
	live->session.zero_slope = live->zero_line.sxy / live->zero_line.sxx;
	fit_pool(&live->hourly, &live->zero_line);
	live->hourly_sessions++;
}

static bool session_keep(const struct audit_desk *desk)
{
	struct audit_meter *meter = desk->meter;
	const struct audit_session *session = &desk->live->session;
	struct audit_session *sessions;
	struct audit_month *month = NULL;
	bool memory = true;

	counts_add(&meter->counts, &session->counts);
	spread_add(&meter->spread, &session->spread);
	moments_merge(&meter->temp, &session->temp);
	moments_merge(&meter->strength, &session->strength);
	meter->step = fmin(meter->step, session->step);
	if (session->first_us != READING_NO_TIME) {
		if (meter->first_us == READING_NO_TIME || session->first_us < meter->first_us)
			meter->first_us = session->first_us;
		if (meter->last_us == READING_NO_TIME || session->last_us > meter->last_us)
			meter->last_us = session->last_us;
		month = month_of(meter, session->first_us, &memory);
	}
	if (month)
		month_add(month, session);
	sessions = ring_put(meter->sessions, sizeof(*sessions), meter->sessions_seen, AUDIT_SESSIONS_KEPT, session);
	if (!sessions)
		return false;
	meter->sessions = sessions;
	meter->session_count = ring_count(++meter->sessions_seen, AUDIT_SESSIONS_KEPT);
	return memory;
}

bool session_close(const struct audit_desk *desk)
{
	if (!desk->live->open)
		return true;
	if (!check_close(desk) || !standards_settle(desk) || !cups_close(desk))
		return false;
	session_drift(desk->live);
	desk->live->open = false;
	return session_keep(desk);
}

/* True: it does not count any further. */
static bool set_aside(struct audit_counts *counts, uint8_t flags)
{
	counts->excluded += (flags & READING_EXCLUDED) != 0;
	counts->out_of_range += (flags & READING_OUT_OF_RANGE) != 0;
	counts->repeated += (flags & (READING_REPEAT | READING_STALE)) != 0;
	counts->questioned += (flags & READING_QUESTIONED) != 0;
	return (flags & (READING_EXCLUDED | READING_OUT_OF_RANGE | READING_REPEAT | READING_STALE)) != 0;
}

static void session_count(struct audit_session *session, const struct audit_reading *reading)
{
	struct audit_counts *counts = &session->counts;

	counts->readings++;
	counts->samples += reading->role == READING_SAMPLE;
	counts->zeros += reading->role == READING_ZERO;
	counts->standards += reading->role == READING_STANDARD;
	session->last_id = reading->id;
	if (reading->at_us > session->last_us)
		session->last_us = reading->at_us;
}

bool session_take(const struct audit_desk *desk, const struct audit_reading *reading)
{
	struct audit_live *live = desk->live;

	if (!session_goes_on(live, reading)) {
		if (!session_close(desk))
			return false;
		session_open(live, reading);
	}
	session_count(&live->session, reading);
	if (set_aside(&live->session.counts, reading->flags))
		return true;
	if (!isnan(reading->temp_c))
		moments_add(&live->session.temp, reading->temp_c);
	if (reading->role != READING_SAMPLE)
		return check_take(desk, reading);
	return check_close(desk) && sample_take(desk, reading);
}

void live_release(struct audit_live *live)
{
	free(live->cups);
	free(live->slots);
	arena_release(&live->labels);
}
