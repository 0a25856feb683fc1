/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "figure_parts.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "clean_text.h"
#include "digits.h"
#include "text.h"

#define LEFT_TO_RIGHT "\u200E"
#define NO_BREAK      "\u00A0"

#define ROW_GAP       12.0
#define NAME_WIDTH    150.0
#define TOUCHED       8.0 /* area of points that a name may cover without harm */
#define LIST_GAP      8.0
#define VALUE_SHARE   0.62 /* of the width that a row's value takes at most */

double figure_head(struct figure *figure)
{
	const double width = FIGURE_WIDTH - 2.0 * FIGURE_MARGIN;
	double y = FIGURE_MARGIN;

	figure_layer(figure, LAYER_TEXT);
	y += figure_text(figure, FIGURE_MARGIN, y, phrase_slice(figure_title(figure)),
	                 &(struct figure_type){ .size = FIGURE_TITLE, .bold = true, .width = width, .lines = 3 })
	             .height;
	y += 3;
	y += figure_note(figure, y, phrase_slice(figure_caption(figure)));
	return y;
}

double figure_note(struct figure *figure, double y, struct slice words)
{
	figure_layer(figure, LAYER_TEXT);
	return figure_text(figure, FIGURE_MARGIN, y, words,
	                   &(struct figure_type){
				   .tint = TINT_SOFT, .width = FIGURE_WIDTH - 2.0 * FIGURE_MARGIN, .lines = 8 })
	        .height;
}

double figure_row(struct figure *figure, double y, struct slice name, struct slice value)
{
	const double width = FIGURE_WIDTH - 2.0 * FIGURE_MARGIN;
	struct figure_type type = { .size = FIGURE_LABEL, .anchor = ANCHOR_END, .width = VALUE_SHARE * width };
	struct figure_size right, left;

	figure_layer(figure, LAYER_TEXT);
	right = figure_text(figure, FIGURE_WIDTH - FIGURE_MARGIN, y, value, &type);
	type = (struct figure_type){
		.size = FIGURE_LABEL, .bold = true, .width = width - right.width - ROW_GAP, .lines = 2
	};
	left = figure_text(figure, FIGURE_MARGIN, y, name, &type);
	return y + fmax(left.height, right.height);
}

/* -- names beside points --------------------------------------------------------------- */

struct box {
	double x, y, width, height;
};

enum { NAMES_MOST = 60, NAMED_MOST = 16, DIRECTIONS = 16, RINGS = 6 };

static const struct figure_type name_type = { .size = FIGURE_SMALL, .width = NAME_WIDTH, .lines = 2 };

static double overlap(const struct box *a, const struct box *b)
{
	double width = fmin(a->x + a->width, b->x + b->width) - fmax(a->x, b->x);
	double height = fmin(a->y + a->height, b->y + b->height) - fmax(a->y, b->y);

	return width > 0 && height > 0 ? width * height : 0;
}

static bool inside(const struct box *box, const struct frame *frame)
{
	return box->x >= frame->left && box->y >= frame->top && box->x + box->width <= frame->right &&
	       box->y + box->height <= frame->bottom;
}

struct search {
	const struct frame *frame;
	const struct named_point *points;
	size_t count;
	const struct box *placed;
	size_t placed_count;
};

/* What a box for a name would cover: names count more than points. */
static double covered(const struct search *search, const struct box *box)
{
	const struct box roomy = { box->x - 2, box->y, box->width + 4, box->height };
	double cost = 0;

	for (size_t i = 0; i < search->placed_count; i++)
		cost += 4 * overlap(&roomy, &search->placed[i]);
	for (size_t i = 0; i < search->count; i++) {
		double r = search->points[i].radius + 1;
		const struct box dot = { search->points[i].x - r, search->points[i].y - r, 2 * r, 2 * r };

		cost += overlap(&roomy, &dot);
	}
	return cost;
}

static struct box box_at(const struct named_point *point, struct figure_size size, double reach, int direction)
{
	double angle = direction * 2 * 3.14159265358979323846 / DIRECTIONS;
	double x = point->x + reach * cos(angle), y = point->y + reach * sin(angle);

	/* the side that faces the point touches the circle */
	return (struct box){ x - size.width / 2 + size.width / 2 * cos(angle),
		             y - size.height / 2 + size.height / 2 * sin(angle), size.width, size.height };
}

/* How many points the line from a point to its name would cross. */
static double crossed(const struct search *search, const struct named_point *point, const struct box *box)
{
	double x = fmin(fmax(point->x, box->x), box->x + box->width) - point->x;
	double y = fmin(fmax(point->y, box->y), box->y + box->height) - point->y;
	double length = x * x + y * y;
	double count = 0;

	for (size_t i = 0; length > 0 && i < search->count; i++) {
		double dx = search->points[i].x - point->x, dy = search->points[i].y - point->y;
		double along = fmin(fmax((dx * x + dy * y) / length, 0), 1);

		count += &search->points[i] != point &&
		         hypot(dx - along * x, dy - along * y) < search->points[i].radius;
	}
	return count;
}

/* The best place for a name; *cost is what it covers there. */
static struct box find_place(const struct search *search, const struct named_point *point, struct figure_size size,
                             double *cost)
{
	struct box best = { point->x, point->y, size.width, size.height };
	double least = INFINITY;

	*cost = INFINITY;
	for (int ring = 0; ring < RINGS; ring++)
		for (int direction = 0; direction < DIRECTIONS; direction++) {
			struct box box = box_at(point, size, point->radius + 3 + 12.0 * ring, direction);
			double cover, all;

			if (!inside(&box, search->frame))
				continue;
			cover = covered(search, &box);
			/* to the right is where a name is looked for */
			all = 10 * cover + 12 * crossed(search, point, &box) + 8.0 * ring +
			      (direction == 0              ? 0 :
			       direction == DIRECTIONS / 2 ? 1 :
			                                     3);
			if (all >= least)
				continue;
			least = all;
			*cost = cover;
			best = box;
		}
	return best;
}

static void lead(struct figure *figure, const struct named_point *point, const struct box *box)
{
	/* NOLINTBEGIN(clang-analyzer-core.CallAndMessage): the box of a point that is named is set */
	double x = fmin(fmax(point->x, box->x), box->x + box->width);
	double y = fmin(fmax(point->y, box->y), box->y + box->height);
	/* NOLINTEND(clang-analyzer-core.CallAndMessage) */
	double away = hypot(x - point->x, y - point->y);

	if (away < point->radius + 6)
		return;
	figure_layer(figure, LAYER_DATA);
	figure_line(figure, point->x + (x - point->x) * point->radius / away,
	            point->y + (y - point->y) * point->radius / away, x, y, 0.8, TINT_SOFT);
}

static struct slice name_of(const struct named_point *point, size_t number, bool numbers, char room[16])
{
	if (!numbers)
		return point->name;
	snprintf(room, 16, "%zu", number);
	return slice_from(room);
}

/* False: not all of them fit. Places are kept; nothing is drawn. */
static bool place_all(struct figure *figure, const struct frame *frame, const struct named_point *points, size_t count,
                      struct box *boxes, bool numbers)
{
	struct search search = { frame, points, count, boxes, 0 };
	size_t named = 0;
	char room[16];
	bool all = true;

	for (size_t i = 0; i < count && named < NAMES_MOST; i++) {
		struct figure_size size;
		double cost;

		if (points[i].name.len == 0)
			continue;
		size = figure_measure(figure, name_of(&points[i], named + 1, numbers, room), &name_type);
		boxes[named] = find_place(&search, &points[i], size, &cost);
		all = all && cost <= TOUCHED;
		search.placed_count = ++named;
	}
	return all && named <= NAMED_MOST;
}

static double draw_list(struct figure *figure, const struct named_point *points, size_t count, double y)
{
	const double width = (FIGURE_WIDTH - 2.0 * FIGURE_MARGIN - 2 * LIST_GAP) / 2;
	const struct figure_type type = { .size = FIGURE_SMALL, .width = width - 26, .lines = 3 };
	const struct figure_type number_type = { .size = FIGURE_SMALL, .anchor = ANCHOR_END, .tint = TINT_SOFT };
	double row_end = y + LIST_GAP, row = row_end;
	size_t number = 0;
	char room[16];

	figure_layer(figure, LAYER_TEXT);
	for (size_t i = 0; i < count && number < NAMES_MOST; i++) {
		double x = FIGURE_MARGIN + (number % 2 == 0 ? 0 : width + 2 * LIST_GAP);
		double end;

		if (points[i].name.len == 0)
			continue;
		if (number % 2 == 0)
			row = row_end;
		snprintf(room, sizeof(room), "%zu", ++number);
		figure_text(figure, x + 20, row, slice_from(room), &number_type);
		end = row + figure_text(figure, x + 26, row, points[i].name, &type).height + 1;
		row_end = number % 2 == 1 ? end : fmax(row_end, end);
	}
	return row_end;
}

double figure_names(struct figure *figure, const struct frame *frame, struct named_point *points, size_t count,
                    double y)
{
	struct box boxes[NAMES_MOST];
	bool numbers = !place_all(figure, frame, points, count, boxes, false);
	size_t named = 0;
	char room[16];

	if (numbers)
		place_all(figure, frame, points, count, boxes, true);
	for (size_t i = 0; i < count && named < NAMES_MOST; i++) {
		struct slice name;

		if (points[i].name.len == 0)
			continue;
		name = name_of(&points[i], named + 1, numbers, room);
		lead(figure, &points[i], &boxes[named]);
		figure_layer(figure, LAYER_TEXT);
		figure_text(figure, boxes[named].x, boxes[named].y, name, &name_type);
		named++;
	}
	return numbers ? draw_list(figure, points, count, y) : y;
}

/* -- words -------------------------------------------------------------------------------- */

void figure_say_name(struct phrase *phrase, struct slice name)
{
	bool plain = true;

	for (size_t i = 0; i < name.len; i++)
		plain = plain && (unsigned char)name.text[i] < 0x80;
	if (!plain)
		phrase_words(phrase, LEFT_TO_RIGHT);
	clean_text_add(phrase, name);
	if (!plain)
		phrase_words(phrase, LEFT_TO_RIGHT);
}

void figure_say_short_name(struct phrase *phrase, struct slice name, size_t most)
{
	struct slice valid = slice_part(name, 0, utf8_valid_part(name));
	size_t end = 0;

	if (utf8_count(valid) <= most) {
		figure_say_name(phrase, name);
		return;
	}
	while (end < valid.len && utf8_count(slice_part(valid, 0, end)) < most - 1) {
		end++;
		while (end < valid.len && ((unsigned char)valid.text[end] & 0xC0) == 0x80)
			end++;
	}
	figure_say_name(phrase, slice_trim(slice_part(valid, 0, end)));
	phrase_words(phrase, "…");
}

void figure_say_capital(struct phrase *phrase, const char *words)
{
	size_t at = phrase->len;

	clean_text_add(phrase, slice_from(words));
	if (!phrase->failed && phrase->len > at && phrase->text[at] >= 'a' && phrase->text[at] <= 'z')
		phrase->text[at] = (char)(phrase->text[at] - 'a' + 'A');
}

void figure_say_p(struct phrase *phrase, const char *before, double p)
{
	struct words digits = digits_p(p);

	phrase_words(phrase, before);
	phrase_words(phrase, digits.text[0] == '<' ? "p" NO_BREAK "<" NO_BREAK : "p" NO_BREAK "=" NO_BREAK);
	phrase_words(phrase, digits.text[0] == '<' ? digits.text + 2 : digits.text);
}

void figure_say_response(struct phrase *phrase, const struct response *response)
{
	figure_say_capital(phrase, response->name);
	if (response->unit[0] != '\0') {
		phrase_words(phrase, ", ");
		clean_text_add(phrase, slice_from(response->unit));
	}
}

void figure_say_count(struct phrase *phrase, size_t count, const char *one, const char *more)
{
	phrase_words(phrase, words_count(count, one, more).text);
}
