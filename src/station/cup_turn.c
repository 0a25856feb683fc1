/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cup_turn.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

size_t cup_order_find(const struct cup_order *order, struct slice label)
{
	for (size_t i = 0; i < order->count; i++)
		if (slice_equal(order->labels[i], label))
			return i;
	return CUP_NONE;
}

/* The first cup behind from, going round once, that wants readings. from CUP_NONE: from the first on. */
static size_t cup_after(const struct cup_turn *turn, size_t from)
{
	size_t count = turn->order->count;
	size_t first = from == CUP_NONE ? 0 : from + 1;

	for (size_t i = 0; i < count; i++) {
		size_t cup = (first + i) % count;

		if (cup != from && turn->taken[cup] < turn->wanted)
			return cup;
	}
	return CUP_NONE;
}

/* Puts that cup on the prism; one that has enough gets as many readings again. */
static void cup_put(struct cup_turn *turn, size_t cup)
{
	turn->role = READING_SAMPLE;
	turn->cup = cup;
	turn->other[0] = '\0';
	turn->other_taken = turn->checks = 0;
	turn->standard_percent = NAN;
	turn->goal = turn->wanted;
	if (cup != CUP_NONE && turn->taken[cup] >= turn->wanted)
		turn->goal = turn->taken[cup] + turn->wanted;
}

void cup_turn_start(struct cup_turn *turn, const struct cup_order *order, unsigned *taken, unsigned wanted,
                    bool by_hand)
{
	*turn = (struct cup_turn){ .order = order, .taken = taken, .wanted = wanted, .before = CUP_NONE };
	cup_put(turn, by_hand ? CUP_NONE : cup_after(turn, CUP_NONE));
}

bool cup_turn_set(struct cup_turn *turn, struct slice label)
{
	size_t cup = cup_order_find(turn->order, label);

	if (label.len == 0 || label.len >= CUP_LABEL)
		return false;
	cup_put(turn, cup);
	if (cup == CUP_NONE) {
		memcpy(turn->other, label.text, label.len);
		turn->other[label.len] = '\0';
	}
	return true;
}

void cup_turn_check(struct cup_turn *turn, double standard_percent)
{
	if (turn->role == READING_SAMPLE)
		turn->before = turn->cup;
	turn->role = standard_percent > 0 ? READING_STANDARD : READING_ZERO;
	turn->standard_percent = standard_percent > 0 ? standard_percent : NAN;
	turn->checks = 0;
	turn->goal = turn->wanted;
}

bool cup_turn_step(struct cup_turn *turn, int step)
{
	size_t from = turn->role == READING_SAMPLE ? turn->cup : turn->before;

	if (turn->order->count == 0)
		return false;
	if (turn->role != READING_SAMPLE && from != CUP_NONE && step > 0)
		cup_put(turn, from);
	else if (from == CUP_NONE)
		cup_put(turn, step > 0 ? 0 : turn->order->count - 1);
	else if (step > 0 && from + 1 < turn->order->count)
		cup_put(turn, from + 1);
	else if (step < 0 && from > 0)
		cup_put(turn, from - 1);
	else
		return false;
	return true;
}

bool cup_turn_again(struct cup_turn *turn)
{
	size_t cup = turn->cup;

	if (turn->role != READING_SAMPLE || turn->other[0]) {
		turn->checks = turn->other_taken = 0;
		return true;
	}
	if (turn->order->count == 0)
		return false;
	if (cup == CUP_NONE)
		cup = turn->order->count;
	/* straight after it moved on: the cup before it is meant, which is still at hand */
	if (cup > 0 && (cup == turn->order->count || turn->taken[cup] == 0))
		cup--;
	cup_put(turn, cup);
	turn->goal = turn->taken[cup] + turn->wanted;
	return true;
}

void cup_turn_none(struct cup_turn *turn)
{
	cup_put(turn, CUP_NONE);
}

struct cup_taken cup_turn_pass(const struct cup_turn *turn, struct slice own)
{
	struct cup_taken taken = { .role = turn->role, .goal = turn->goal, .standard_percent = turn->standard_percent };

	if (own.len > 0) {
		taken.role = READING_SAMPLE;
		taken.standard_percent = NAN;
		taken.label = own;
		taken.goal = turn->wanted;
	} else if (turn->role == READING_SAMPLE) {
		taken.label = turn->cup != CUP_NONE ? turn->order->labels[turn->cup] : slice_from(turn->other);
	}
	return taken;
}

/* Leaves the cup that is done. */
static void move_on(struct cup_turn *turn, struct cup_taken *taken)
{
	taken->moved = true;
	cup_put(turn, cup_after(turn, turn->cup));
	taken->all_done = turn->cup == CUP_NONE;
}

static void take_check(struct cup_turn *turn, struct cup_taken *taken)
{
	size_t before = turn->before;

	taken->count = ++turn->checks;
	if (turn->order->count == 0 || turn->checks < turn->goal)
		return;
	taken->moved = true;
	if (before != CUP_NONE && turn->taken[before] < turn->wanted)
		cup_put(turn, before);
	else
		cup_put(turn, cup_after(turn, before));
}

static void take_sample(struct cup_turn *turn, struct cup_taken *taken)
{
	size_t cup = cup_order_find(turn->order, taken->label);

	if (cup == CUP_NONE) {
		taken->count = taken->label.len > 0 ? ++turn->other_taken : 0;
		return;
	}
	taken->count = ++turn->taken[cup];
	if (cup != turn->cup || turn->role != READING_SAMPLE) {
		taken->finished = turn->taken[cup] == turn->wanted;
		return;
	}
	taken->finished = turn->taken[cup] >= turn->goal;
	if (taken->finished)
		move_on(turn, taken);
}

struct cup_taken cup_turn_take(struct cup_turn *turn, struct slice own)
{
	struct cup_taken taken = cup_turn_pass(turn, own);

	if (taken.role == READING_SAMPLE)
		take_sample(turn, &taken);
	else
		take_check(turn, &taken);
	return taken;
}

const char *cup_turn_label(char *out, size_t size, const struct cup_turn *turn)
{
	if (turn->role == READING_ZERO)
		snprintf(out, size, "zero");
	else if (turn->role == READING_STANDARD)
		snprintf(out, size, "standard %.2f", turn->standard_percent);
	else if (turn->cup != CUP_NONE)
		snprintf(out, size, "%.*s", SLICE_ARG(turn->order->labels[turn->cup]));
	else
		snprintf(out, size, "%s", turn->other);
	return out;
}

unsigned cup_turn_count(const struct cup_turn *turn)
{
	if (turn->role != READING_SAMPLE)
		return turn->checks;
	return turn->cup != CUP_NONE ? turn->taken[turn->cup] : turn->other_taken;
}

size_t cup_turn_next(const struct cup_turn *turn)
{
	if (turn->role != READING_SAMPLE && turn->before != CUP_NONE && turn->taken[turn->before] < turn->wanted)
		return turn->before;
	return cup_after(turn, turn->role == READING_SAMPLE ? turn->cup : turn->before);
}

size_t cup_turn_done(const struct cup_turn *turn)
{
	size_t done = 0;

	for (size_t i = 0; i < turn->order->count; i++)
		done += turn->taken[i] >= turn->wanted;
	return done;
}
