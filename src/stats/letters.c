/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "letters.h"

#include <math.h>
#include <string.h>

#define BITS     64
#define ALPHABET 26

static size_t row_words(size_t k)
{
	return (k + BITS - 1) / BITS;
}

size_t letters_words(size_t k, size_t room)
{
	return row_words(k) * (room + 2);
}

static bool bit_has(const uint64_t *set, size_t bit)
{
	return set[bit / BITS] >> (bit % BITS) & 1;
}

static void bit_add(uint64_t *set, size_t bit)
{
	set[bit / BITS] |= (uint64_t)1 << (bit % BITS);
}

/* Treatments from the largest mean down, equal ones as given, those without a mean last. */
static void order_by_mean(size_t *order, const double *means, size_t k)
{
	for (size_t i = 0; i < k; i++) {
		size_t at = i;

		for (; at > 0 && (means[order[at - 1]] < means[i] || (isnan(means[order[at - 1]]) && !isnan(means[i])));
		     at--)
			order[at] = order[at - 1];
		order[at] = i;
	}
}

/* The cliques so far, of the places before that of the treatment being added. */
struct search {
	uint64_t *rows;
	uint64_t *common; /* the places it was not found to differ from */
	uint64_t *part;   /* what one clique has in common with these */
	size_t width;
	size_t count;
	size_t room;
};

static void find_common(struct search *search, const bool *differ, const size_t *order, size_t k, size_t place)
{
	size_t a = order[place];

	memset(search->common, 0, search->width * sizeof(*search->common));
	for (size_t i = 0; i < place; i++) {
		size_t b = order[i];

		if (!differ[a < b ? a * k + b : b * k + a])
			bit_add(search->common, i);
	}
}

/* Does other have all of part in common with the treatment, and more, or (being first) just as much? */
static bool covers(const struct search *search, const uint64_t *other, bool first)
{
	bool more = false;

	for (size_t w = 0; w < search->width; w++) {
		uint64_t shared = other[w] & search->common[w];

		if (search->part[w] & ~shared)
			return false;
		more = more || search->part[w] != shared;
	}
	return more || first;
}

static bool part_is_maximal(const struct search *search, size_t row)
{
	for (size_t i = 0; i < search->count; i++)
		if (i != row && covers(search, search->rows + i * search->width, i < row))
			return false;
	return true;
}

/*
 * The maximal cliques holding the new place are the largest intersections of
 * the old ones with what it has in common. An old clique it has wholly in
 * common grows; from another, the part becomes a clique of its own. Old
 * cliques that do not grow stay maximal, so the count never shrinks.
 */
static bool add_place(struct search *search, size_t place)
{
	size_t width = search->width;
	size_t added = 0;

	for (size_t i = 0; i < search->count; i++) {
		uint64_t *row = search->rows + i * width;
		bool whole = true;

		for (size_t w = 0; w < width; w++) {
			search->part[w] = row[w] & search->common[w];
			whole = whole && search->part[w] == row[w];
		}
		if (whole) {
			bit_add(row, place);
		} else if (part_is_maximal(search, i)) {
			if (search->count + added == search->room)
				return false;
			uint64_t *fresh = search->rows + (search->count + added++) * width;

			memcpy(fresh, search->part, width * sizeof(*fresh));
			bit_add(fresh, place);
		}
	}
	search->count += added;
	return true;
}

/* Rows are no subsets of each other: the one with the first place that the other lacks comes first. */
static bool row_before(const uint64_t *a, const uint64_t *b, size_t width)
{
	for (size_t w = 0; w < width; w++) {
		uint64_t differing = a[w] ^ b[w];

		if (differing)
			return a[w] & differing & (~differing + 1);
	}
	return false;
}

/* search->part is free by now and holds the row being moved. */
static void sort_rows(struct search *search)
{
	size_t width = search->width;
	size_t bytes = width * sizeof(*search->rows);

	for (size_t i = 1; i < search->count; i++) {
		size_t at = i;

		memcpy(search->part, search->rows + i * width, bytes);
		for (; at > 0 && row_before(search->part, search->rows + (at - 1) * width, width); at--)
			memcpy(search->rows + at * width, search->rows + (at - 1) * width, bytes);
		memcpy(search->rows + at * width, search->part, bytes);
	}
}

struct letters letters_find(const double *means, const bool *differ, size_t k, size_t *order, uint64_t *words,
                            size_t room)
{
	size_t width = row_words(k);
	struct letters letters = { .treatments = k, .order = order, .sets = words };
	struct search search = {
		.rows = words,
		.common = words + room * width,
		.part = words + (room + 1) * width,
		.width = width,
		.room = room,
	};

	order_by_mean(order, means, k);
	if (k > 0) {
		if (room == 0)
			return letters;
		memset(words, 0, width * sizeof(*words));
		bit_add(words, 0);
		search.count = 1;
	}
	for (size_t place = 1; place < k; place++) {
		find_common(&search, differ, order, k, place);
		if (!add_place(&search, place))
			return letters;
	}
	sort_rows(&search);
	letters.count = search.count;
	letters.complete = true;
	return letters;
}

static size_t place_of(const struct letters *letters, size_t treatment)
{
	size_t place = 0;

	while (letters->order[place] != treatment)
		place++;
	return place;
}

bool letters_has(const struct letters *letters, size_t treatment, size_t letter)
{
	size_t width = row_words(letters->treatments);

	if (treatment >= letters->treatments || letter >= letters->count)
		return false;
	return bit_has(letters->sets + letter * width, place_of(letters, treatment));
}

struct label {
	char *text;
	size_t size;
	size_t length;
};

static void label_put(struct label *label, char c)
{
	if (label->length + 1 < label->size) {
		label->text[label->length] = c;
		label->text[label->length + 1] = '\0';
	}
	label->length++;
}

/* a, ... z, aa, ab, ... */
static void label_letter(struct label *label, size_t letter)
{
	char digits[16];
	size_t count = 0;

	for (size_t rest = letter + 1; rest > 0; rest = (rest - 1) / ALPHABET)
		digits[count++] = (char)('a' + (rest - 1) % ALPHABET);
	while (count > 0)
		label_put(label, digits[--count]);
}

size_t letters_text(const struct letters *letters, size_t treatment, char *text, size_t size)
{
	struct label label = { text, size, 0 };

	if (size > 0)
		text[0] = '\0';
	if (treatment >= letters->treatments)
		return 0;
	size_t width = row_words(letters->treatments);
	size_t place = place_of(letters, treatment);

	for (size_t i = 0; i < letters->count; i++) {
		if (!bit_has(letters->sets + i * width, place))
			continue;
		if (letters->count > ALPHABET && label.length > 0)
			label_put(&label, ' ');
		label_letter(&label, i);
	}
	return label.length;
}
