/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "designs.h"

static void swap(size_t *a, size_t *b)
{
	size_t keep = *a;

	*a = *b;
	*b = keep;
}

static void count_up(size_t *x, size_t n)
{
	for (size_t i = 0; i < n; i++)
		x[i] = i;
}

/*
 * `rows` rows of a randomised cyclic square: entry = symbol[(shift of the row + place of the column) mod t],
 * the shifts all different, the columns' places a random order.
 */
static void draw_square(size_t *plan, size_t t, size_t rows, struct random *random, size_t *scratch)
{
	size_t *place = scratch, *shift = scratch + t;

	count_up(place, t);
	count_up(shift, t);
	random_shuffle(random, place, t);
	random_shuffle(random, shift, t);
	for (size_t r = 0; r < rows; r++)
		for (size_t c = 0; c < t; c++)
			plan[r * t + c] = (shift[r] + place[c]) % t;
	random_shuffle(random, shift, t); /* the symbols */
	for (size_t i = 0; i < rows * t; i++)
		plan[i] = shift[plan[i]];
}

void design_complete_blocks(size_t *plan, size_t t, size_t blocks, struct random *random, size_t *scratch)
{
	if (t == 0)
		return;
	for (size_t done = 0; done < blocks; done += t) {
		size_t rows = blocks - done < t ? blocks - done : t;

		draw_square(plan + done * t, t, rows, random, scratch);
	}
}

size_t design_williams_sequences(size_t t)
{
	if (t < 2 || t > DESIGNS_WILLIAMS_MOST)
		return 0;
	return t % 2 ? 2 * t : t;
}

/* 0, 1, t-1, 2, t-2, ...: its successive differences are all different. */
static size_t zigzag(size_t position, size_t t)
{
	size_t step = (position + 1) / 2;

	return position % 2 ? step : (t - step) % t;
}

static void relabel(size_t *plan, size_t n, const size_t *label)
{
	for (size_t i = 0; i < n; i++)
		plan[i] = label[plan[i]];
}

static void shuffle_rows(size_t *plan, size_t rows, size_t columns, struct random *random)
{
	for (size_t i = rows; i > 1; i--) {
		size_t j = (size_t)random_below(random, i);

		for (size_t c = 0; c < columns && j != i - 1; c++)
			swap(&plan[(i - 1) * columns + c], &plan[j * columns + c]);
	}
}

void design_williams(size_t *plan, size_t t, struct random *random)
{
	size_t sequences = design_williams_sequences(t);
	size_t label[DESIGNS_WILLIAMS_MOST];

	for (size_t s = 0; s < sequences; s++)
		for (size_t p = 0; p < t; p++) /* the second half of an odd design is the first, read backwards */
			plan[s * t + p] = (zigzag(s < t ? p : t - 1 - p, t) + s) % t;
	if (!random || sequences == 0)
		return;
	count_up(label, t);
	random_shuffle(random, label, t);
	relabel(plan, sequences * t, label);
	shuffle_rows(plan, sequences, t, random);
}

/* ---- balanced incomplete blocks ---- */

#define BASES     4
#define BASE_MOST 7

/*
 * Blocks developed modulo `modulus`: every member of a base but the fixed point (modulus itself) goes up by 1
 * from block to block. A base's orbit is `modulus` long, or `shorter` for the last base where that is not 0.
 */
struct cyclic_design {
	size_t v, k, modulus, bases, shorter;
	size_t base[BASES][BASE_MOST];
};

/* Found by search over difference families; tests count every pair of every row. */
static const struct cyclic_design catalogue[] = {
	{ 6, 3, 5, 2, 0, { { 0, 1, 5 }, { 0, 1, 3 } } },
	{ 7, 3, 7, 1, 0, { { 0, 1, 3 } } },
	{ 8, 4, 7, 2, 0, { { 0, 1, 3, 7 }, { 0, 1, 2, 4 } } },
	{ 9, 3, 8, 2, 4, { { 0, 1, 3 }, { 0, 4, 8 } } },
	{ 9, 4, 9, 2, 0, { { 0, 1, 2, 4 }, { 0, 1, 4, 6 } } },
	{ 10, 3, 9, 4, 3, { { 0, 1, 9 }, { 0, 1, 4 }, { 0, 2, 4 }, { 0, 3, 6 } } },
	{ 10, 5, 9, 2, 0, { { 0, 1, 2, 4, 9 }, { 0, 1, 3, 5, 6 } } },
	{ 11, 5, 11, 1, 0, { { 0, 1, 2, 4, 7 } } },
	{ 12, 3, 11, 4, 0, { { 0, 1, 11 }, { 0, 1, 4 }, { 0, 2, 5 }, { 0, 2, 6 } } },
	{ 12, 4, 11, 3, 0, { { 0, 1, 2, 11 }, { 0, 1, 4, 7 }, { 0, 2, 5, 7 } } },
	{ 12, 6, 11, 2, 0, { { 0, 1, 2, 3, 6, 11 }, { 0, 1, 3, 5, 7, 8 } } },
	{ 13, 3, 13, 2, 0, { { 0, 1, 4 }, { 0, 2, 7 } } },
	{ 13, 4, 13, 1, 0, { { 0, 1, 3, 9 } } },
	{ 14, 7, 13, 2, 0, { { 0, 1, 2, 3, 5, 9, 13 }, { 0, 1, 2, 4, 7, 9, 10 } } },
	{ 15, 3, 15, 3, 5, { { 0, 1, 4 }, { 0, 2, 8 }, { 0, 5, 10 } } },
	{ 15, 7, 15, 1, 0, { { 0, 1, 2, 4, 5, 8, 10 } } },
	{ 16, 4, 15, 2, 5, { { 0, 1, 3, 7 }, { 0, 5, 10, 15 } } },
};

#define COMBINATIONS_MOST 60

static const struct cyclic_design *find_cyclic(size_t v, size_t k)
{
	for (size_t i = 0; i < sizeof(catalogue) / sizeof(catalogue[0]); i++)
		if (catalogue[i].v == v && catalogue[i].k == k)
			return &catalogue[i];
	return NULL;
}

static size_t orbit(const struct cyclic_design *c, size_t base)
{
	return base + 1 == c->bases && c->shorter ? c->shorter : c->modulus;
}

static size_t cyclic_blocks(const struct cyclic_design *c)
{
	size_t blocks = 0;

	for (size_t i = 0; i < c->bases; i++)
		blocks += orbit(c, i);
	return blocks;
}

/* v over k, or most + 1 where it is larger than most. */
static size_t combinations(size_t v, size_t k, size_t most)
{
	size_t count = 1;

	for (size_t i = 1; i <= k; i++) {
		count = count * (v - k + i) / i;
		if (count > most)
			return most + 1;
	}
	return count;
}

/* Where the blocks come from, in the order of preference. */
enum bib_source { BIB_NONE, BIB_CYCLIC, BIB_COMPLEMENT, BIB_COMBINATIONS };

static enum bib_source bib_source(size_t v, size_t k)
{
	if (k < 2 || k >= v)
		return BIB_NONE;
	if (find_cyclic(v, k))
		return BIB_CYCLIC;
	if (k > 2 && find_cyclic(v, v - k))
		return BIB_COMPLEMENT;
	if (k == 2 || k == v - 1 || combinations(v, k, COMBINATIONS_MOST) <= COMBINATIONS_MOST)
		return BIB_COMBINATIONS;
	return BIB_NONE;
}

static size_t bib_blocks(size_t v, size_t k)
{
	switch (bib_source(v, k)) {
	case BIB_CYCLIC:
		return cyclic_blocks(find_cyclic(v, k));
	case BIB_COMPLEMENT:
		return cyclic_blocks(find_cyclic(v, v - k));
	case BIB_COMBINATIONS:
		return k == v - 1 ? v : k == 2 ? v * (v - 1) / 2 : combinations(v, k, COMBINATIONS_MOST);
	case BIB_NONE:
		break;
	}
	return 0;
}

bool design_bib_find(struct bib_design *out, size_t v, size_t k)
{
	size_t b = bib_blocks(v, k);

	*out = (struct bib_design){ 0 };
	if (b == 0)
		return false;
	*out = (struct bib_design){ .v = v, .k = k, .b = b, .r = b * k / v };
	out->lambda = out->r * (k - 1) / (v - 1);
	return true;
}

/* Member `m` of the given block of a base, which is the shift. */
static size_t developed(const struct cyclic_design *c, size_t base, size_t m, size_t shift)
{
	size_t point = c->base[base][m];

	return point >= c->modulus ? point : (point + shift) % c->modulus;
}

static void write_cyclic(size_t *plan, const struct cyclic_design *c)
{
	for (size_t base = 0; base < c->bases; base++)
		for (size_t shift = 0; shift < orbit(c, base); shift++)
			for (size_t m = 0; m < c->k; m++)
				*plan++ = developed(c, base, m, shift);
}

/* All treatments but those of each block of c. */
static void write_complement(size_t *plan, const struct cyclic_design *c)
{
	for (size_t base = 0; base < c->bases; base++)
		for (size_t shift = 0; shift < orbit(c, base); shift++)
			for (size_t t = 0; t < c->v; t++) {
				bool in = false;

				for (size_t m = 0; m < c->k; m++)
					in |= developed(c, base, m, shift) == t;
				if (!in)
					*plan++ = t;
			}
}

/* In lexical order: raise the last member that can still rise, the rest follow on. */
static void write_combinations(size_t *plan, size_t v, size_t k, size_t b)
{
	count_up(plan, k);
	for (size_t i = 1; i < b; i++) {
		const size_t *before = plan + (i - 1) * k;
		size_t *now = plan + i * k, rising = k - 1;

		while (before[rising] == v - k + rising)
			rising--;
		for (size_t m = 0; m < k; m++)
			now[m] = m < rising ? before[m] : before[rising] + 1 + m - rising;
	}
}

void design_bib(size_t *plan, const struct bib_design *design, struct random *random, size_t *scratch)
{
	size_t v = design->v, k = design->k, b = design->b;

	switch (bib_source(v, k)) {
	case BIB_CYCLIC:
		write_cyclic(plan, find_cyclic(v, k));
		break;
	case BIB_COMPLEMENT:
		write_complement(plan, find_cyclic(v, v - k));
		break;
	case BIB_COMBINATIONS:
		write_combinations(plan, v, k, b);
		break;
	case BIB_NONE:
		return;
	}
	if (!random)
		return;
	count_up(scratch, v);
	random_shuffle(random, scratch, v);
	relabel(plan, b * k, scratch);
	shuffle_rows(plan, b, k, random);
	for (size_t i = 0; i < b; i++)
		random_shuffle(random, plan + i * k, k);
	design_even_positions(plan, v, k, b, random, scratch);
}

/* How far the counts of one treatment are from even: 0 if none differs from another by more than one. */
static bool is_even(const size_t *count, size_t k)
{
	size_t low = count[0], high = count[0];

	for (size_t p = 1; p < k; p++) {
		low = count[p] < low ? count[p] : low;
		high = count[p] > high ? count[p] : high;
	}
	return high - low <= 1;
}

static bool all_even(const size_t *count, size_t v, size_t k)
{
	for (size_t t = 0; t < v; t++)
		if (!is_even(count + t * k, k))
			return false;
	return true;
}

/* Swaps positions p and q of a block unless that raises the sum of squared counts; ties move on too. */
static void try_swap(size_t *block, size_t k, size_t p, size_t q, size_t *count)
{
	size_t *first = count + block[p] * k, *second = count + block[q] * k;

	/* the sum changes by 2 (first[q] - first[p] + 1 + second[p] - second[q] + 1) */
	if (p == q || first[q] + second[p] + 2 > first[p] + second[q])
		return;
	first[p]--;
	first[q]++;
	second[q]--;
	second[p]++;
	swap(&block[p], &block[q]);
}

bool design_even_positions(size_t *plan, size_t v, size_t k, size_t b, struct random *random, size_t *count)
{
	size_t tries = 200 * b * k * k;

	for (size_t i = 0; i < v * k; i++)
		count[i] = 0;
	for (size_t i = 0; i < b * k; i++)
		count[plan[i] * k + i % k]++;
	for (size_t i = 0; i < tries; i++) {
		if (i % (b * k) == 0 && all_even(count, v, k))
			return true;
		try_swap(plan + random_below(random, b) * k, k, random_below(random, k), random_below(random, k),
		         count);
	}
	return all_even(count, v, k);
}
