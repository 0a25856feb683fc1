/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "joint_aliasing.h"

#include <math.h>
#include <stdlib.h>

#include "sentences.h"

#define NOTHING_LEFT 1e-9 /* of a dummy column's length, once what others span is taken off: it is in their span */

/* An orthonormal basis, built column by column. */
struct basis {
	double *vectors; /* rank of them, n each */
	double *next;    /* the column at hand */
	size_t n, rank, room;
};

/* Takes off basis->next what the basis spans, and adds what is left, if anything is; the basis then is one larger. */
static bool basis_add(struct basis *basis)
{
	double before = 0, after = 0;

	for (size_t i = 0; i < basis->n; i++)
		before += basis->next[i] * basis->next[i];
	/* twice: rounding leaves nothing of what the first pass missed */
	for (int pass = 0; pass < 2; pass++)
		for (size_t k = 0; k < basis->rank; k++) {
			const double *vector = basis->vectors + k * basis->n;
			double dot = 0;

			for (size_t i = 0; i < basis->n; i++)
				dot += vector[i] * basis->next[i];
			for (size_t i = 0; i < basis->n; i++)
				basis->next[i] -= dot * vector[i];
		}
	for (size_t i = 0; i < basis->n; i++)
		after += basis->next[i] * basis->next[i];
	if (!(after > NOTHING_LEFT * before) || basis->rank == basis->room)
		return false;
	for (size_t i = 0; i < basis->n; i++)
		basis->vectors[basis->rank * basis->n + i] = basis->next[i] / sqrt(after);
	basis->rank++;
	return true;
}

struct design {
	size_t *brew; /* those that are compared */
	size_t n;
	size_t *level; /* of each, in the column at hand */
};

/* Numbers the column's words over the brews of design; returns how many there are. */
static size_t number_words(const struct design *design, const struct column *column)
{
	size_t count = 0;

	for (size_t i = 0; i < design->n; i++) {
		size_t k = 0;

		while (k < i && !slice_equal(column->text[design->brew[k]], column->text[design->brew[i]]))
			k++;
		design->level[i] = k < i ? design->level[k] : count++;
	}
	return count;
}

static void add_levels(struct basis *basis, const struct design *design, size_t levels)
{
	for (size_t level = 0; level < levels; level++) {
		for (size_t i = 0; i < design->n; i++)
			basis->next[i] = design->level[i] == level ? 1.0 : 0.0;
		basis_add(basis);
	}
}

static size_t treatments_add(struct basis *basis, const struct analysis *analysis, const struct design *design,
                             size_t *present)
{
	size_t added = 0;

	*present = 0;
	for (size_t t = 0; t < analysis->run->treatment_count; t++) {
		bool any = false;

		for (size_t i = 0; i < design->n; i++) {
			bool is = analysis->run->brews[design->brew[i]].treatment == t;

			basis->next[i] = is ? 1.0 : 0.0;
			any = any || is;
		}
		*present += any;
		added += any && basis_add(basis);
	}
	return added;
}

static size_t count_lost(const struct analysis *analysis, const struct design *design, struct basis *basis,
                         const size_t *columns, size_t count)
{
	size_t present, added, levels = 0;

	for (size_t i = 0; i < basis->n; i++)
		basis->next[i] = 1.0;
	basis_add(basis);
	for (size_t c = 0; c < count; c++) {
		size_t words = number_words(design, &analysis->run->columns[columns[c]]);

		levels += words;
		if (levels > JOINT_LEVELS)
			return 0;
		add_levels(basis, design, words);
	}
	added = treatments_add(basis, analysis, design, &present);
	return present > 0 ? present - 1 - added : 0;
}

size_t joint_aliasing_lost(const struct analysis *analysis, const size_t *columns, size_t count)
{
	size_t brews = analysis->run->brew_count, lost = SIZE_MAX;
	struct design design = { .n = 0 };
	struct basis basis = { .rank = 0 };

	design.brew = calloc(brews + 1, sizeof(*design.brew));
	design.level = calloc(brews + 1, sizeof(*design.level));
	for (size_t b = 0; design.brew && b < brews; b++)
		if (isfinite(analysis->brews[b].response))
			design.brew[design.n++] = b;
	if (design.brew && (design.n == 0 || design.n > JOINT_BREWS)) {
		free(design.brew);
		free(design.level);
		return 0;
	}
	basis.n = design.n;
	basis.room = design.n < JOINT_LEVELS + analysis->run->treatment_count + 1 ?
	                     design.n :
	                     JOINT_LEVELS + analysis->run->treatment_count + 1;
	basis.vectors = calloc(basis.room * basis.n + 1, sizeof(*basis.vectors));
	basis.next = calloc(basis.n + 1, sizeof(*basis.next));
	if (design.brew && design.level && basis.vectors && basis.next)
		lost = count_lost(analysis, &design, &basis, columns, count);
	free(design.brew);
	free(design.level);
	free(basis.vectors);
	free(basis.next);
	return lost;
}

static bool say_two(struct analysis *analysis, size_t a, size_t b, size_t lost)
{
	const struct column *one = &analysis->run->columns[a], *other = &analysis->run->columns[b];

	return sentence_say(
		analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, NAN,
		"Neither %.*s nor %.*s alone goes with the treatments, but both together do: %s of treatments can't be told "
		"apart from what these two do together.",
		SLICE_ARG(one->name), SLICE_ARG(other->name), words_count(lost, "comparison", "comparisons").text);
}

static bool say_all(struct analysis *analysis, size_t count, size_t lost)
{
	return sentence_say(
		analysis, TOPIC_FAIRNESS, SEVERITY_WARNING, NAN,
		"No circumstance goes with the treatments alone, nor do two of them, but all %zu together do: %s of treatments "
		"can't be told apart from what they do together. Keep fewer things changing in the next run.",
		count, words_count(lost, "comparison", "comparisons").text);
}

bool joint_aliasing_say(struct analysis *analysis, const size_t *columns, size_t count)
{
	bool told = false;
	size_t lost;

	count = count < JOINT_COLUMNS ? count : JOINT_COLUMNS;
	for (size_t a = 0; a < count; a++)
		for (size_t b = a + 1; b < count; b++) {
			lost = joint_aliasing_lost(analysis, (const size_t[]){ columns[a], columns[b] }, 2);
			if (lost == SIZE_MAX || (lost > 0 && !say_two(analysis, columns[a], columns[b], lost)))
				return false;
			told = told || lost > 0;
		}
	if (told || count < 3)
		return true;
	lost = joint_aliasing_lost(analysis, columns, count);
	return lost != SIZE_MAX && (lost == 0 || say_all(analysis, count, lost));
}
