/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "joint_aliasing.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sentences.h"

#define NOTHING_LEFT 1e-8 /* of a dummy's sum of squares, once what others span is taken off: it is in their span */

/*
 * Rank of [1, treatments, dummies] is that of the treatments plus that of the dummies' products once treatment means are
 * taken off, and rank of [1, dummies] is 1 plus that of their products once the overall mean is. So two small matrices tell what
 * is lost, however many brews and treatments there are.
 */
struct products {
	size_t levels;                   /* of all columns together */
	size_t columns;                  /* how many */
	size_t start[JOINT_COLUMNS + 1]; /* of each column's levels */
	double *about_mean;              /* levels x levels */
	double *about_treatments;
	double *work; /* as large; for the ranks */
	size_t *pick; /* rows of the set at hand */
};

/* The brews that are compared, treatment by treatment, with their level in each column. */
struct design {
	size_t *brew;
	size_t n;
	size_t *level; /* [i * columns + c], counted over all columns */
};

struct word {
	struct slice text;
	size_t place;
};

static int word_compare(const void *left, const void *right)
{
	return slice_compare(((const struct word *)left)->text, ((const struct word *)right)->text);
}

/* Numbers the column's words from products->levels on; false without memory. */
static bool number_words(struct products *products, const struct design *design, const struct column *column, size_t c)
{
	struct word *words = calloc(design->n + 1, sizeof(*words));

	if (!words)
		return false;
	for (size_t i = 0; i < design->n; i++)
		words[i] = (struct word){ column->text[design->brew[i]], i };
	qsort(words, design->n, sizeof(*words), word_compare);
	for (size_t i = 0; i < design->n; i++) {
		products->levels += i > 0 && !slice_equal(words[i].text, words[i - 1].text);
		design->level[words[i].place * products->columns + c] = products->levels;
	}
	products->levels += design->n > 0;
	free(words);
	return true;
}

static void add_counts(double *matrix, size_t levels, const double *counts, double factor)
{
	for (size_t a = 0; a < levels; a++)
		if (counts[a] > 0)
			for (size_t b = 0; b < levels; b++)
				matrix[a * levels + b] += factor * counts[a] * counts[b];
}

/* Both matrices, from how often each two levels meet, less what the means make of that. */
static void multiply(struct products *products, const struct analysis *analysis, const struct design *design,
                     double *counts, double *total)
{
	size_t levels = products->levels, next;

	for (size_t i = 0; i < design->n; i++)
		for (size_t a = 0; a < products->columns; a++)
			for (size_t b = 0; b < products->columns; b++) {
				const size_t *level = design->level + i * products->columns;

				products->about_mean[level[a] * levels + level[b]] += 1;
			}
	memcpy(products->about_treatments, products->about_mean, levels * levels * sizeof(*products->about_mean));
	for (size_t i = 0; i < design->n; i = next) {
		size_t treatment = analysis->run->brews[design->brew[i]].treatment;

		memset(counts, 0, levels * sizeof(*counts));
		for (next = i; next < design->n && analysis->run->brews[design->brew[next]].treatment == treatment;
		     next++)
			for (size_t c = 0; c < products->columns; c++) {
				counts[design->level[next * products->columns + c]] += 1;
				total[design->level[next * products->columns + c]] += 1;
			}
		add_counts(products->about_treatments, levels, counts, -1.0 / (double)(next - i));
	}
	add_counts(products->about_mean, levels, total, -1.0 / (double)design->n);
}

/* Brews with a response, treatment by treatment: a counting sort. */
static bool gather(struct design *design, const struct analysis *analysis)
{
	const struct run *run = analysis->run;
	size_t *start = calloc(run->treatment_count + 2, sizeof(*start));

	if (!start)
		return false;
	for (size_t b = 0; b < run->brew_count; b++)
		if (isfinite(analysis->brews[b].response))
			start[run->brews[b].treatment + 1]++;
	for (size_t t = 0; t < run->treatment_count; t++)
		start[t + 1] += start[t];
	for (size_t b = 0; b < run->brew_count; b++)
		if (isfinite(analysis->brews[b].response)) {
			design->brew[start[run->brews[b].treatment]++] = b;
			design->n++;
		}
	free(start);
	return true;
}

static bool fill(struct products *products, const struct analysis *analysis, struct design *design,
                 const size_t *columns)
{
	double *counts;
	size_t room;
	bool done = gather(design, analysis);

	for (size_t c = 0; done && c < products->columns; c++) {
		products->start[c] = products->levels;
		done = number_words(products, design, &analysis->run->columns[columns[c]], c);
	}
	products->start[products->columns] = products->levels;
	if (!done || products->levels > JOINT_LEVELS || design->n == 0)
		return done;
	room = products->levels * products->levels;
	products->about_mean = calloc(room, sizeof(*products->about_mean));
	products->about_treatments = calloc(room, sizeof(*products->about_treatments));
	products->work = calloc(room, sizeof(*products->work));
	products->pick = calloc(products->levels, sizeof(*products->pick));
	counts = calloc(2 * products->levels, sizeof(*counts));
	done = products->about_mean && products->about_treatments && products->work && products->pick && counts;
	if (done)
		multiply(products, analysis, design, counts, counts + products->levels);
	free(counts);
	return done;
}

static void products_release(struct products *products)
{
	free(products->about_mean);
	free(products->about_treatments);
	free(products->work);
	free(products->pick);
}

/* Leaves products->pick NULL where there are too many levels to look at. False without memory. */
static bool products_make(struct products *products, const struct analysis *analysis, const size_t *columns,
                          size_t count)
{
	size_t brews = analysis->run->brew_count;
	struct design design = { .n = 0 };
	bool done;

	*products = (struct products){ .columns = count };
	design.brew = calloc(brews + 1, sizeof(*design.brew));
	design.level = calloc(brews * count + 1, sizeof(*design.level));
	done = design.brew && design.level && fill(products, analysis, &design, columns);
	free(design.brew);
	free(design.level);
	return done;
}

/* By Cholesky's factor with the largest pivot first; uses a up. */
static size_t rank_of(double *a, size_t n)
{
	double scale = 0;
	size_t rank = 0;

	for (size_t i = 0; i < n; i++)
		scale = fmax(scale, a[i * n + i]);
	for (; rank < n; rank++) {
		size_t best = 0;

		for (size_t i = 1; i < n; i++)
			if (a[i * n + i] > a[best * n + best])
				best = i;
		if (!(a[best * n + best] > NOTHING_LEFT * scale))
			break;
		for (size_t i = 0; i < n; i++) {
			double factor = a[i * n + best] / a[best * n + best];

			if (i != best && factor != 0)
				for (size_t k = 0; k < n; k++)
					a[i * n + k] -= factor * a[best * n + k];
		}
		for (size_t k = 0; k < n; k++)
			a[best * n + k] = a[k * n + best] = 0;
	}
	return rank;
}

static size_t picked_rank(const struct products *products, const double *matrix, size_t n)
{
	for (size_t i = 0; i < n; i++)
		for (size_t k = 0; k < n; k++)
			products->work[i * n + k] = matrix[products->pick[i] * products->levels + products->pick[k]];
	return rank_of(products->work, n);
}

/* Comparisons of treatments lost to the columns set[0..count) (places among products' columns). */
static size_t lost_to(const struct products *products, const size_t *set, size_t count)
{
	size_t n = 0, alone;

	for (size_t i = 0; i < count; i++)
		for (size_t level = products->start[set[i]]; level < products->start[set[i] + 1]; level++)
			products->pick[n++] = level;
	alone = picked_rank(products, products->about_mean, n);
	return alone - picked_rank(products, products->about_treatments, n);
}

size_t joint_aliasing_lost(const struct analysis *analysis, const size_t *columns, size_t count)
{
	struct products products;
	size_t set[JOINT_COLUMNS], lost = 0;
	bool made;

	count = count < JOINT_COLUMNS ? count : JOINT_COLUMNS;
	made = products_make(&products, analysis, columns, count);
	for (size_t c = 0; c < count; c++)
		set[c] = c;
	if (made && products.pick)
		lost = lost_to(&products, set, count);
	products_release(&products);
	return made ? lost : SIZE_MAX;
}

/* -- sentences ---------------------------------------------------------------------- */

/* "scale, server and kettle"; NULL: no memory. */
static const char *name_columns(struct analysis *analysis, const size_t *columns, const size_t *set, size_t count)
{
	const char *list = "";

	for (size_t i = 0; list && i < count; i++)
		list = arena_print(&analysis->memory, "%s%s%.*s", list,
		                   i == 0         ? "" :
		                   i + 1 == count ? " and " :
		                                    ", ",
		                   SLICE_ARG(analysis->run->columns[columns[set[i]]].name));
	return list;
}

static bool say_set(struct analysis *analysis, const size_t *columns, const size_t *set, size_t count, size_t lost)
{
	const char *names = name_columns(analysis, columns, set, count);

	if (!names)
		return false;
	if (count == 2)
		return sentence_say(
			analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, NAN,
			"Neither %.*s nor %.*s alone goes with the treatments, but both together do: %s of treatments "
			"can't be told apart from what these two do together.",
			SLICE_ARG(analysis->run->columns[columns[set[0]]].name),
			SLICE_ARG(analysis->run->columns[columns[set[1]]].name),
			words_count(lost, "comparison", "comparisons").text);
	return sentence_say(
		analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, NAN,
		"None of %s goes with the treatments alone, nor do fewer of them, but together they do: %s of "
		"treatments can't be told apart from what these %zu do together. Keep fewer things changing in the next "
		"run.",
		names, words_count(lost, "comparison", "comparisons").text, count);
}

/* Is one of the sets that were told, as bits, within this one? */
static bool holds_told(const unsigned *told, size_t count, unsigned set)
{
	for (size_t i = 0; i < count; i++)
		if ((told[i] & set) == told[i])
			return true;
	return false;
}

struct search {
	const struct products *products;
	const size_t *columns;
	unsigned told[JOINT_TOLD]; /* sets, a bit a column */
	size_t told_count;
};

static bool try_set(struct analysis *analysis, struct search *search, const size_t *set, size_t count)
{
	unsigned bits = 0;
	size_t lost;

	for (size_t i = 0; i < count; i++)
		bits |= 1U << set[i];
	if (search->told_count == JOINT_TOLD || holds_told(search->told, search->told_count, bits))
		return true;
	lost = lost_to(search->products, set, count);
	if (lost == 0)
		return true;
	search->told[search->told_count++] = bits;
	return say_set(analysis, search->columns, set, count, lost);
}

static bool try_all(struct analysis *analysis, struct search *search)
{
	size_t n = search->products->columns, set[JOINT_COLUMNS];
	bool done = true;

	for (size_t a = 0; a < n; a++)
		for (size_t b = a + 1; done && b < n; b++)
			done = try_set(analysis, search, (const size_t[]){ a, b }, 2);
	for (size_t a = 0; a < n; a++)
		for (size_t b = a + 1; b < n; b++)
			for (size_t c = b + 1; done && c < n; c++)
				done = try_set(analysis, search, (const size_t[]){ a, b, c }, 3);
	for (size_t c = 0; c < n; c++)
		set[c] = c;
	return done && (n < 4 || search->told_count > 0 || try_set(analysis, search, set, n));
}

bool joint_aliasing_say(struct analysis *analysis, const size_t *columns, size_t count)
{
	struct products products;
	struct search search = { .products = &products, .columns = columns };
	bool done;

	count = count < JOINT_COLUMNS ? count : JOINT_COLUMNS;
	if (count < 2)
		return true;
	done = products_make(&products, analysis, columns, count);
	if (done && products.pick)
		done = try_all(analysis, &search);
	else if (done && products.levels > JOINT_LEVELS)
		done = sentence_say(
			analysis, TOPIC_FAIRNESS, SEVERITY_NOTE, NAN,
			"The circumstances have too many different words (%zu) to be looked at together; each was "
			"looked at alone.",
			products.levels);
	products_release(&products);
	return done;
}
