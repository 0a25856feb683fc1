/* SPDX-License-Identifier: GPL-3.0-or-later */
/* station_view.c: what a person at the bench sees: the cup on the prism first, in the largest part of the screen. */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "number.h"
#include "station_private.h"
#include "timestamp.h"

enum { ROW = 512, VALUES_SHOWN = 8, KEYS_WIDE = 78, SHOW_EVERY_US = 50000 };

/* "10:15:22", UTC */
static const char *hour_print(char *out, size_t size, int64_t wall_us)
{
	char text[TIMESTAMP_TEXT];

	if (wall_us == 0)
		snprintf(out, size, "never");
	else
		snprintf(out, size, "%.8s", timestamp_print(text, sizeof(text), wall_us, 0) + 11);
	return out;
}

static void head_show(const struct station *station, struct screen *screen)
{
	const struct store *store = &station->store;
	const struct station_run *run = &station->run;
	char row[ROW];

	if (store->state == STORE_STORING)
		snprintf(row, sizeof(row), "%s", run->id ? run->name : "no run is open");
	else
		snprintf(row, sizeof(row), "NOT STORING, %zu wait: %.300s", store->count, store->error.text);
	screen_row(screen, store->state == STORE_STORING ? STYLE_STRONG : STYLE_DOUBT, row);
}

static void progress_show(const struct station *station, struct screen *screen)
{
	const struct report_child *report = &station->report;
	char row[ROW], hour[16];
	size_t done = 0;

	if (station->run.id == 0)
		return;
	for (size_t i = 0; i < station->meter_count; i++)
		if (cup_turn_done(&station->meters[i]->turn) > done)
			done = cup_turn_done(&station->meters[i]->turn);
	snprintf(row, sizeof(row), "%zu of %zu cups read   report %s%s%s", done, station->run.order.count,
	         report_child_busy(report) ? "being written" :
	         report->failed            ? "FAILED" :
	         report->written_us        ? "of " :
	                                     "not written yet",
	         !report_child_busy(report) && !report->failed && report->written_us ?
	                 hour_print(hour, sizeof(hour), report->written_us) :
	                 "",
	         station->run.faults ? "   the manifest has faults" : "");
	screen_row(screen, STYLE_FAINT, row);
}

/* "1.38  1.39  1.38", the last ones */
static void values_print(char *out, size_t size, const struct station_meter *meter)
{
	size_t first = meter->value_count > VALUES_SHOWN ? meter->value_count - VALUES_SHOWN : 0;
	char number[NUMBER_TEXT];
	size_t used = (size_t)snprintf(out, size, "%s", meter->count > VALUES_SHOWN ? "… " : "");

	for (size_t i = first; i < meter->value_count && used < size; i++)
		used += (size_t)snprintf(out + used, size - used, "%s%s", i > first ? "  " : "",
		                         number_print(number, sizeof(number), meter->values[i], meter->shown.decimals));
	if (used < size)
		snprintf(out + used, size - used, " %s", unit_symbol(meter->shown.unit));
}

static void spread_print(char *out, size_t size, const struct station_meter *meter)
{
	char mean[NUMBER_TEXT], sd[NUMBER_TEXT], temp[32] = "";
	int decimals = meter->shown.decimals + 1;

	if (!isnan(meter->temp_c))
		snprintf(temp, sizeof(temp), "   %.1f °C", meter->temp_c);
	if (meter->count < 2)
		snprintf(out, size, "mean %s%s", number_print(mean, sizeof(mean), meter->live.mean, decimals), temp);
	else
		snprintf(out, size, "mean %s   spread %s%s",
		         number_print(mean, sizeof(mean), meter->live.mean, decimals),
		         number_print(sd, sizeof(sd), meter->live.sd, decimals), temp);
}

/* What was read last, where that is of another cup than the one on the prism now. */
static void last_show(struct screen *screen, const struct station_meter *meter, const char *on_prism)
{
	char row[4 * ROW], values[ROW], spread[ROW];

	if (meter->count == 0)
		return;
	values_print(values, sizeof(values), meter);
	spread_print(spread, sizeof(spread), meter);
	if (strcmp(meter->cup, on_prism) == 0) {
		snprintf(row, sizeof(row), "    %s", values);
		screen_row(screen, STYLE_PLAIN, row);
		snprintf(row, sizeof(row), "    %s", spread);
	} else {
		snprintf(row, sizeof(row), "    before: %.64s   %s   %s", meter->cup, values, spread);
	}
	screen_row(screen, STYLE_PLAIN, row);
}

static void cup_show(const struct station *station, struct screen *screen, size_t i)
{
	const struct station_meter *meter = station->meters[i];
	const struct cup_turn *turn = &meter->turn;
	size_t next = cup_turn_next(turn);
	char label[CUP_TURN_TEXT], row[4 * ROW], of[64] = "", behind[CUP_LABEL + 16] = "";

	cup_turn_label(label, sizeof(label), turn);
	if (source_info(meter->source).state == SOURCE_STATE_WAITING)
		snprintf(of, sizeof(of), "   its meter is away");
	else if (label[0] && turn->order->count > 0)
		snprintf(of, sizeof(of), "   reading %u of %u", cup_turn_count(turn) + 1, turn->goal);
	else if (label[0])
		snprintf(of, sizeof(of), "   %u read", cup_turn_count(turn));
	if (next != CUP_NONE)
		snprintf(behind, sizeof(behind), "   then %.*s", SLICE_ARG(turn->order->labels[next]));
	snprintf(row, sizeof(row), "%s%s%s%s%s%s", station->chosen == i ? "> " : "  ",
	         station->meter_count > 1 ? meter->about.name : "", station->meter_count > 1 ? ": " : "",
	         label[0] ? label : "no cup on the prism", of, behind);
	screen_row(screen, STYLE_STRONG, row);
	last_show(screen, meter, label);
	if (meter->warning[0]) {
		snprintf(row, sizeof(row), "  ! %s", meter->warning);
		screen_text(screen, STYLE_DOUBT, row, 4);
	}
}

static void meter_show(const struct station *station, struct screen *screen, const struct station_meter *meter)
{
	struct source_info info = source_info(meter->source);
	char row[4 * ROW], hour[16];

	(void)station;
	if (info.state == SOURCE_STATE_OPEN)
		snprintf(row, sizeof(row), "  %s   %s   %zu readings%s   last %s   %.80s", meter->about.name,
		         source_path(meter->source), meter->readings, meter->unread ? ", some lines not read" : "",
		         hour_print(hour, sizeof(hour), meter->last_us), meter->last_line);
	else
		snprintf(row, sizeof(row), "  %s   %s: %.300s", meter->about.name,
		         info.state == SOURCE_STATE_ENDED ? "ended" : "waiting", info.text);
	screen_row(screen, info.state == SOURCE_STATE_WAITING ? STYLE_DOUBT : STYLE_FAINT, row);
}

static void messages_show(const struct station *station, struct screen *screen, size_t rows)
{
	size_t first = station->message_count > rows ? station->message_count - rows : 0;
	char row[ROW], hour[16];

	for (size_t i = first; i < station->message_count; i++) {
		const struct station_message *message = &station->messages[i];

		snprintf(row, sizeof(row), "  %s %s", hour_print(hour, sizeof(hour), message->wall_us), message->text);
		screen_row(screen, message->level <= LOG_LEVEL_DOUBT ? STYLE_DOUBT : STYLE_FAINT, row);
	}
}

static void keys_show(const struct station *station, struct screen *screen)
{
	char row[ROW];

	if (station->typing)
		snprintf(row, sizeof(row), "cup (a label, zero, standard 5.00): %s_", station->entry);
	else if (station->terminal.key_fd < 0)
		snprintf(row, sizeof(row), "no keys: standard input is no terminal, or a meter's");
	else if (screen->columns < KEYS_WIDE)
		snprintf(row, sizeof(row), "n next  b back  z zero  c cup  q quit");
	else
		snprintf(row, sizeof(row), "n next  b back  r read again  z zero  c other cup  %s%sq quit",
		         station->meter_count > 1 ? "Tab meter  " : "", "a ask  ");
	screen_row(screen, STYLE_FAINT, row);
}

static void screen_fill(const struct station *station, struct screen *screen)
{
	size_t rows = screen->rows;

	screen->rows = rows > 1 ? rows - 1 : rows; /* the last one is for the keys, however low the terminal */
	head_show(station, screen);
	progress_show(station, screen);
	if (screen->rows > 12)
		screen_row(screen, STYLE_PLAIN, "");
	for (size_t i = 0; i < station->meter_count && screen_left(screen) > 0; i++)
		if (station->meters[i]->source)
			cup_show(station, screen, i);
	if (screen->rows > 12)
		screen_row(screen, STYLE_PLAIN, "");
	for (size_t i = 0; i < station->meter_count && screen_left(screen) > 0; i++)
		if (station->meters[i]->source)
			meter_show(station, screen, station->meters[i]);
	if (screen_left(screen) > 1)
		screen_row(screen, STYLE_PLAIN, "");
	messages_show(station, screen, screen_left(screen));
	screen->rows = rows;
	if (screen_left(screen) > 0)
		keys_show(station, screen);
}

void station_show(struct station *station)
{
	struct screen *screen = &station->screen;

	if (!station->request.view || !station->stale_view || output_waits(&station->out) ||
	    station->now.monotonic_us < station->show_us)
		return;
	station->stale_view = false;
	station->show_us = station->now.monotonic_us + SHOW_EVERY_US;
	screen_begin(screen, station->terminal.rows, station->terminal.columns, station->request.color);
	screen_fill(station, screen);
	screen_end(screen);
	if (!screen->no_memory)
		output_add(&station->out, screen->bytes, screen->len);
}
