/* SPDX-License-Identifier: GPL-3.0-or-later */
/* run_plan.h, blank_manifest.h and bench_sheet.h: what to brew when, and the papers that go with it. */
#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "bench_sheet.h"
#include "blank_manifest.h"
#include "manifest.h"
#include "run_plan.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { NAMES = 60, NAME = 8 };

static char names[NAMES][NAME];
static struct slice name_slices[NAMES];

static int name_treatments(void **state)
{
	(void)state;
	for (size_t i = 0; i < NAMES; i++) {
		snprintf(names[i], NAME, "T%zu", i);
		name_slices[i] = slice_from(names[i]);
	}
	return 0;
}

static struct run_plan *plan_of(size_t treatments, size_t brews, size_t at_once, uint64_t seed)
{
	struct run_plan_query query = { name_slices, treatments, brews, at_once, SIZE_MAX, seed };
	struct run_plan *plan;
	struct error error = ERROR_INIT;

	if (run_plan_make(&plan, &query, &error) != STATUS_OK)
		fail_msg("%zu treatments, %zu brews, %zu at once: %s", treatments, brews, at_once, error.text);
	return plan;
}

/* -- counted here, brew by brew -------------------------------------------------------------------------------- */

struct counts {
	size_t low, high;
};

static void widen(struct counts *counts, size_t count)
{
	counts->low = count < counts->low ? count : counts->low;
	counts->high = count > counts->high ? count : counts->high;
}

static bool in_round(const struct run_plan *plan, size_t round, size_t treatment)
{
	for (size_t i = 0; i < plan->brew_count; i++)
		if (plan->brews[i].round == round && plan->brews[i].treatment == treatment)
			return true;
	return false;
}

/* Rounds in which two treatments meet, over all pairs. */
static struct counts meetings(const struct run_plan *plan)
{
	struct counts counts = { SIZE_MAX, 0 };

	for (size_t a = 0; a < plan->treatment_count; a++)
		for (size_t b = a + 1; b < plan->treatment_count; b++) {
			size_t together = 0;

			for (size_t r = 0; r < plan->rounds; r++)
				together += in_round(plan, r, a) && in_round(plan, r, b);
			widen(&counts, together);
		}
	return counts;
}

/* A treatment in one of the first `places` places of a round. */
static struct counts placings(const struct run_plan *plan, size_t places)
{
	struct counts counts = { SIZE_MAX, 0 };

	for (size_t t = 0; t < plan->treatment_count; t++)
		for (size_t p = 0; p < places; p++) {
			size_t there = 0;

			for (size_t i = 0; i < plan->brew_count; i++)
				there += plan->brews[i].treatment == t && plan->brews[i].position == p;
			widen(&counts, there);
		}
	return counts;
}

/* A treatment right after another, in the same round. */
static struct counts followings(const struct run_plan *plan)
{
	struct counts counts = { SIZE_MAX, 0 };

	for (size_t a = 0; a < plan->treatment_count; a++)
		for (size_t b = 0; b < plan->treatment_count; b++) {
			size_t after = 0;

			if (a == b)
				continue;
			for (size_t i = 1; i < plan->brew_count; i++)
				after += plan->brews[i].position > 0 && plan->brews[i - 1].treatment == a &&
				         plan->brews[i].treatment == b;
			widen(&counts, after);
		}
	return counts;
}

static void brews_of_each_are(const struct run_plan *plan, size_t brews)
{
	for (size_t t = 0; t < plan->treatment_count; t++) {
		size_t count = 0;

		for (size_t i = 0; i < plan->brew_count; i++)
			count += plan->brews[i].treatment == t;
		assert_int_equal(count, brews);
	}
}

/* No treatment twice in a round, no round larger than it may be, places in order. */
static void rounds_are_sound(const struct run_plan *plan, size_t most)
{
	for (size_t i = 0; i < plan->brew_count; i++) {
		const struct planned_brew *brew = &plan->brews[i];

		assert_true(brew->position < most);
		assert_true(brew->round < plan->rounds);
		assert_int_equal(plan->start[brew->round] + brew->position, i);
		for (size_t j = plan->start[brew->round]; j < i; j++)
			assert_int_not_equal(plan->brews[j].treatment, brew->treatment);
	}
}

/* What must hold of every plan whatsoever. */
static void plans_of_every_size_are_sound(void **state)
{
	(void)state;
	for (size_t t = 2; t <= 9; t++)
		for (size_t brews = 1; brews <= 7; brews++)
			for (size_t at_once = 1; at_once <= t + 2; at_once++) {
				struct run_plan *plan = plan_of(t, brews, at_once, 100 * t + 10 * brews + at_once);
				bool complete = at_once == 1 || at_once >= t;
				struct counts met = meetings(plan);

				assert_int_equal(plan->brew_count, t * brews);
				brews_of_each_are(plan, brews);
				rounds_are_sound(plan, complete ? t : at_once);
				assert_int_equal(plan->rounds, complete ? brews : (t * brews + at_once - 1) / at_once);
				assert_int_equal(plan->balance.rounds.pairs.lowest, met.low);
				assert_int_equal(plan->balance.rounds.pairs.highest, met.high);
				/* two rounds of 4 of 7 share two treatments at least: a difference of one can't always be had */
				if (met.high - met.low > (t <= 6 ? 1u : 2u))
					fail_msg("%zu treatments, %zu brews, %zu at once: pairs meet %zu to %zu times",
					         t, brews, at_once, met.low, met.high);
				run_plan_free(plan);
			}
}

/* -- balance known beforehand --------------------------------------------------------------------------------------- */

struct balance_case {
	const char *name;
	size_t treatments, brews, at_once;
	enum plan_design design;
	size_t rounds;
	struct counts met, placed, followed; /* placed, followed: high 0 where they are not pinned */
};

/*
 * Balanced incomplete blocks: lambda = r (k - 1)/(t - 1), Fisher and Yates, Statistical Tables. Williams designs: each
 * treatment after each other once in t rounds for even t, twice in 2t for odd t.
 */
static void balance_is_as_known(void **state)
{
	static const struct balance_case cases[] = {
		{ "5 by pairs", 5, 4, 2, PLAN_BALANCED, 10, { 1, 1 }, { 2, 2 }, { 0, 0 } },
		{ "5 by pairs, twice", 5, 8, 2, PLAN_BALANCED, 20, { 2, 2 }, { 4, 4 }, { 0, 0 } },
		{ "5 by pairs, too few for it", 5, 3, 2, PLAN_EVENED, 8, { 0, 1 }, { 0, 0 }, { 0, 0 } },
		{ "7 by threes", 7, 3, 3, PLAN_BALANCED, 7, { 1, 1 }, { 1, 1 }, { 0, 0 } },
		{ "7 by threes, one more", 7, 4, 3, PLAN_EVENED, 10, { 1, 2 }, { 0, 0 }, { 0, 0 } },
		{ "4 by threes", 4, 3, 3, PLAN_BALANCED, 4, { 2, 2 }, { 1, 1 }, { 0, 0 } },
		{ "9 by threes", 9, 4, 3, PLAN_BALANCED, 12, { 1, 1 }, { 1, 2 }, { 0, 0 } },
		{ "3 by pairs", 3, 2, 2, PLAN_BALANCED, 3, { 1, 1 }, { 1, 1 }, { 0, 0 } },
		{ "4 by pairs, one each", 4, 1, 2, PLAN_EVENED, 2, { 0, 1 }, { 0, 1 }, { 0, 0 } },
		{ "two, one at a time", 2, 2, 1, PLAN_IN_TURN, 2, { 2, 2 }, { 1, 1 }, { 1, 1 } },
		{ "5 in turn, Williams", 5, 10, 1, PLAN_IN_TURN, 10, { 10, 10 }, { 2, 2 }, { 2, 2 } },
		{ "5 together, Williams", 5, 10, 5, PLAN_TOGETHER, 10, { 10, 10 }, { 2, 2 }, { 2, 2 } },
		{ "5, half of it: places are even", 5, 5, 5, PLAN_TOGETHER, 5, { 5, 5 }, { 1, 1 }, { 0, 0 } },
		{ "4, Williams", 4, 4, 4, PLAN_TOGETHER, 4, { 4, 4 }, { 1, 1 }, { 1, 1 } },
		{ "4, Williams twice", 4, 8, 1, PLAN_IN_TURN, 8, { 8, 8 }, { 2, 2 }, { 2, 2 } },
		{ "4, part of it", 4, 3, 6, PLAN_TOGETHER, 3, { 3, 3 }, { 0, 1 }, { 0, 1 } },
		{ "50 at once 50", 50, 3, 50, PLAN_TOGETHER, 3, { 3, 3 }, { 0, 1 }, { 0, 0 } },
		{ "50 by threes", 50, 3, 3, PLAN_EVENED, 50, { 0, 1 }, { 1, 1 }, { 0, 0 } },
		{ "50, one at a time", 50, 2, 1, PLAN_IN_TURN, 2, { 2, 2 }, { 0, 1 }, { 0, 0 } },
	};

	(void)state;
	for (size_t i = 0; i < COUNT(cases); i++) {
		const struct balance_case *c = &cases[i];
		struct run_plan *plan = plan_of(c->treatments, c->brews, c->at_once, 7);
		struct counts met = meetings(plan);
		struct counts placed = placings(plan, c->placed.high ? plan->start[1] : 1);
		struct counts followed = followings(plan);

		if (plan->design != c->design || plan->rounds != c->rounds || met.low != c->met.low ||
		    met.high != c->met.high ||
		    (c->placed.high && (placed.low != c->placed.low || placed.high != c->placed.high)) ||
		    (c->followed.high && (followed.low != c->followed.low || followed.high != c->followed.high)))
			fail_msg("%s: design %d, %zu rounds, met %zu to %zu, placed %zu to %zu, followed %zu to %zu",
			         c->name, (int)plan->design, plan->rounds, met.low, met.high, placed.low, placed.high,
			         followed.low, followed.high);
		run_plan_free(plan);
	}
}

/* Ten sequences, all different. */
static void five_treatments_have_ten_sequences(void **state)
{
	struct run_plan *plan = plan_of(5, 10, 1, 3);

	(void)state;
	for (size_t a = 0; a < 10; a++)
		for (size_t b = 0; b < a; b++) {
			bool same = true;

			for (size_t p = 0; p < 5; p++)
				same = same && plan->brews[5 * a + p].treatment == plan->brews[5 * b + p].treatment;
			assert_false(same);
		}
	run_plan_free(plan);
}

/* Places are even after each t rounds, so that a run that is broken off is balanced as far as it got. */
static void places_are_even_all_the_way(void **state)
{
	(void)state;
	for (size_t t = 2; t <= 13; t++) {
		struct run_plan *plan = plan_of(t, 2 * t, t, t);

		for (size_t begin = 0; begin < 2 * t; begin += t)
			for (size_t treatment = 0; treatment < t; treatment++)
				for (size_t p = 0; p < t; p++) {
					size_t there = 0;

					for (size_t r = begin; r < begin + t; r++)
						there += plan->brews[r * t + p].treatment == treatment;
					assert_int_equal(there, 1);
				}
		run_plan_free(plan);
	}
}

static bool tells(const struct run_plan *plan, enum severity severity, const char *words)
{
	for (size_t i = 0; i < plan->note_count; i++)
		if (plan->notes[i].severity == severity && strstr(plan->notes[i].text, words))
			return true;
	return false;
}

static void what_is_uneven_is_told(void **state)
{
	struct run_plan *plan = plan_of(5, 3, 2, 1);

	(void)state;
	assert_true(tells(plan, SEVERITY_WARNING, "3 of 10 pairs of treatments never meet in a round"));
	assert_true(tells(plan, SEVERITY_WARNING, "1 round consists of a single brew"));
	assert_true(tells(plan, SEVERITY_NOTE, "With 4 brews of each, or a multiple of that"));
	run_plan_free(plan);
	plan = plan_of(4, 1, 2, 1);
	assert_true(tells(plan, SEVERITY_WARNING, "fall apart into 2 groups"));
	assert_true(tells(plan, SEVERITY_WARNING, "One brew of each shows no spread"));
	run_plan_free(plan);
	plan = plan_of(4, 4, 6, 1);
	assert_true(tells(plan, SEVERITY_NOTE, "2 of the 6 places of a round stay free"));
	assert_true(tells(plan, SEVERITY_NOTE, "every other equally often, 1 time"));
	run_plan_free(plan);
	plan = plan_of(5, 4, 2, 1);
	assert_true(tells(plan, SEVERITY_NOTE, "any two treatments meet in 1 round"));
	assert_true(tells(plan, SEVERITY_NOTE, "62 %")); /* v/(2(v-1)) = 0.625 */
	run_plan_free(plan);
}

static void names_that_spreadsheets_change_are_told(void **state)
{
	static const char *const told[] = { "=x", "+grind", "3/4", "92", "-5" };

	(void)state;
	for (size_t i = 0; i < COUNT(told); i++) {
		struct slice two[] = { SLICE_OF("plain"), slice_from(told[i]) };
		struct run_plan_query query = { two, 2, 2, 2, SIZE_MAX, 1 };
		struct run_plan *plan;

		assert_int_equal(run_plan_make(&plan, &query, NULL), STATUS_OK);
		assert_true(tells(plan, SEVERITY_WARNING, "spreadsheet program may"));
		run_plan_free(plan);
	}
}

/* -- chance ------------------------------------------------------------------------------------------------------------ */

static bool same_plan(const struct run_plan *a, const struct run_plan *b)
{
	for (size_t i = 0; i < a->brew_count; i++)
		if (a->brews[i].treatment != b->brews[i].treatment || strcmp(a->brews[i].code, b->brews[i].code) != 0)
			return false;
	return true;
}

static void the_seed_makes_the_plan(void **state)
{
	static const size_t at_once[] = { 1, 2, 3, 6 };

	(void)state;
	for (size_t i = 0; i < COUNT(at_once); i++) {
		struct run_plan *plan = plan_of(6, 4, at_once[i], 11), *again = plan_of(6, 4, at_once[i], 11),
				*other = plan_of(6, 4, at_once[i], 12);

		assert_true(same_plan(plan, again));
		assert_false(same_plan(plan, other));
		run_plan_free(plan);
		run_plan_free(again);
		run_plan_free(other);
	}
}

/* Chi-square of the counts of treatments 0 … t-1 at brew `at` over seeds 1 … SEEDS. */
static double chi_square_at(size_t t, size_t brews, size_t at_once, size_t at)
{
	enum { SEEDS = 3000 };
	double count[NAMES] = { 0 }, expected = (double)SEEDS / (double)t, sum = 0;

	for (uint64_t seed = 1; seed <= SEEDS; seed++) {
		struct run_plan *plan = plan_of(t, brews, at_once, seed);

		count[plan->brews[at].treatment]++;
		run_plan_free(plan);
	}
	for (size_t i = 0; i < t; i++)
		sum += (count[i] - expected) * (count[i] - expected) / expected;
	return sum;
}

/* 0.1 % points of chi-square (printed tables): 13.816 for 2 degrees of freedom, 16.266 for 3, 18.467 for 4, 22.458 for 6. */
static void every_treatment_is_as_likely_anywhere(void **state)
{
	static const struct {
		size_t treatments, brews, at_once, at;
		double limit;
	} cases[] = {
		{ 3, 4, 3, 0, 13.816 },  { 4, 2, 4, 5, 16.266 }, { 4, 3, 1, 3, 16.266 }, { 5, 3, 2, 0, 18.467 },
		{ 5, 3, 2, 14, 18.467 }, { 5, 4, 2, 7, 18.467 }, { 5, 3, 5, 1, 18.467 }, { 7, 3, 3, 4, 22.458 },
	};

	(void)state;
	for (size_t i = 0; i < COUNT(cases); i++) {
		double chi = chi_square_at(cases[i].treatments, cases[i].brews, cases[i].at_once, cases[i].at);

		if (!(chi < cases[i].limit))
			fail_msg("%zu treatments by %zu, brew %zu: chi-square %g", cases[i].treatments,
			         cases[i].at_once, cases[i].at, chi);
	}
}

/* -- labels and codes --------------------------------------------------------------------------------------------------- */

static void codes_hint_at_nothing(void **state)
{
	(void)state;
	for (size_t i = 0; i < PLAN_CODES; i++) {
		unsigned code = plan_code(i), a = code / 100, b = code / 10 % 10, c = code % 10;

		assert_in_range(code, 102, 987);
		assert_true(i == 0 || code > plan_code(i - 1));
		assert_true(a != b && b != c && a != c);
		assert_false(b == a + 1 && c == b + 1);
		assert_false(a == b + 1 && b == c + 1);
	}
	assert_int_equal(plan_code(PLAN_CODES), 0);
	assert_int_not_equal(plan_code(PLAN_CODES - 1), 0);
}

static void codes_and_labels_are_unique(void **state)
{
	struct run_plan *plan = plan_of(50, 10, 10, 5);

	(void)state;
	assert_int_equal(plan->brew_count, PLAN_BREWS_MOST);
	assert_string_equal(plan->brews[0].label, "B001");
	assert_string_equal(plan->brews[499].label, "B500");
	for (size_t i = 0; i < plan->brew_count; i++) {
		assert_int_equal(strlen(plan->brews[i].code), 3);
		for (size_t j = 0; j < i; j++) {
			assert_string_not_equal(plan->brews[i].code, plan->brews[j].code);
			assert_string_not_equal(plan->brews[i].label, plan->brews[j].label);
		}
	}
	run_plan_free(plan);
}

/* -- what can't be planned ------------------------------------------------------------------------------------------------ */

static void senseless_plans_are_refused(void **state)
{
	static const struct slice twice[] = { { "soft", 4 }, { " Soft", 5 } };
	static const struct slice line[] = { { "soft", 4 }, { "ha\nrd", 5 } };
	static const struct slice empty[] = { { "soft", 4 }, { " ", 1 } };
	static const struct slice bytes[] = { { "soft", 4 }, { "h\xe4rd", 4 } };
	const struct {
		struct run_plan_query query;
		const char *words;
	} cases[] = {
		{ { name_slices, 1, 3, 1, SIZE_MAX, 1 }, "at least two treatments; one is given" },
		{ { name_slices, 0, 3, 1, SIZE_MAX, 1 }, "at least two treatments; none is given" },
		{ { name_slices, 3, 0, 1, SIZE_MAX, 1 }, "at least one brew" },
		{ { name_slices, 3, 3, 0, SIZE_MAX, 1 }, "one at a time" },
		{ { name_slices, 51, 10, 5, SIZE_MAX, 1 }, "more than 500 brews" },
		{ { name_slices, 3, SIZE_MAX / 2, 5, SIZE_MAX, 1 }, "more than 500 brews" },
		{ { twice, 2, 3, 1, SIZE_MAX, 1 }, "stands twice" },
		{ { line, 2, 3, 1, SIZE_MAX, 1 }, "control character" },
		{ { empty, 2, 3, 1, SIZE_MAX, 1 }, "treatment 2 has no name" },
		{ { bytes, 2, 3, 1, SIZE_MAX, 1 }, "not valid UTF-8" },
	};

	(void)state;
	for (size_t i = 0; i < COUNT(cases); i++) {
		struct error error = ERROR_INIT;
		struct run_plan *plan;

		assert_int_equal(run_plan_make(&plan, &cases[i].query, &error), STATUS_INVALID);
		assert_null(plan);
		if (!strstr(error.text, cases[i].words))
			fail_msg("\"%s\" does not say \"%s\"", error.text, cases[i].words);
	}
}

/* -- the manifest ------------------------------------------------------------------------------------------------------------ */

static const struct plan_targets targets = {
	.dose_g = "15,0", .water_g = "250", .temp_c = "93", .sample_type = "filter", .readings = 3
};

static const struct slice awkward[] = {
	{ "soft, \"still\"", 13 }, { "caf\xc3\xa9; hard", 11 }, { "mixed | half", 12 }, { "# plain", 7 }
};

static struct run_plan *awkward_plan(void)
{
	struct run_plan_query query = { awkward, COUNT(awkward), 3, 2, 3, 42 };
	struct run_plan *plan;

	assert_int_equal(run_plan_make(&plan, &query, NULL), STATUS_OK);
	return plan;
}

static size_t count_errors_but_doses(const struct faults *faults)
{
	size_t count = 0;

	for (size_t i = 0; i < faults->count; i++)
		if (!strstr(faults->items[i].text, "dose is empty"))
			count++;
	return count;
}

/* Reads text as a manifest. The caller's: run_free(), and faults. */
static struct run *read_back(const char *text, struct faults *faults)
{
	struct settings settings;
	struct text bytes = { .bytes = strdup(text), .len = strlen(text) };
	struct run *run = run_new();
	struct error error = ERROR_INIT;

	settings_init(&settings);
	assert_non_null(bytes.bytes);
	assert_int_equal(manifest_read_text(run, "manifest.csv", &bytes, &settings, faults, &error), STATUS_OK);
	return run;
}

static void the_manifest_reads_back_as_planned(void **state)
{
	const struct manifest_request request = { &targets, "kettle, filter_lot" };
	struct faults faults = FAULTS_INIT;
	struct run_plan *plan = awkward_plan();
	char *text = blank_manifest_text(plan, &request);
	struct run *run = read_back(text, &faults);
	char block[24];

	(void)state;
	assert_int_equal(count_errors_but_doses(&faults), 0);
	assert_int_equal(run->brew_count, plan->brew_count);
	assert_int_equal(run->treatment_count, COUNT(awkward));
	for (size_t i = 0; i < run->brew_count; i++) {
		const struct brew *brew = &run->brews[i];

		assert_true(slice_equal(brew->label, slice_from(plan->brews[i].label)));
		assert_true(slice_equal(run->treatments[brew->treatment].name, awkward[plan->brews[i].treatment]));
		assert_near(brew->number[BREW_ORDER], (double)(i + 1), 0);
		snprintf(block, sizeof(block), "%zu", plan->brews[i].round + 1);
		assert_true(slice_equal(brew->word[BREW_BLOCK], slice_from(block)));
		assert_true(isnan(brew->number[BREW_DOSE_G]));
		assert_true(isnan(brew->number[BREW_TEMP_C])); /* what was meant is not what was done */
	}
	run_free(run);
	faults_release(&faults);
	free(text);
	run_plan_free(plan);
}

static void the_manifest_is_the_same_each_time(void **state)
{
	const struct manifest_request request = { &targets, NULL };
	struct run_plan *plan = awkward_plan(), *again = awkward_plan();
	char *text = blank_manifest_text(plan, &request), *other = blank_manifest_text(again, &request);

	(void)state;
	assert_string_equal(text, other);
	assert_int_equal(memcmp(text, "\xef\xbb\xbf#", 4), 0); /* not ASCII: marked for spreadsheet programs */
	assert_non_null(strstr(text, "dose 15.0 g; water 250 g"));
	free(text);
	free(other);
	run_plan_free(plan);
	run_plan_free(again);
}

static void columns_of_one_s_own(void **state)
{
	struct error error = ERROR_INIT;

	(void)state;
	assert_int_equal(blank_manifest_check(NULL, &error), STATUS_OK);
	assert_int_equal(blank_manifest_check("kettle, filter lot,,", &error), STATUS_OK);
	assert_int_equal(blank_manifest_check("kettle,DOSE_G", &error), STATUS_INVALID);
	assert_string_equal(error.text, "the manifest has a column \"DOSE_G\" anyway");
	assert_int_equal(blank_manifest_check("kettle,lot, Kettle", &error), STATUS_INVALID);
	assert_string_equal(error.text, "the column \"kettle\" is named twice");
}

/* -- files ------------------------------------------------------------------------------------------------------------------------ */

struct folder {
	char path[64];
	char file[96];
};

static struct folder folder_make(const char *file)
{
	struct folder folder = { .path = "/tmp/test-plan-XXXXXX" };
	const char *temporary = getenv("TMPDIR");

	if (temporary && strlen(temporary) < 40)
		snprintf(folder.path, sizeof(folder.path), "%s/plan-XXXXXX", temporary);
	assert_non_null(mkdtemp(folder.path));
	snprintf(folder.file, sizeof(folder.file), "%s/%s", folder.path, file);
	return folder;
}

/* Whatever was written is the one file: nothing half done lies beside it. */
static void folder_remove(const struct folder *folder)
{
	unlink(folder->file);
	assert_int_equal(rmdir(folder->path), 0);
}

static char *load(const char *path, size_t *len)
{
	struct text text = TEXT_INIT;

	assert_int_equal(text_load(&text, path, NULL), STATUS_OK);
	*len = text.len;
	return text.bytes;
}

static void a_filled_in_manifest_stays(void **state)
{
	struct folder folder = folder_make("manifest.csv");
	struct error error = ERROR_INIT;
	size_t len;
	char *there;
	bool same;

	(void)state;
	assert_int_equal(blank_manifest_room(folder.file, "a,b\n", &same, &error), STATUS_OK);
	assert_false(same);
	assert_int_equal(blank_manifest_write(folder.file, "a,b\n", &error), STATUS_OK);
	assert_int_equal(blank_manifest_room(folder.file, "a,b\n", &same, &error), STATUS_OK);
	assert_true(same);
	assert_int_equal(blank_manifest_room(folder.file, "a,c\n", &same, &error), STATUS_REFUSED);
	assert_non_null(strstr(error.text, "nothing was written"));
	assert_int_equal(blank_manifest_write(folder.file, "a,c\n", &error), STATUS_REFUSED);
	there = load(folder.file, &len);
	assert_string_equal(there, "a,b\n");
	free(there);
	folder_remove(&folder);
}

static void a_dangling_link_is_no_room(void **state)
{
	struct folder folder = folder_make("manifest.csv");
	struct error error = ERROR_INIT;
	bool same;

	(void)state;
	assert_int_equal(symlink("nowhere/at/all", folder.file), 0);
	assert_int_not_equal(blank_manifest_room(folder.file, "a\n", &same, &error), STATUS_OK);
	folder_remove(&folder);
}

static void the_bench_sheet_is_the_same_each_time(void **state)
{
	struct folder folder = folder_make("bench-sheet.xlsx");
	struct bench_request request = { folder.file, "1.2.3", BENCH_A4, &targets };
	struct run_plan *plan = awkward_plan();
	struct error error = ERROR_INIT;
	size_t len, again_len, letter_len;
	char *first, *again, *letter;

	(void)state;
	assert_int_equal(bench_sheet_write(plan, &request, &error), STATUS_OK);
	first = load(folder.file, &len);
	assert_int_equal(bench_sheet_write(plan, &request, &error), STATUS_OK);
	again = load(folder.file, &again_len);
	assert_int_equal(len, again_len);
	assert_memory_equal(first, again, len);
	request.paper = BENCH_LETTER;
	assert_int_equal(bench_sheet_write(plan, &request, &error), STATUS_OK);
	letter = load(folder.file, &letter_len);
	assert_true(letter_len != len || memcmp(letter, first, len) != 0);
	free(first);
	free(again);
	free(letter);
	run_plan_free(plan);
	folder_remove(&folder);
}

static void papers_that_can_t_be_written(void **state)
{
	struct bench_request request = { "no/such/folder/bench-sheet.xlsx", "1.2.3", BENCH_A4, &targets };
	struct run_plan *plan = awkward_plan();
	struct error error = ERROR_INIT;

	(void)state;
	assert_int_equal(bench_sheet_write(plan, &request, &error), STATUS_IO);
	assert_non_null(strstr(error.text, "no/such/folder/bench-sheet.xlsx: not written"));
	assert_int_equal(blank_manifest_write("no/such/folder/manifest.csv", "a\n", &error), STATUS_IO);
	assert_int_equal(blank_manifest_write(".", "a\n", &error), STATUS_IO);
	assert_non_null(strstr(error.text, "it is a folder"));
	run_plan_free(plan);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(plans_of_every_size_are_sound),
		cmocka_unit_test(balance_is_as_known),
		cmocka_unit_test(five_treatments_have_ten_sequences),
		cmocka_unit_test(places_are_even_all_the_way),
		cmocka_unit_test(what_is_uneven_is_told),
		cmocka_unit_test(names_that_spreadsheets_change_are_told),
		cmocka_unit_test(the_seed_makes_the_plan),
		cmocka_unit_test(every_treatment_is_as_likely_anywhere),
		cmocka_unit_test(codes_hint_at_nothing),
		cmocka_unit_test(codes_and_labels_are_unique),
		cmocka_unit_test(senseless_plans_are_refused),
		cmocka_unit_test(the_manifest_reads_back_as_planned),
		cmocka_unit_test(the_manifest_is_the_same_each_time),
		cmocka_unit_test(columns_of_one_s_own),
		cmocka_unit_test(a_filled_in_manifest_stays),
		cmocka_unit_test(a_dangling_link_is_no_room),
		cmocka_unit_test(the_bench_sheet_is_the_same_each_time),
		cmocka_unit_test(papers_that_can_t_be_written),
	};

	return cmocka_run_group_tests(tests, name_treatments, NULL);
}
