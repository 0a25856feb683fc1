/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * stages_bench MANIFEST READINGS [TURNS]: what reading, joining and statistics take by themselves, each beside a floor that
 * does the least of the same: reading keeps of every value its number and its label, nothing of line, place, unit, time or
 * temperature; joining finds each label among the brews' sorted ones; statistics takes mean and spread of each cup, and of
 * each treatment's cups. Turns alternate; the least processor time of each counts.
 */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "analysis.h"
#include "bench.h"
#include "join.h"
#include "manifest.h"
#include "number.h"
#include "readings.h"
#include "text.h"

enum { READING, JOINING, STATISTICS, STAGES, FEWEST_BYTES = 5 }; /* a value and its blank: for the floor's array */

struct kept {
	double value;
	struct slice label;
	uint32_t brew;
};

struct label {
	struct slice text;
	uint32_t brew;
};

struct cup {
	double sum, squares;
	size_t n;
};

struct floor {
	struct text text;
	struct kept *kept;
	size_t count;
	struct label *labels;
	struct cup *cups, *treatments;
};

static void fail_without(const void *memory)
{
	if (!memory)
		bench_stop_at("stages_bench", STATUS_MEMORY, &(struct error){ "no memory" });
}

/* -- the floors ----------------------------------------------------------------- */

static double plain_number(const char *at, const char *end)
{
	static const double powers[] = { 1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9 };
	const char *mark = memchr(at, '.', (size_t)(end - at));
	uint64_t digits = 0;

	for (; at < end; at++)
		if (*at != '.')
			digits = digits * 10 + (uint64_t)(*at - '0');
	return (double)digits / powers[mark ? end - mark - 1 : 0];
}

static void floor_line(struct floor *floor, const char *at, const char *end)
{
	const char *stop = memchr(at, ' ', (size_t)(end - at));
	struct slice label = { at, stop ? (size_t)(stop - at) : 0 };

	while (stop && stop + 1 < end && stop[1] != '@') {
		at = stop + 1;
		stop = memchr(at, ' ', (size_t)(end - at));
		floor->kept[floor->count++] = (struct kept){ plain_number(at, stop ? stop : end), label, 0 };
	}
}

static void floor_read(struct floor *floor, const char *path)
{
	struct error error = ERROR_INIT;
	const char *at, *end, *stop;

	bench_stop_at(path, text_load(&floor->text, path, &error), &error);
	floor->kept = malloc((floor->text.len / FEWEST_BYTES + 1) * sizeof(*floor->kept));
	fail_without(floor->kept);
	end = floor->text.bytes + floor->text.len;
	for (at = floor->text.bytes; at < end && (stop = memchr(at, '\n', (size_t)(end - at))); at = stop + 1)
		floor_line(floor, at, stop);
}

static int label_up(const void *left, const void *right)
{
	const struct label *a = left, *b = right;

	return slice_compare(a->text, b->text);
}

static void floor_join(struct floor *floor, const struct run *run)
{
	struct label wanted = { .brew = 0 };
	const struct label *found = NULL;

	floor->labels = malloc(run->brew_count * sizeof(*floor->labels));
	fail_without(floor->labels);
	for (size_t b = 0; b < run->brew_count; b++)
		floor->labels[b] = (struct label){ run->brews[b].key, (uint32_t)b };
	qsort(floor->labels, run->brew_count, sizeof(*floor->labels), label_up);
	for (size_t i = 0; i < floor->count; i++) {
		if (!found || floor->kept[i].label.text != wanted.text.text) {
			wanted.text = floor->kept[i].label;
			found = bsearch(&wanted, floor->labels, run->brew_count, sizeof(*floor->labels), label_up);
		}
		if (!found)
			bench_stop_at("floor", STATUS_REFUSED, &(struct error){ "a label is of no brew" });
		floor->kept[i].brew = found->brew;
	}
}

static void cup_add(struct cup *cup, double value)
{
	double before = cup->n ? cup->sum / (double)cup->n : 0;

	cup->n++;
	cup->sum += value;
	cup->squares += (value - before) * (value - cup->sum / (double)cup->n);
}

static double floor_statistics(struct floor *floor, const struct run *run)
{
	double within = 0;

	floor->cups = calloc(run->brew_count, sizeof(*floor->cups));
	floor->treatments = calloc(run->treatment_count, sizeof(*floor->treatments));
	fail_without(floor->cups);
	fail_without(floor->treatments);
	for (size_t i = 0; i < floor->count; i++)
		cup_add(&floor->cups[floor->kept[i].brew], floor->kept[i].value);
	for (size_t b = 0; b < run->brew_count; b++)
		cup_add(&floor->treatments[run->brews[b].treatment], floor->cups[b].sum / (double)floor->cups[b].n *
		                                                             run->brews[b].number[BREW_BEVERAGE_G] /
		                                                             run->brews[b].number[BREW_DOSE_G]);
	for (size_t t = 0; t < run->treatment_count; t++)
		within += floor->treatments[t].squares;
	return within;
}

static void floor_release(struct floor *floor)
{
	text_release(&floor->text);
	free(floor->kept);
	free(floor->labels);
	free(floor->cups);
	free(floor->treatments);
}

/* -- turns ---------------------------------------------------------------------- */

static void least_take(double *least, double start)
{
	double took = bench_cpu_s() - start;

	*least = *least > 0 && *least < took ? *least : took;
}

static size_t turn(char **argv, const struct settings *settings, double *ours, double *least)
{
	struct error error = ERROR_INIT;
	struct faults faults = FAULTS_INIT;
	struct floor floor = { .text = TEXT_INIT };
	struct run *run = run_new();
	struct analysis *analysis;
	size_t count;
	double start;

	fail_without(run);
	bench_stop_at(argv[1], manifest_read(run, argv[1], settings, &faults, &error), &error);
	start = bench_cpu_s();
	bench_stop_at(argv[2], readings_read(run, argv[2], NULL, settings, &faults, &error), &error);
	least_take(&ours[READING], start);
	start = bench_cpu_s();
	floor_read(&floor, argv[2]);
	least_take(&least[READING], start);
	start = bench_cpu_s();
	bench_stop_at("join", join_readings(run, settings, &faults, &error), &error);
	least_take(&ours[JOINING], start);
	start = bench_cpu_s();
	floor_join(&floor, run);
	least_take(&least[JOINING], start);
	start = bench_cpu_s();
	bench_stop_at("analysis", analysis_make(&analysis, run, settings, &error), &error);
	least_take(&ours[STATISTICS], start);
	start = bench_cpu_s();
	if (!(floor_statistics(&floor, run) > 0) || floor.count != analysis->readings_used)
		bench_stop_at("floor", STATUS_REFUSED, &(struct error){ "not the same readings" });
	least_take(&least[STATISTICS], start);
	count = floor.count;
	floor_release(&floor);
	analysis_free(analysis);
	run_free(run);
	faults_release(&faults);
	return count;
}

int main(int argc, char **argv)
{
	static const char *const names[STAGES] = { "reading", "joining", "statistics" };
	double ours[STAGES] = { 0 }, least[STAGES] = { 0 };
	struct settings settings;
	long long turns = 3;
	size_t readings = 0;

	if (argc < 3 || (argc > 3 && !number_parse_count(&turns, slice_from(argv[3])))) {
		fprintf(stderr, "usage: stages_bench MANIFEST READINGS [TURNS]\n");
		return 2;
	}
	settings_init(&settings);
	while (turns-- > 0)
		readings = turn(argv, &settings, ours, least);
	for (int s = 0; s < STAGES; s++)
		printf("  %-12s of %9zu readings %9.1f ms %8.0f ns each; floor %9.1f ms %6.0f ns each; ratio %6.2f\n",
		       names[s], readings, ours[s] * 1e3, ours[s] / (double)readings * 1e9, least[s] * 1e3,
		       least[s] / (double)readings * 1e9, ours[s] / least[s]);
	return 0;
}
