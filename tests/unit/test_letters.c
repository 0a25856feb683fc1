/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdlib.h>
#include <string.h>

#include "letters.h"
#include "random.h"

enum { MOST = 300 };

/* A problem and the space its solution needs. */
struct problem {
	size_t k;
	size_t room;
	double means[MOST];
	bool differ[MOST * MOST];
	size_t order[MOST];
	uint64_t *words;
	struct letters letters;
};

static void problem_clear(struct problem *problem, size_t k, size_t room)
{
	memset(problem, 0, sizeof(*problem));
	problem->k = k;
	problem->room = room;
	problem->words = calloc(letters_words(k, room) + 1, sizeof(*problem->words));
	assert_non_null(problem->words);
	for (size_t i = 0; i < k; i++)
		problem->means[i] = -(double)i;
}

static void set_differ(struct problem *problem, size_t a, size_t b)
{
	problem->differ[(a < b ? a : b) * problem->k + (a < b ? b : a)] = true;
}

static bool found_to_differ(const struct problem *problem, size_t a, size_t b)
{
	return problem->differ[(a < b ? a : b) * problem->k + (a < b ? b : a)];
}

static void solve(struct problem *problem)
{
	problem->letters = letters_find(problem->means, problem->differ, problem->k, problem->order, problem->words,
	                                problem->room);
}

static bool subset(const struct problem *problem, size_t inner, size_t outer)
{
	for (size_t i = 0; i < problem->k; i++)
		if (letters_has(&problem->letters, i, inner) && !letters_has(&problem->letters, i, outer))
			return false;
	return true;
}

/* Share a letter exactly where not found to differ; no letter's set lies inside another's. */
static void assert_says_it_all(const struct problem *problem)
{
	const struct letters *letters = &problem->letters;

	assert_true(letters->complete);
	for (size_t a = 0; a < problem->k; a++)
		for (size_t b = a + 1; b < problem->k; b++) {
			bool share = false;

			for (size_t l = 0; l < letters->count && !share; l++)
				share = letters_has(letters, a, l) && letters_has(letters, b, l);
			assert_int_equal(share, !found_to_differ(problem, a, b));
		}
	for (size_t i = 0; i < letters->count; i++)
		for (size_t j = 0; j < letters->count; j++)
			assert_true(i == j || !subset(problem, i, j));
}

static void assert_letters(const struct problem *problem, size_t treatment, const char *want)
{
	char text[64];

	assert_int_equal(letters_text(&problem->letters, treatment, text, sizeof(text)), strlen(want));
	assert_string_equal(text, want);
}

static void run_from_the_largest_mean(void **state)
{
	static struct problem p;

	(void)state;
	problem_clear(&p, 3, 4);
	p.means[0] = 19.0;
	p.means[1] = 22.0;
	p.means[2] = 20.5;
	set_differ(&p, 0, 1);
	solve(&p);
	assert_letters(&p, 1, "a");
	assert_letters(&p, 2, "ab");
	assert_letters(&p, 0, "b");
	assert_int_equal(p.letters.order[0], 1);
	assert_true(letters_has(&p.letters, 2, 1));
	assert_false(letters_has(&p.letters, 2, 2));
	assert_false(letters_has(&p.letters, 3, 0));
	assert_int_equal(letters_text(&p.letters, 3, NULL, 0), 0);
	free(p.words);
}

/* With unequal n a pair far apart in the ranking may be open where a closer one differs. */
static void no_order_is_assumed(void **state)
{
	static struct problem p;

	(void)state;
	problem_clear(&p, 4, 8);
	set_differ(&p, 0, 1);
	set_differ(&p, 1, 2);
	set_differ(&p, 2, 3);
	solve(&p);
	assert_says_it_all(&p);
	/* the pairs left are 0-2, 0-3, 1-3 */
	assert_letters(&p, 0, "ab");
	assert_letters(&p, 1, "c");
	assert_letters(&p, 2, "a");
	assert_letters(&p, 3, "bc");
	free(p.words);
}

static void few_treatments(void **state)
{
	static struct problem p;

	(void)state;
	problem_clear(&p, 0, 1);
	solve(&p);
	assert_true(p.letters.complete);
	assert_int_equal(p.letters.count, 0);
	free(p.words);
	problem_clear(&p, 1, 1);
	solve(&p);
	assert_letters(&p, 0, "a");
	free(p.words);
	problem_clear(&p, 1, 0);
	solve(&p);
	assert_false(p.letters.complete);
	assert_letters(&p, 0, "");
	free(p.words);
}

/* A mean that is missing was compared with nothing: last, and with everybody. */
static void missing_mean_comes_last(void **state)
{
	static struct problem p;

	(void)state;
	problem_clear(&p, 3, 4);
	p.means[0] = NAN;
	p.means[1] = 1.0;
	p.means[2] = 2.0;
	set_differ(&p, 1, 2);
	solve(&p);
	assert_int_equal(p.letters.order[0], 2);
	assert_int_equal(p.letters.order[2], 0);
	assert_letters(&p, 0, "ab");
	free(p.words);
}

/* Forty treatments all apart: z is followed by aa. */
static void beyond_z(void **state)
{
	static struct problem p;
	char text[3];

	(void)state;
	problem_clear(&p, 40, 40);
	for (size_t a = 0; a < 40; a++)
		for (size_t b = a + 1; b < 40; b++)
			set_differ(&p, a, b);
	solve(&p);
	assert_int_equal(p.letters.count, 40);
	assert_letters(&p, 0, "a");
	assert_letters(&p, 25, "z");
	assert_letters(&p, 26, "aa");
	assert_letters(&p, 39, "an");
	assert_says_it_all(&p);
	free(p.words);
	/* a chain: each differs from all but its neighbours */
	problem_clear(&p, 40, 40);
	for (size_t a = 0; a < 40; a++)
		for (size_t b = a + 2; b < 40; b++)
			set_differ(&p, a, b);
	solve(&p);
	assert_int_equal(p.letters.count, 39);
	assert_letters(&p, 1, "a b");
	assert_letters(&p, 26, "z aa");
	assert_int_equal(letters_text(&p.letters, 26, text, sizeof(text)), 4);
	assert_string_equal(text, "z ");
	assert_says_it_all(&p);
	free(p.words);
}

/* The 703rd letter has three characters; needs as many treatments apart, given as their lack of any. */
static void labels_grow(void **state)
{
	enum { MANY = 710 };
	double *means = calloc(MANY, sizeof(*means));
	bool *differ = calloc((size_t)MANY * MANY, sizeof(*differ));
	size_t *order = calloc(MANY, sizeof(*order));
	uint64_t *words = calloc(letters_words(MANY, MANY), sizeof(*words));
	struct letters letters;
	char text[8];

	(void)state;
	assert_true(means && differ && order && words);
	memset(differ, true, (size_t)MANY * MANY * sizeof(*differ));
	letters = letters_find(means, differ, MANY, order, words, MANY);
	assert_true(letters.complete);
	letters_text(&letters, 701, text, sizeof(text));
	assert_string_equal(text, "zz");
	letters_text(&letters, 702, text, sizeof(text));
	assert_string_equal(text, "aaa");
	free(words);
	free(order);
	free(differ);
	free(means);
}

static void random_relations(void **state)
{
	static struct problem p;
	struct random random;

	(void)state;
	random_seed(&random, 7);
	for (size_t round = 0; round < 300; round++) {
		size_t k = 1 + (size_t)random_below(&random, 14);
		double share = random_uniform(&random);

		problem_clear(&p, k, 400);
		for (size_t a = 0; a < k; a++)
			for (size_t b = a + 1; b < k; b++)
				if (random_uniform(&random) < share)
					set_differ(&p, a, b);
		for (size_t i = 0; i < k; i++)
			p.means[i] = random_normal(&random);
		solve(&p);
		assert_says_it_all(&p);
		free(p.words);
	}
}

/* Equal n: two differ exactly where their means lie further apart than one width. Never more letters than treatments. */
static void hundreds_of_treatments(void **state)
{
	static struct problem p;
	struct random random;

	(void)state;
	random_seed(&random, 11);
	problem_clear(&p, MOST, MOST + 1);
	for (size_t i = 0; i < MOST; i++)
		p.means[i] = random_uniform(&random);
	for (size_t a = 0; a < MOST; a++)
		for (size_t b = a + 1; b < MOST; b++)
			if (fabs(p.means[a] - p.means[b]) > 0.05)
				set_differ(&p, a, b);
	solve(&p);
	assert_true(p.letters.complete);
	assert_in_range(p.letters.count, 20, MOST);
	assert_says_it_all(&p);
	free(p.words);
}

/*
 * Twenty pairs, each of two that differ from one another only: any choice of
 * one of each pair is a clique, 2^20 in all. It is said, not worked through.
 */
static void too_many_letters(void **state)
{
	static struct problem p;

	(void)state;
	problem_clear(&p, 40, 160);
	for (size_t i = 0; i < 40; i += 2)
		set_differ(&p, i, i + 1);
	solve(&p);
	assert_false(p.letters.complete);
	assert_int_equal(p.letters.count, 0);
	assert_letters(&p, 0, "");
	free(p.words);
	/* five pairs: 32 letters, and just that much room */
	problem_clear(&p, 10, 32);
	for (size_t i = 0; i < 10; i += 2)
		set_differ(&p, i, i + 1);
	solve(&p);
	assert_int_equal(p.letters.count, 32);
	assert_says_it_all(&p);
	p.room = 31;
	solve(&p);
	assert_false(p.letters.complete);
	free(p.words);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test(run_from_the_largest_mean),
		cmocka_unit_test(no_order_is_assumed),
		cmocka_unit_test(few_treatments),
		cmocka_unit_test(missing_mean_comes_last),
		cmocka_unit_test(beyond_z),
		cmocka_unit_test(labels_grow),
		cmocka_unit_test(random_relations),
		cmocka_unit_test(hundreds_of_treatments),
		cmocka_unit_test(too_many_letters),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
