/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_rounds.h"

#include <stdbool.h>
#include <string.h>

enum { PAIR_TRIES = 1000, PLACE_TRIES = 400, TRIES_MOST = 400000 }; /* tries for each brew, and in all */

static size_t round_size(const struct rounds *rounds, size_t r)
{
	return rounds->start[r + 1] - rounds->start[r];
}

static size_t round_longest(const struct rounds *rounds)
{
	size_t longest = 0;

	for (size_t r = 0; r < rounds->count; r++)
		longest = round_size(rounds, r) > longest ? round_size(rounds, r) : longest;
	return longest;
}

static size_t draw(struct random *random, size_t n)
{
	return (size_t)random_below(random, n);
}

static size_t tries(const struct rounds *rounds, size_t each)
{
	size_t wanted = rounds->start[rounds->count] * each;

	return wanted < TRIES_MOST ? wanted : TRIES_MOST;
}

/* -- pairs ----------------------------------------------------------------------- */

static size_t *pair_of(const struct rounds *rounds, size_t *pairs, size_t a, size_t b)
{
	return a < b ? &pairs[a * rounds->treatments + b] : &pairs[b * rounds->treatments + a];
}

static void count_pairs(const struct rounds *rounds, size_t *pairs)
{
	memset(pairs, 0, rounds->treatments * rounds->treatments * sizeof(*pairs));
	for (size_t r = 0; r < rounds->count; r++)
		for (size_t i = rounds->start[r]; i < rounds->start[r + 1]; i++)
			for (size_t j = i + 1; j < rounds->start[r + 1]; j++)
				++*pair_of(rounds, pairs, rounds->plan[i], rounds->plan[j]);
}

static size_t sum_of_squares(const struct rounds *rounds, const size_t *pairs)
{
	size_t sum = 0;

	for (size_t a = 0; a < rounds->treatments; a++)
		for (size_t b = a + 1; b < rounds->treatments; b++)
			sum += pairs[a * rounds->treatments + b] * pairs[a * rounds->treatments + b];
	return sum;
}

/* The sum that numbers of meetings have which differ by no more than one. */
static size_t least_sum(const struct rounds *rounds)
{
	size_t pairs = rounds->treatments * (rounds->treatments - 1) / 2;
	size_t meetings = 0, low, more;

	for (size_t r = 0; r < rounds->count; r++)
		meetings += round_size(rounds, r) * (round_size(rounds, r) - 1) / 2;
	low = meetings / pairs;
	more = meetings % pairs;
	return more * (low + 1) * (low + 1) + (pairs - more) * low * low;
}

static bool holds(const struct rounds *rounds, size_t r, size_t treatment)
{
	for (size_t i = rounds->start[r]; i < rounds->start[r + 1]; i++)
		if (rounds->plan[i] == treatment)
			return true;
	return false;
}

/* Puts treatment in place of the one at `at` of round r. Returns by how much the sum grows. */
static long replace(const struct rounds *rounds, size_t *pairs, size_t r, size_t at, size_t treatment)
{
	size_t old = rounds->plan[at];
	long growth = 0;

	for (size_t i = rounds->start[r]; i < rounds->start[r + 1]; i++) {
		size_t *lost, *won;

		if (i == at)
			continue;
		lost = pair_of(rounds, pairs, old, rounds->plan[i]);
		growth -= 2 * (long)*lost - 1;
		--*lost;
		won = pair_of(rounds, pairs, treatment, rounds->plan[i]);
		growth += 2 * (long)*won + 1;
		++*won;
	}
	rounds->plan[at] = treatment;
	return growth;
}

/* Exchanges one brew of each of two rounds by lot. Returns by how much the sum grows: never above 0. */
static long try_exchange(const struct rounds *rounds, struct random *random, size_t *pairs)
{
	size_t a = draw(random, rounds->count), b = draw(random, rounds->count);
	size_t at_a = rounds->start[a] + draw(random, round_size(rounds, a));
	size_t at_b = rounds->start[b] + draw(random, round_size(rounds, b));
	size_t first = rounds->plan[at_a], second = rounds->plan[at_b];
	long growth;

	if (a == b || holds(rounds, a, second) || holds(rounds, b, first))
		return 0;
	growth = replace(rounds, pairs, a, at_a, second);
	growth += replace(rounds, pairs, b, at_b, first);
	if (growth <= 0)
		return growth;
	replace(rounds, pairs, b, at_b, second);
	replace(rounds, pairs, a, at_a, first);
	return 0;
}

void rounds_even_pairs(const struct rounds *rounds, struct random *random, size_t *pairs)
{
	size_t least = least_sum(rounds);
	size_t sum;

	count_pairs(rounds, pairs);
	sum = sum_of_squares(rounds, pairs);
	for (size_t i = tries(rounds, PAIR_TRIES); i > 0 && sum > least; i--)
		sum -= (size_t)-try_exchange(rounds, random, pairs);
}

/* -- places ---------------------------------------------------------------------- */

static bool is_even(const size_t *count, size_t places)
{
	size_t low = count[0], high = count[0];

	for (size_t p = 1; p < places; p++) {
		low = count[p] < low ? count[p] : low;
		high = count[p] > high ? count[p] : high;
	}
	return high - low <= 1;
}

static bool all_even(const struct rounds *rounds, const size_t *count, size_t places)
{
	for (size_t t = 0; t < rounds->treatments; t++)
		if (!is_even(count + t * places, places))
			return false;
	return true;
}

/* Exchanges two places of a round unless that raises the sum of the squared counts. */
static void try_swap(const struct rounds *rounds, struct random *random, size_t *count, size_t places)
{
	size_t r = draw(random, rounds->count);
	size_t p = draw(random, round_size(rounds, r)), q = draw(random, round_size(rounds, r));
	size_t *at = rounds->plan + rounds->start[r];
	size_t *first = count + at[p] * places, *second = count + at[q] * places;
	size_t keep = at[p];

	if (p == q || first[q] + second[p] + 2 > first[p] + second[q])
		return;
	first[p]--;
	first[q]++;
	second[q]--;
	second[p]++;
	at[p] = at[q];
	at[q] = keep;
}

void rounds_even_positions(const struct rounds *rounds, struct random *random, size_t *count)
{
	size_t places = round_longest(rounds);

	memset(count, 0, rounds->treatments * places * sizeof(*count));
	for (size_t r = 0; r < rounds->count; r++)
		for (size_t i = rounds->start[r]; i < rounds->start[r + 1]; i++)
			count[rounds->plan[i] * places + (i - rounds->start[r])]++;
	for (size_t i = 0; i < tries(rounds, PLACE_TRIES); i++) {
		if (i % 64 == 0 && all_even(rounds, count, places))
			break;
		try_swap(rounds, random, count, places);
	}
}
