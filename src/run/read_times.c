/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "read_times.h"

#include <stdlib.h>

#include "timestamp.h"

/* Days on which moments lie that tell theirs. */
struct days {
	int64_t first, last;
	bool any;
};

static void days_add(struct days *days, int64_t us)
{
	int64_t day = moment_day(us);

	if (us == READING_NO_TIME || moment_undated(us))
		return;
	days->first = !days->any || day < days->first ? day : days->first;
	days->last = !days->any || day > days->last ? day : days->last;
	days->any = true;
}

/* What to add to a time of day; 0: nothing is known, or several days are. */
static int64_t days_one_us(const struct days *days)
{
	return days->any && days->first == days->last ? days->first * MOMENT_DAY_US : 0;
}

/* READING_NO_TIME is no time of day, and stays. */
static int64_t dated(int64_t us, int64_t day_us)
{
	return moment_undated(us) ? us + day_us : us;
}

/* What was taken out, or came twice, has no say in what day it is. */
static bool is_without_label(const struct reading *reading)
{
	return reading_of_a_cup(reading) && reading->line->label.len == 0;
}

static bool has_dateless(const struct run *run)
{
	for (size_t i = 0; i < run->brew_count; i++)
		if (moment_undated(run->brews[i].read_to_us))
			return true;
	return false;
}

static struct days days_of_readings(const struct run *run)
{
	struct days days = { .any = false };

	if (!has_dateless(run))
		return days;
	for (size_t i = 0; i < run->reading_count; i++)
		if (is_without_label(&run->readings[i]))
			days_add(&days, run->readings[i].line->taken_us);
	return days;
}

static size_t count_dateless(const struct run *run)
{
	size_t count = 0;

	for (size_t i = 0; i < run->reading_count; i++)
		count += is_without_label(&run->readings[i]) && moment_undated(run->readings[i].line->taken_us);
	return count;
}

static struct days days_of_windows(const struct read_times *times)
{
	struct days days = { .any = false };

	for (size_t i = 0; i < times->count; i++)
		days_add(&days, times->windows[i].from);
	return days;
}

static int window_compare(const void *left, const void *right)
{
	const struct read_window *a = left;
	const struct read_window *b = right;

	if (a->from != b->from)
		return a->from < b->from ? -1 : 1;
	return a->brew < b->brew ? -1 : a->brew > b->brew;
}

static void windows_fill(struct read_times *times, const struct run *run)
{
	struct days days = days_of_readings(run);
	int64_t day_us = days_one_us(&days);

	for (size_t i = 0; i < run->brew_count; i++) {
		int64_t from = run->brews[i].read_from_us, to = run->brews[i].read_to_us;

		if (from == READING_NO_TIME || to == READING_NO_TIME)
			continue;
		times->dateless += moment_undated(from) && days.any && day_us == 0;
		times->windows[times->count++] = (struct read_window){ dated(from, day_us), dated(to, day_us), 0,
			                                               (uint32_t)i };
	}
}

bool read_times_collect(struct read_times *times, const struct run *run)
{
	struct days days;
	int64_t last = INT64_MIN;

	*times = (struct read_times){ .windows = malloc((run->brew_count + 1) * sizeof(*times->windows)) };
	if (!times->windows)
		return false;
	windows_fill(times, run);
	qsort(times->windows, times->count, sizeof(*times->windows), window_compare);
	for (size_t i = 0; i < times->count; i++) {
		last = times->windows[i].to > last ? times->windows[i].to : last;
		times->windows[i].last = last;
	}
	days = days_of_windows(times);
	times->reading_day_us = days_one_us(&days);
	if (days.any && times->reading_day_us == 0)
		times->dateless_readings = count_dateless(run);
	return true;
}

uint32_t read_times_brew(const struct read_times *times, int64_t taken_us, bool *several)
{
	int64_t moment = dated(taken_us, times->reading_day_us);
	uint32_t brew = READING_NO_BREW;
	size_t from = 0;
	size_t to = times->count;

	*several = false;
	if (moment == READING_NO_TIME)
		return READING_NO_BREW;
	while (from < to) {
		size_t middle = from + (to - from) / 2;

		if (times->windows[middle].from <= moment)
			from = middle + 1;
		else
			to = middle;
	}
	for (; from > 0 && times->windows[from - 1].last >= moment; from--) {
		if (times->windows[from - 1].to < moment)
			continue;
		*several = brew != READING_NO_BREW;
		if (*several)
			return READING_NO_BREW;
		brew = times->windows[from - 1].brew;
	}
	return brew;
}

void read_times_release(struct read_times *times)
{
	free(times->windows);
	*times = (struct read_times){ .windows = NULL };
}
