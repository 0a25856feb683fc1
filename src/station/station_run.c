/* SPDX-License-Identifier: GPL-3.0-or-later */
/* station_run.c: the open run: its manifest, its reading order, what its cups have so far. */
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "bench_run.h"
#include "label.h"
#include "ledger_read.h"
#include "ledger_run.h"
#include "manifest.h"
#include "number.h"
#include "station_private.h"

enum { FAULTS_TOLD = 20 };

static const int64_t again_first_us = 500000, again_most_us = 30000000;

/* A brew's place in the order of reading. */
struct place_in_order {
	double order;
	size_t row;
};

static int place_compare(const void *a, const void *b)
{
	const struct place_in_order *left = a, *right = b;

	if (left->order != right->order)
		return left->order < right->order ? -1 : 1;
	return left->row < right->row ? -1 : left->row > right->row;
}

/* The manifest's order column, where every brew has a number in it; else its rows as they stand. */
static void places_fill(struct place_in_order *places, const struct run *run)
{
	bool ordered = true;

	for (size_t i = 0; i < run->brew_count; i++)
		ordered = ordered && !isnan(run->brews[i].number[BREW_ORDER]);
	for (size_t i = 0; i < run->brew_count; i++)
		places[i] = (struct place_in_order){ ordered ? run->brews[i].number[BREW_ORDER] : 0, i };
	qsort(places, run->brew_count, sizeof(*places), place_compare);
}

static bool order_take(struct station_run *open, const struct run *run)
{
	struct place_in_order *places = calloc(run->brew_count + 1, sizeof(*places));
	struct slice *labels = calloc(run->brew_count + 1, sizeof(*labels));
	bool taken = places && labels;

	if (taken)
		places_fill(places, run);
	open->by_time = run->brew_count > 0;
	for (size_t i = 0; taken && i < run->brew_count; i++) {
		const struct brew *brew = &run->brews[places[i].row];

		labels[i] = arena_copy(&open->memory, brew->key);
		taken = labels[i].text != NULL;
		if (brew->read_from_us == READING_NO_TIME || brew->read_to_us == READING_NO_TIME)
			open->by_time = false;
	}
	free(places);
	if (!taken) {
		free(labels);
		return false;
	}
	free(open->labels);
	open->labels = labels;
	open->order = (struct cup_order){ labels, run->brew_count };
	return true;
}

static void faults_tell(struct station *station, struct faults *faults)
{
	size_t told = 0;

	faults_sort(faults);
	for (size_t i = 0; i < faults->count; i++) {
		const struct fault *fault = &faults->items[i];

		if (fault->severity == SEVERITY_NOTE || told++ >= FAULTS_TOLD)
			continue;
		station_say(station, LOG_LEVEL_NOTICE, "%s:%u:%u: %s", fault->place.file ? fault->place.file : "",
		            fault->place.line, fault->place.column, fault->text);
	}
	if (told > FAULTS_TOLD)
		station_say(station, LOG_LEVEL_NOTICE, "and %zu more; \"brewspread check\" tells all of them",
		            told - FAULTS_TOLD);
}

/* What the system refused it may give in a moment; only faults in the manifest wait for somebody to mend them. */
static void again_plan(struct station_run *open, bool failed)
{
	if (!failed)
		open->again_us = 0;
	else if (open->again_us == 0)
		open->again_us = again_first_us;
	else if (open->again_us < again_most_us)
		open->again_us *= 2;
}

/* Reads the manifest; where that fails the order stays as it was. */
static bool manifest_take(struct station *station)
{
	struct station_run *open = &station->run;
	bool again = open->again_us != 0;
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct run *run = run_new();
	enum status status = STATUS_MEMORY;
	bool taken = false;

	if (run)
		status = manifest_read(run, open->manifest, &station->bench->settings, &faults, &error);
	open->faults = faults.warnings + faults.errors;
	faults_tell(station, &faults);
	if (status == STATUS_OK)
		taken = order_take(open, run);
	else if (status != STATUS_REFUSED && !again)
		station_say(station, LOG_LEVEL_DOUBT, "%s", error.text);
	again_plan(open, !taken && status != STATUS_REFUSED);
	if (!taken && !again)
		station_say(station, LOG_LEVEL_DOUBT, "%s can't be used%s", open->manifest,
		            open->order.count > 0 ? "; what it held before is used on" : "");
	faults_release(&faults);
	run_free(run);
	return taken;
}

/* The cup of the order with that label: byte for byte, else the only one with it but for letter case. */
static size_t order_find(const struct cup_order *order, struct slice label)
{
	size_t found = cup_order_find(order, label);
	size_t alike = 0;

	if (found != CUP_NONE)
		return found;
	for (size_t i = 0; i < order->count; i++)
		if (label_nearly_same(order->labels[i], label)) {
			found = i;
			alike++;
		}
	return alike == 1 ? found : CUP_NONE;
}

/* Notes a reading that is in the ledger with the meter that it came from; one that was pasted counts for all. */
static enum status row_count(void *context, const struct ledger_row *row, struct error *error)
{
	struct station *station = context;
	const uint8_t unused = READING_EXCLUDED | READING_REPEAT | READING_STALE | READING_OUT_OF_RANGE;
	size_t cup;

	(void)error;
	if (row->role != READING_SAMPLE || (row->flags & unused) || row->label.len == 0)
		return STATUS_OK;
	cup = order_find(&station->run.order, row->label);
	if (cup == CUP_NONE)
		return STATUS_OK;
	if (station->run.taken)
		station->run.taken[cup]++;
	for (size_t i = 0; i < station->meter_count && !station->run.taken; i++)
		if (station->meters[i]->taken && (row->entry.paste != 0 || station->meters[i]->id == row->entry.meter))
			station->meters[i]->taken[cup]++;
	return STATUS_OK;
}

static void counts_clear(struct station *station)
{
	size_t size = station->run.order.count * sizeof(unsigned);

	if (station->run.taken && size > 0)
		memset(station->run.taken, 0, size);
	for (size_t i = 0; i < station->meter_count; i++)
		if (station->meters[i]->taken && size > 0)
			memset(station->meters[i]->taken, 0, size);
}

void station_run_count(struct station *station)
{
	struct ledger_query query = { .run = station->run.id };
	struct error error = ERROR_INIT;

	if (station->run.id == 0)
		return;
	counts_clear(station);
	if (ledger_each(station->ledger, &query, row_count, station, &error) != STATUS_OK)
		station_say(station, LOG_LEVEL_DOUBT, "the run's readings can't be counted: %s", error.text);
	station->stale_view = true;
}

/* Cups that had enough readings, as was, and have not any more. */
static void lacking_tell(struct station *station, const struct station_meter *meter, const unsigned *was)
{
	const struct cup_turn *turn = &meter->turn;

	for (size_t i = 0; i < turn->order->count; i++)
		if (was[i] >= turn->wanted && turn->taken[i] < turn->wanted)
			station_say(station, LOG_LEVEL_NEWS,
			            "%s: %.*s has %u of %u readings now; name that cup to read it again",
			            meter->about.name, SLICE_ARG(turn->order->labels[i]), turn->taken[i], turn->wanted);
}

void station_run_recount(struct station *station)
{
	size_t cups = station->run.order.count, count = station->meter_count;
	unsigned *was = calloc(cups * count + 1, sizeof(*was));

	for (size_t i = 0; was && i < count; i++)
		if (station->meters[i]->turn.taken && cups > 0)
			memcpy(was + i * cups, station->meters[i]->turn.taken, cups * sizeof(*was));
	station_run_count(station);
	/* meters that share the work share their counts, too */
	for (size_t i = 0; was && i < (station->bench->split && count > 0 ? 1 : count); i++)
		if (station->meters[i]->turn.taken)
			lacking_tell(station, station->meters[i], was + i * cups);
	free(was);
}

bool station_run_join(struct station *station, struct station_meter *meter)
{
	struct station_run *run = &station->run;
	unsigned *taken = run->taken;

	free(meter->taken);
	meter->taken = NULL;
	if (!taken) {
		meter->taken = calloc(run->order.count + 1, sizeof(*meter->taken));
		taken = meter->taken;
	}
	if (!taken)
		return false;
	cup_turn_start(&meter->turn, &run->order, taken, (unsigned)station->bench->settings.readings_wanted,
	               run->id == 0 || run->by_time);
	return true;
}

/* Every meter begins the run's turn; counts follow. False: no memory. */
static bool turns_begin(struct station *station)
{
	struct station_run *run = &station->run;
	bool joined = true;

	free(run->taken);
	run->taken = NULL;
	if (station->bench->split && run->id != 0) {
		run->taken = calloc(run->order.count + 1, sizeof(*run->taken));
		joined = run->taken != NULL;
	}
	for (size_t i = 0; i < station->meter_count && joined; i++)
		joined = station_run_join(station, station->meters[i]);
	station_run_count(station);
	for (size_t i = 0; i < station->meter_count && joined; i++) {
		struct cup_turn *turn = &station->meters[i]->turn;

		cup_turn_start(turn, &run->order, turn->taken, turn->wanted, run->id == 0 || run->by_time);
	}
	return joined;
}

/* What the ledger says was last on a meter's prism. */
struct last_cup {
	struct station *station;
	char (*label)[CUP_TURN_TEXT]; /* one a meter */
};

static enum status cup_event(void *context, const struct ledger_event *event, struct error *error)
{
	struct last_cup *last = context;

	(void)error;
	if (event->run != last->station->run.id || !slice_equal(event->kind, SLICE_OF("cup")) ||
	    event->text.len >= CUP_TURN_TEXT)
		return STATUS_OK;
	for (size_t i = 0; i < last->station->meter_count; i++)
		if (last->station->meters[i]->id == event->meter) {
			memset(last->label[i], 0, CUP_TURN_TEXT);
			if (event->text.len > 0)
				memcpy(last->label[i], event->text.text, event->text.len);
		}
	return STATUS_OK;
}

/* Puts on each prism what was there when the daemon ended last, in the middle of the run. */
static void cups_restore(struct station *station)
{
	struct last_cup last = { .station = station };
	struct error error = ERROR_INIT;

	last.label = calloc(station->meter_count + 1, sizeof(*last.label));
	if (!last.label || ledger_each_event(station->ledger, 0, cup_event, &last, &error) != STATUS_OK) {
		free(last.label);
		return;
	}
	for (size_t i = 0; i < station->meter_count; i++) {
		struct cup_turn *turn = &station->meters[i]->turn;
		struct slice label = slice_from(last.label[i]);
		size_t cup = cup_order_find(turn->order, label);
		double percent;

		if (slice_equal(label, SLICE_OF("zero")))
			cup_turn_check(turn, 0);
		else if (slice_equal(slice_part(label, 0, 9), SLICE_OF("standard ")) &&
		         number_parse(&percent, NULL, slice_part(label, 9, label.len), '.'))
			cup_turn_check(turn, percent);
		else if (cup != CUP_NONE && turn->taken[cup] < turn->wanted)
			cup_turn_set(turn, label);
	}
	free(last.label);
}

static void watch_begin(struct station *station)
{
	struct error error = ERROR_INIT;

	station->now = moment_now();
	if (file_watch_start(&station->run.watch, station->run.manifest, &error) != STATUS_OK)
		station_say(station, LOG_LEVEL_DOUBT, "%s; changes will not be seen", error.text);
	else if (station->run.again_us != 0)
		file_watch_again(&station->run.watch, station->now.monotonic_us + station->run.again_us);
}

static void turn_tell(struct station *station)
{
	const struct station_run *run = &station->run;
	char label[CUP_TURN_TEXT];

	if (run->by_time)
		station_say(station, LOG_LEVEL_NEWS, "run %s: the manifest tells when each of its %zu cups is read",
		            run->name, run->order.count);
	else if (run->order.count > 0 && station->meter_count > 0)
		station_say(station, LOG_LEVEL_NEWS, "run %s: %zu cups, %u readings of each; on the prism: %s",
		            run->name, run->order.count, station->meters[0]->turn.wanted,
		            cup_turn_label(label, sizeof(label), &station->meters[0]->turn));
}

static enum status run_take_up(struct station *station, int64_t id, struct slice name, struct error *error)
{
	struct station_run *run = &station->run;

	run->id = id;
	if (name.len >= sizeof(run->name))
		return error_set(error, STATUS_INVALID, "run %.*s: the name is too long", SLICE_ARG(name));
	memcpy(run->name, name.text, name.len);
	run->name[name.len] = '\0';
	run->manifest = bench_run_manifest(station->bench, name, &run->memory);
	if (!run->manifest)
		return error_set(error, STATUS_MEMORY, "no memory for run %s", run->name);
	manifest_take(station);
	if (!turns_begin(station))
		return error_set(error, STATUS_MEMORY, "no memory for run %s", run->name);
	cups_restore(station);
	watch_begin(station);
	turn_tell(station);
	return STATUS_OK;
}

void station_run_release(struct station *station)
{
	struct station_run *run = &station->run;

	file_watch_stop(&run->watch);
	free(run->labels);
	free(run->taken);
	arena_release(&run->memory);
	*run = (struct station_run){ .watch = FILE_WATCH_INIT };
}

enum status station_run_resume(struct station *station, struct error *error)
{
	char name[sizeof(station->run.name)];
	enum status status;
	int64_t id;

	status = bench_run_find(station->ledger, (struct slice){ NULL, 0 }, &id, name, sizeof(name), error);
	if (status != STATUS_OK || id == 0)
		return status;
	return run_take_up(station, id, slice_from(name), error);
}

enum status station_run_begin(struct station *station, struct slice name, struct error *error)
{
	struct arena memory = ARENA_INIT;
	const char *manifest;
	enum status status;
	int64_t id = 0;

	if (!station->request.is_folder)
		return error_set(error, STATUS_INVALID, "there is no bench folder, and without one there are no runs");
	if (station->run.id != 0)
		return error_set(error, STATUS_INVALID, "run %s is open; expected it to be closed first",
		                 station->run.name);
	if (!bench_run_name_fits(name))
		return error_set(error, STATUS_INVALID, "\"%.*s\" is no name for a run", SLICE_ARG(name));
	manifest = bench_run_manifest(station->bench, name, &memory);
	if (!manifest || access(manifest, R_OK) != 0)
		status = error_set_errno(error, STATUS_INVALID, "run %.*s has no manifest at %s", SLICE_ARG(name),
		                         manifest ? manifest : "");
	else
		status = bench_run_mark_open(station->ledger, name, &id, error);
	arena_release(&memory);
	if (status == STATUS_OK)
		status = run_take_up(station, id, name, error);
	if (status == STATUS_OK)
		station_note(station, NULL, LOG_LEVEL_NEWS, "run opened", "run %s is open", station->run.name);
	return status;
}

enum status station_run_end(struct station *station, struct error *error)
{
	enum status status;

	if (station->run.id == 0)
		return error_set(error, STATUS_INVALID, "no run is open");
	status = ledger_run_close(station->ledger, station->run.id, clock_wall_us(), error);
	if (status != STATUS_OK)
		return status;
	station_note(station, NULL, LOG_LEVEL_NEWS, "run closed", "run %s is closed", station->run.name);
	report_child_want(&station->report, station->run.name);
	station_run_release(station);
	if (!turns_begin(station))
		return error_set(error, STATUS_MEMORY, "no memory");
	return STATUS_OK;
}

/* What is on a prism, by its words: the order that it stands in goes away. */
struct on_prism {
	char label[CUP_TURN_TEXT];
	enum reading_role role;
	double standard_percent;
};

static void prism_note(struct on_prism *out, const struct cup_turn *turn)
{
	cup_turn_label(out->label, sizeof(out->label), turn);
	out->role = turn->role;
	out->standard_percent = turn->standard_percent;
}

/* It stays there, where the manifest still has it. */
static void prism_keep(struct cup_turn *turn, const struct on_prism *before)
{
	struct slice label = slice_from(before->label);

	if (before->role != READING_SAMPLE)
		cup_turn_check(turn, before->role == READING_STANDARD ? before->standard_percent : 0);
	else if (cup_order_find(turn->order, label) != CUP_NONE)
		cup_turn_set(turn, label);
}

static void manifest_again(struct station *station)
{
	struct on_prism before[STATION_METERS] = { { .label = "" } };
	struct station_run *run = &station->run;
	bool again = run->again_us != 0;

	if (!again)
		station_say(station, LOG_LEVEL_NEWS, "the manifest was saved: it is read again");
	for (size_t i = 0; i < station->meter_count; i++)
		prism_note(&before[i], &station->meters[i]->turn);
	if (manifest_take(station) && turns_begin(station))
		for (size_t i = 0; i < station->meter_count; i++)
			prism_keep(&station->meters[i]->turn, &before[i]);
	if (run->again_us != 0)
		file_watch_again(&run->watch, station->now.monotonic_us + run->again_us);
	else if (again)
		turn_tell(station);
	report_child_want(&station->report, station->run.name);
	station->stale_view = true;
}

void station_run_look(struct station *station)
{
	if (file_watch_step(&station->run.watch, &station->now))
		manifest_again(station);
}
