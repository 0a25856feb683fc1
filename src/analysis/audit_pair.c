/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_pair.h"

#include <Rmath.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "audit_fit.h"
#include "audit_ring.h"
#include "reading.h"

#define HOUR_US INT64_C(3600000000)

struct audit_pairing {
	struct paired_cup cups[PAIRING_CUPS]; /* the newest, in a ring */
	uint32_t next[PAIRING_CUPS];          /* of the same slot, older; + 1 */
	uint32_t slots[PAIRING_SLOTS];        /* index into cups + 1 */
	uint64_t seen;
	uint64_t *points_seen; /* parallel to pairs */
};

struct audit_pairing *pairing_new(void)
{
	return calloc(1, sizeof(struct audit_pairing));
}

void pairing_free(struct audit_pairing *pairing)
{
	if (!pairing)
		return;
	free(pairing->points_seen);
	free(pairing);
}

uint64_t pairing_key(int64_t run, uint64_t hash)
{
	uint64_t key = hash ^ ((uint64_t)run * 0x9e3779b97f4a7c15);

	return key ^ key >> 29;
}

static struct audit_pair *pair_of(struct audit *audit, size_t a, size_t b)
{
	struct audit_pairing *pairing = audit->pairing;
	struct audit_pair *pairs;
	uint64_t *seen;

	for (size_t i = 0; i < audit->pair_count; i++)
		if (audit->pairs[i].a == a && audit->pairs[i].b == b)
			return &audit->pairs[i];
	pairs = realloc(audit->pairs, (audit->pair_count + 1) * sizeof(*pairs));
	if (!pairs)
		return NULL;
	audit->pairs = pairs;
	seen = realloc(pairing->points_seen, (audit->pair_count + 1) * sizeof(*seen));
	if (!seen)
		return NULL;
	pairing->points_seen = seen;
	seen[audit->pair_count] = 0;
	pairs[audit->pair_count] = (struct audit_pair){ .a = a, .b = b };
	return &pairs[audit->pair_count++];
}

static bool pair_point(struct audit *audit, const struct paired_cup *old, const struct paired_cup *cup)
{
	bool first = old->meter < cup->meter;
	struct audit_pair *pair = pair_of(audit, first ? old->meter : cup->meter, first ? cup->meter : old->meter);
	struct audit_pair_point point = {
		.at_us = cup->at_us,
		.id = cup->id,
		.mean = (old->mean + cup->mean) / 2,
		.difference = first ? old->mean - cup->mean : cup->mean - old->mean,
	};
	struct audit_pair_point *points;
	uint64_t *seen;

	if (!pair)
		return false;
	seen = &audit->pairing->points_seen[pair - audit->pairs];
	points = ring_put(pair->points, sizeof(point), *seen, AUDIT_CHECKS_KEPT, &point);
	if (!points)
		return false;
	pair->points = points;
	pair->n = ring_count(++*seen, AUDIT_CHECKS_KEPT);
	return true;
}

static bool near_in_time(const struct paired_cup *a, const struct paired_cup *b)
{
	int64_t apart;

	if (a->at_us == READING_NO_TIME || b->at_us == READING_NO_TIME)
		return true;
	return !__builtin_sub_overflow(a->at_us, b->at_us, &apart) && llabs(apart) <= PAIRING_HOURS * HOUR_US;
}

/* Takes the oldest out of its slot. */
static void forget(struct audit_pairing *pairing, uint32_t at)
{
	uint32_t *link = &pairing->slots[pairing->cups[at].key % PAIRING_SLOTS];

	while (*link != 0 && *link != at + 1)
		link = &pairing->next[*link - 1];
	if (*link == at + 1)
		*link = pairing->next[at];
}

bool pairing_take(struct audit *audit, const struct paired_cup *cup)
{
	struct audit_pairing *pairing = audit->pairing;
	uint32_t *slot = &pairing->slots[cup->key % PAIRING_SLOTS];
	uint32_t at = (uint32_t)(pairing->seen % PAIRING_CUPS);
	bool met[AUDIT_METERS] = { false };

	for (uint32_t link = *slot; link != 0; link = pairing->next[link - 1]) {
		const struct paired_cup *old = &pairing->cups[link - 1];

		if (old->key != cup->key || old->meter == cup->meter || met[old->meter] || !near_in_time(old, cup))
			continue;
		met[old->meter] = true; /* with the newest of each */
		if (!pair_point(audit, old, cup))
			return false;
	}
	if (pairing->seen >= PAIRING_CUPS)
		forget(pairing, at);
	pairing->cups[at] = *cup;
	pairing->next[at] = *slot;
	*slot = at + 1;
	pairing->seen++;
	return true;
}

/* Bland and Altman give the limits' standard error as √(3/n) sd; this is it before rounding 1 + 1.96²/2 to 3. */
static double limit_error(double sd, double n)
{
	return sd * sqrt(1 / n + 1.959963984540054 * 1.959963984540054 / (2 * (n - 1)));
}

static enum audit_verdict verdict_of(const struct audit_pair *pair, double confidence)
{
	double n = (double)pair->n;
	double half = qt(confidence, n - 1, 1, 0) * pair->sd / sqrt(n);

	if (!isfinite(half) || !isfinite(pair->margin))
		return AUDIT_UNKNOWN;
	if (fabs(pair->bias) + half <= pair->margin)
		return AUDIT_SAME;
	return fabs(pair->bias) - half > pair->margin ? AUDIT_APART : AUDIT_UNKNOWN;
}

void pair_compute(struct audit_pair *pair, double confidence, double margin)
{
	struct fit_sums sums = { .n = 0 };
	struct moments differences = MOMENTS_INIT;
	double n = (double)pair->n, t, half;

	for (size_t i = 0; i < pair->n; i++) {
		fit_add(&sums, pair->points[i].mean, pair->points[i].difference);
		moments_add(&differences, pair->points[i].difference);
	}
	t = fit_student(confidence, n - 1);
	pair->margin = margin;
	pair->bias = moments_mean(&differences);
	pair->sd = pair->n >= 3 ? moments_sd(&differences) : NAN;
	half = t * pair->sd / sqrt(n);
	pair->bias_lower = pair->bias - half;
	pair->bias_upper = pair->bias + half;
	pair->low = pair->bias - 1.959963984540054 * pair->sd;
	pair->high = pair->bias + 1.959963984540054 * pair->sd;
	half = t * limit_error(pair->sd, n);
	pair->low_lower = pair->low - half;
	pair->low_upper = pair->low + half;
	pair->high_lower = pair->high - half;
	pair->high_upper = pair->high + half;
	pair->trend = fit_line(&sums, n - 2, confidence);
	pair->verdict = verdict_of(pair, confidence);
}

static int by_time(const void *left, const void *right)
{
	const struct audit_pair_point *a = left, *b = right;

	if (a->at_us != b->at_us)
		return a->at_us < b->at_us ? -1 : 1;
	return a->id < b->id ? -1 : a->id > b->id;
}

void pairs_finish(struct audit *audit)
{
	double margin = audit->query.margin * audit->query.dose_g / audit->query.beverage_g;

	for (size_t i = 0; i < audit->pair_count; i++) {
		struct audit_pair *pair = &audit->pairs[i];

		qsort(pair->points, pair->n, sizeof(*pair->points), by_time);
		pair_compute(pair, audit->query.confidence, margin);
	}
}
