/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "labels.h"

#include <stdlib.h>

enum { FIRST_LABELS = 256 };

bool labels_add(struct labels *labels, struct label label)
{
	struct label item = {
		.english = arena_copy(&labels->memory, label.english),
		.own = arena_copy(&labels->memory, label.own),
		.line = label.line,
	};

	if (labels->count == labels->capacity) {
		size_t capacity = labels->capacity > 0 ? 2 * labels->capacity : FIRST_LABELS;
		struct label *items = realloc(labels->items, capacity * sizeof(*items));

		if (!items)
			return false;
		labels->items = items;
		labels->capacity = capacity;
	}
	if (!item.english.text || !item.own.text)
		return false;
	labels->items[labels->count++] = item;
	return true;
}

static int compare(const void *a, const void *b)
{
	const struct label *one = a, *other = b;
	int order = slice_compare(one->english, other->english);

	return order != 0 ? order : (one->line > other->line) - (one->line < other->line);
}

void labels_sort(struct labels *labels)
{
	size_t kept = 0;

	if (labels->count > 0)
		qsort(labels->items, labels->count, sizeof(*labels->items), compare);
	for (size_t i = 0; i < labels->count; i++)
		if (kept == 0 || !slice_equal(labels->items[kept - 1].english, labels->items[i].english))
			labels->items[kept++] = labels->items[i];
	labels->count = kept;
}

struct slice labels_find(const struct labels *labels, struct slice english)
{
	size_t low = 0, high = labels ? labels->count : 0;

	while (low < high) {
		size_t middle = low + (high - low) / 2;
		int order = slice_compare(labels->items[middle].english, english);

		if (order == 0)
			return labels->items[middle].own;
		if (order < 0)
			low = middle + 1;
		else
			high = middle;
	}
	return english;
}

struct slice label_gap(struct slice text, size_t *at)
{
	for (size_t i = *at; i < text.len; i++) {
		size_t end = i + 1;

		if (text.text[i] != '{')
			continue;
		while (end < text.len && ((text.text[end] >= 'a' && text.text[end] <= 'z') || text.text[end] == '_'))
			end++;
		if (end < text.len && end > i + 1 && text.text[end] == '}') {
			*at = end + 1;
			return slice_part(text, i, end + 1);
		}
	}
	*at = text.len;
	return (struct slice){ NULL, 0 };
}

static bool has_gap(struct slice text, struct slice wanted)
{
	size_t at = 0;

	for (struct slice gap = label_gap(text, &at); gap.len > 0; gap = label_gap(text, &at))
		if (slice_equal(gap, wanted))
			return true;
	return false;
}

static bool has_all(struct slice text, struct slice of, struct slice *odd)
{
	size_t at = 0;

	for (struct slice gap = label_gap(of, &at); gap.len > 0; gap = label_gap(of, &at)) {
		if (!has_gap(text, gap)) {
			*odd = gap;
			return false;
		}
	}
	return true;
}

bool labels_same_gaps(struct slice english, struct slice own, struct slice *odd)
{
	return has_all(own, english, odd) && has_all(english, own, odd);
}

void labels_release(struct labels *labels)
{
	free(labels->items);
	arena_release(&labels->memory);
	*labels = (struct labels)LABELS_INIT;
}
