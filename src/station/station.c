/* SPDX-License-Identifier: GPL-3.0-or-later */
/* station.c: beginning, the loop, and the end. */
#include "station.h"

#include <errno.h>
#include <poll.h>
#include <signal.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/signalfd.h>
#include <unistd.h>

#include "station_private.h"

enum {
	OUT_MOST = 1 << 18,
	LEDGER_WAIT_MS = 50,  /* for another program that writes; after that the loop goes on, and tries again */
	LAST_STORE_MS = 1000, /* at the end, for what is not stored yet */
	LAST_REPORT_MS = 500,
	LAST_OUTPUT_MS = 200,
};

static const int64_t clock_step_us = 2000000;

/* Places in what poll() watches. */
enum {
	PLACE_SIGNALS,
	PLACE_WATCH,
	PLACE_REPORT,
	PLACE_KEYS,
	PLACE_OUT,
	PLACE_CONTROL,
	PLACE_METERS = PLACE_CONTROL + CONTROL_POLLED,
	PLACE_ALL = PLACE_METERS + STATION_METERS
};

static void message_keep(struct station *station, enum log_level level, const char *text)
{
	struct station_message *message;

	if (station->message_count == STATION_MESSAGES) {
		memmove(station->messages, station->messages + 1,
		        (STATION_MESSAGES - 1) * sizeof(station->messages[0]));
		station->message_count--;
	}
	message = &station->messages[station->message_count++];
	message->wall_us = station->now.wall_us;
	message->level = level;
	line_print(message->text, sizeof(message->text), slice_from(text));
	station->stale_view = true;
}

static void say(struct station *station, enum log_level level, const char *text)
{
	char clean[STATION_TEXT];

	line_print(clean, sizeof(clean), slice_from(text));
	message_keep(station, level, clean);
	/* on the terminal of the live view they have their place in it */
	if (!station->request.view || !isatty(station->log.fd))
		log_line(&station->log, level, clean);
}

void station_say(struct station *station, enum log_level level, const char *format, ...)
{
	char text[STATION_TEXT];
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	say(station, level, text);
}

void station_note(struct station *station, struct station_meter *meter, enum log_level level, const char *kind,
                  const char *format, ...)
{
	struct ledger_event event = {
		.at_us = station->now.wall_us,
		.monotonic_us = station->now.monotonic_us,
		.meter = meter ? meter->id : 0,
		.run = station->run.id,
		.kind = slice_from(kind),
	};
	char text[STATION_TEXT];
	va_list args;

	va_start(args, format);
	vsnprintf(text, sizeof(text), format, args);
	va_end(args);
	event.text = slice_from(text);
	store_add_event(&station->store, &event, meter);
	if (meter)
		station_say(station, level, "%s: %s", meter->about.name, text);
	else
		say(station, level, text);
}

/* -- beginning -- */

static enum status signals_take(struct station *station, struct error *error)
{
	sigset_t wanted;

	sigemptyset(&wanted);
	sigaddset(&wanted, SIGTERM);
	sigaddset(&wanted, SIGINT);
	sigaddset(&wanted, SIGHUP);
	sigaddset(&wanted, SIGCHLD);
	sigaddset(&wanted, SIGWINCH);
	sigprocmask(SIG_BLOCK, &wanted, NULL);
	signal(SIGPIPE, SIG_IGN);
	station->signals = signalfd(-1, &wanted, SFD_NONBLOCK | SFD_CLOEXEC);
	return station->signals < 0 ? error_set_errno(error, STATUS_IO, "signals") : STATUS_OK;
}

/* A bench without its socket still stores readings: that is told, and no reason to stop, but for a second daemon. */
static enum status control_begin(struct station *station, struct error *error)
{
	enum status status;

	if (!station->bench->control)
		return STATUS_OK;
	status = control_open(&station->control, station->bench->control, station->bench->group, error);
	if (status == STATUS_IO || (status == STATUS_BUSY && !station->request.is_folder)) {
		station_say(station, LOG_LEVEL_DOUBT, "no control socket: %s", error->text);
		return STATUS_OK;
	}
	return status;
}

static enum status meters_begin(struct station *station, struct faults *faults, struct error *error)
{
	enum status worst = STATUS_OK;

	for (size_t i = 0; i < station->bench->meter_count; i++) {
		enum status status = station_meter_new(&station->meters[station->meter_count], station,
		                                       &station->bench->meters[i], faults, error);

		if (status == STATUS_OK)
			station->meter_count++;
		else if (status != STATUS_REFUSED)
			return status;
		else
			worst = status; /* the faults of all profiles are told in one go */
	}
	return worst;
}

static enum status station_begin(struct station *station, struct faults *faults, struct error *error)
{
	enum status status = signals_take(station, error);

	if (status == STATUS_OK)
		status = control_begin(station, error);
	if (status == STATUS_OK)
		status = ledger_open(&station->ledger, station->bench->ledger, LEDGER_CREATE, error);
	if (status != STATUS_OK)
		return status;
	ledger_set_wait(station->ledger, LEDGER_WAIT_MS);
	store_init(&station->store, station->ledger);
	status = meters_begin(station, faults, error);
	if (status == STATUS_OK && station->request.is_folder)
		status = station_run_resume(station, error);
	return status;
}

enum status station_new(struct station **out, const struct station_request *request, struct faults *faults,
                        struct error *error)
{
	struct station *station = calloc(1, sizeof(*station));
	const char *reason;
	enum status status;

	*out = NULL;
	if (!station) {
		bench_free(request->bench);
		return error_set(error, STATUS_MEMORY, "no memory");
	}
	station->request = *request;
	station->bench = request->bench;
	station->signals = -1;
	station->chosen = STATION_METERS;
	station->now = moment_now();
	station->wall_less_boot_us = station->now.wall_us - station->now.boottime_us;
	station->run.watch = (struct file_watch)FILE_WATCH_INIT;
	station->terminal = (struct terminal)TERMINAL_INIT;
	log_init(&station->log, request->message_fd);
	output_init(&station->out, request->out_fd, OUT_MOST);
	report_child_init(&station->report, station->bench->folder);
	if (!notify_init(&station->notify, &reason))
		station_say(station, LOG_LEVEL_FAILURE, "the service manager can't be told how this is doing: %s",
		            reason);
	status = station_begin(station, faults, error);
	if (status == STATUS_OK)
		*out = station;
	else
		station_free(station);
	return status;
}

void station_free(struct station *station)
{
	if (!station)
		return;
	terminal_restore(&station->terminal);
	for (size_t i = 0; i < station->meter_count; i++)
		station_meter_free(station->meters[i]);
	for (size_t i = 0; i < station->recent_count; i++)
		free(station->recent[i]);
	station_run_release(station);
	store_release(&station->store);
	ledger_free(station->ledger);
	control_free(station->control);
	output_release(&station->out);
	json_line_release(&station->told);
	screen_release(&station->screen);
	if (station->signals >= 0)
		close(station->signals);
	bench_free(station->bench);
	free(station);
}

/* -- settings read again -- */

/* Meters that settings took away are kept as long as lines of theirs may wait to be stored. */
static void retired_free(struct station *station)
{
	size_t kept = 0;

	if (station->store.count > 0)
		return;
	for (size_t i = 0; i < station->meter_count; i++)
		if (station->meters[i]->source)
			station->meters[kept++] = station->meters[i];
		else
			station_meter_free(station->meters[i]);
	station->meter_count = kept;
	station->chosen = STATION_METERS;
}

static bool text_same(const char *a, const char *b)
{
	return strcmp(a, b) == 0;
}

/* The meter that is there already and stays as it is; NULL: none. made is the same, made anew from the settings. */
static struct station_meter *unchanged_find(struct station *station, const struct station_meter *made)
{
	for (size_t i = 0; i < station->meter_count; i++) {
		struct station_meter *meter = station->meters[i];

		if (meter->source && text_same(meter->about.name, made->about.name) &&
		    text_same(meter->about.port, made->about.port) &&
		    meter->about.drop_waiting == made->about.drop_waiting &&
		    text_same(meter->profile_text, made->profile_text))
			return meter;
	}
	return NULL;
}

/* Makes the meters of bench; nothing is opened yet. */
static enum status meters_make(struct station *station, const struct bench *bench, struct station_meter **made,
                               size_t *count, struct faults *faults, struct error *error)
{
	if (station->meter_count + bench->meter_count > STATION_METERS)
		return error_set(error, STATUS_BUSY, "meters that are taken away still have lines to be stored");
	for (*count = 0; *count < bench->meter_count; (*count)++) {
		enum status status = station_meter_new(&made[*count], station, &bench->meters[*count], faults, error);

		if (status != STATUS_OK)
			return status;
	}
	return STATUS_OK;
}

static void meters_exchange(struct station *station, struct station_meter **made, size_t count)
{
	bool stays[STATION_METERS] = { false };
	size_t before = station->meter_count;

	for (size_t i = 0; i < count; i++) {
		struct station_meter *old = unchanged_find(station, made[i]);

		for (size_t j = 0; j < before && old; j++)
			stays[j] = stays[j] || station->meters[j] == old;
		if (old)
			station_meter_free(made[i]);
		else
			station->meters[station->meter_count++] = made[i];
	}
	for (size_t j = 0; j < before; j++)
		if (!stays[j] && station->meters[j]->source) {
			station_note(station, station->meters[j], LOG_LEVEL_NEWS, "taken away",
			             "settings have it no more, or changed");
			source_free(station->meters[j]->source);
			station->meters[j]->source = NULL;
		}
}

static void bench_exchange(struct station *station, struct bench *bench)
{
	bool same_group = text_same(bench->group ? bench->group : "",
	                            station->bench->group ? station->bench->group : "");

	if (!same_group || bench->split != station->bench->split)
		station_say(station, LOG_LEVEL_NOTICE,
		            "settings of [control] and [cups] take effect when the daemon starts anew");
	bench->split = station->bench->split;
	bench_free(station->bench);
	station->bench = bench;
	station->report.bench = bench->folder;
	for (size_t i = 0; i < station->meter_count; i++)
		station->meters[i]->turn.wanted = (unsigned)bench->settings.readings_wanted;
}

void station_reload(struct station *station)
{
	struct station_meter *made[STATION_METERS];
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct bench *bench = NULL;
	size_t count = 0;
	enum status status;

	notify_reloading();
	retired_free(station);
	status = bench_open(&bench, station->bench->folder, &faults, &error);
	if (status == STATUS_OK && bench->meter_count == 0)
		status = error_set(&error, STATUS_REFUSED, "%s has no [meter NAME]", bench->ini);
	if (status == STATUS_OK)
		status = meters_make(station, bench, made, &count, &faults, &error);
	for (size_t i = 0; i < faults.count; i++)
		station_say(station, LOG_LEVEL_DOUBT, "%s:%u: %s", faults.items[i].place.file,
		            faults.items[i].place.line, faults.items[i].text);
	if (status == STATUS_OK) {
		meters_exchange(station, made, count);
		bench_exchange(station, bench);
		station_run_count(station);
		station_note(station, NULL, LOG_LEVEL_NEWS, "settings", "settings are read again: %zu meters", count);
	} else {
		for (size_t i = 0; i < count; i++)
			station_meter_free(made[i]);
		bench_free(bench);
		station_say(station, LOG_LEVEL_DOUBT, "settings stay as they were: %s", error.text);
	}
	faults_release(&faults);
	notify_ready("storing");
}

/* -- the loop -- */

static int64_t earlier(int64_t a, int64_t b)
{
	return a < b ? a : b;
}

static int64_t deadline_us(const struct station *station)
{
	int64_t deadline = earlier(store_deadline_us(&station->store), notify_deadline_us(&station->notify));

	if (station->stopping)
		return 0;
	if (station->request.view && station->stale_view && !output_waits(&station->out))
		deadline = earlier(deadline, station->show_us);
	deadline = earlier(deadline, station->run.watch.look_us);
	if (station->control)
		deadline = earlier(deadline, control_deadline_us(station->control));
	for (size_t i = 0; i < station->meter_count; i++)
		if (station->meters[i]->source)
			deadline = earlier(deadline, source_deadline_us(station->meters[i]->source));
	return deadline;
}

static nfds_t polled_fill(const struct station *station, struct pollfd *polled)
{
	polled[PLACE_SIGNALS] = (struct pollfd){ .fd = station->signals, .events = POLLIN };
	polled[PLACE_WATCH] = (struct pollfd){ .fd = station->run.watch.fd, .events = POLLIN };
	polled[PLACE_REPORT] = (struct pollfd){ .fd = report_child_fd(&station->report), .events = POLLIN };
	polled[PLACE_KEYS] = (struct pollfd){ .fd = station->terminal.key_fd, .events = POLLIN };
	polled[PLACE_OUT] = (struct pollfd){ .fd = output_waits(&station->out) ? station->out.fd : -1,
		                             .events = POLLOUT };
	for (size_t i = 0; i < CONTROL_POLLED; i++)
		polled[PLACE_CONTROL + i] = (struct pollfd){ .fd = -1 };
	if (station->control)
		control_poll(station->control, polled + PLACE_CONTROL);
	for (size_t i = 0; i < station->meter_count; i++) {
		polled[PLACE_METERS + i] = (struct pollfd){ .fd = -1 };
		if (station->meters[i]->source)
			source_poll(station->meters[i]->source, &polled[PLACE_METERS + i]);
	}
	return (nfds_t)(PLACE_METERS + station->meter_count);
}

static void signals_look(struct station *station)
{
	struct signalfd_siginfo signal_info;

	while (read(station->signals, &signal_info, sizeof(signal_info)) == (ssize_t)sizeof(signal_info))
		switch (signal_info.ssi_signo) {
		case SIGTERM:
		case SIGINT:
			station->stopping = true;
			break;
		case SIGHUP:
			/* from a terminal that is gone, or without settings to read, it means the end */
			if (station->request.is_folder && (!station->request.view || isatty(station->request.out_fd)))
				station_reload(station);
			else
				station->stopping = true;
			break;
		case SIGWINCH:
			terminal_measure(&station->terminal);
			station->stale_view = true;
			break;
		default:
			break; /* a child ended: looked at in any case */
		}
}

/* Order goes by the ledger's numbers, so a clock that steps spoils no more than the times that people read. */
static void clock_look(struct station *station)
{
	int64_t wall_less_boot_us = station->now.wall_us - station->now.boottime_us;
	int64_t step_us = wall_less_boot_us - station->wall_less_boot_us;

	station->wall_less_boot_us = wall_less_boot_us;
	if (step_us > clock_step_us || step_us < -clock_step_us)
		station_note(station, NULL, LOG_LEVEL_DOUBT, "clock step", "the clock was set %s by %.1f s",
		             step_us < 0 ? "back" : "forward", (double)(step_us < 0 ? -step_us : step_us) / 1e6);
}

static void keys_look(struct station *station, short revents)
{
	char keys[64];
	ssize_t got;

	if (!revents)
		return;
	got = read(station->terminal.key_fd, keys, sizeof(keys));
	if (got <= 0) {
		station->terminal.key_fd = -1;
		return;
	}
	/* arrow and function keys send an escape and more: none of them means anything here */
	if (keys[0] == 0x1b && got > 1)
		return;
	for (ssize_t i = 0; i < got; i++)
		station_key(station, keys[i]);
}

static void report_look(struct station *station)
{
	switch (report_child_step(&station->report, &station->now)) {
	case REPORT_NO_NEWS:
		break;
	case REPORT_WRITTEN:
		station->stale_view = true;
		break;
	case REPORT_FAILED:
		station_say(station, LOG_LEVEL_DOUBT, "the report of run %s was not written: %s", station->report.run,
		            station->report.said);
		break;
	}
}

/* Who reads it would wait for what is never told. */
static void broken_tell(struct station *station)
{
	if (!station->out.broken || station->broken_told)
		return;
	station->broken_told = true;
	station_say(station, LOG_LEVEL_DOUBT,
	            "standard output can't be written to: %s; from now on nothing is told there; the ledger has it",
	            strerror(station->out.why));
}

static void output_look(struct station *station)
{
	output_flush(&station->out);
	broken_tell(station);
	if (station->out.refused == 0 || output_waits(&station->out))
		return;
	if (!station->request.view)
		station_say(station, LOG_LEVEL_DOUBT, "%zu lines of output were lost, since %s; the ledger has them",
		            station->out.refused,
		            station->out.no_memory ? "there was no memory to keep them" :
		                                     "they were not read fast enough");
	station->out.refused = 0;
}

/* Those that sent something, or all others, for what they do by the clock. */
static void meters_look(struct station *station, const struct pollfd *polled, bool sent)
{
	size_t count = station->meter_count;

	for (size_t i = 0; i < count; i++)
		if ((polled[PLACE_METERS + i].revents != 0) == sent && station->meters[i]->source)
			station_meter_step(station, station->meters[i], polled[PLACE_METERS + i].revents);
}

static bool all_ended(const struct station *station)
{
	for (size_t i = 0; i < station->meter_count; i++)
		if (station->meters[i]->source && source_info(station->meters[i]->source).state != SOURCE_STATE_ENDED)
			return false;
	return station->store.count == 0;
}

/* poll() refuses more places than files may be open, empty ones too: it gets those that are filled. */
static void polled_wait(const struct station *station, struct pollfd *polled, nfds_t count)
{
	struct pollfd filled[PLACE_ALL];
	nfds_t place[PLACE_ALL], used = 0;

	for (nfds_t i = 0; i < count; i++) {
		polled[i].revents = 0;
		if (polled[i].fd < 0)
			continue;
		place[used] = i;
		filled[used++] = polled[i];
	}
	if (poll(filled, used, clock_poll_ms(deadline_us(station), clock_monotonic_us())) <= 0)
		return;
	for (nfds_t i = 0; i < used; i++)
		polled[place[i]].revents = filled[i].revents;
}

/* One turn: what all meters have sent is stored together, then told, for that is waited for; the rest comes after it. */
static void turn_round(struct station *station)
{
	struct pollfd polled[PLACE_ALL];

	polled_wait(station, polled, polled_fill(station, polled));
	station->now = moment_now();
	clock_look(station);
	meters_look(station, polled, true);
	station_store(station);
	output_flush(&station->out);
	meters_look(station, polled, false);
	station_store(station);
	if (station->control) {
		control_step(station->control, polled + PLACE_CONTROL, &station->now);
		station_serve(station);
	}
	keys_look(station, polled[PLACE_KEYS].revents);
	station_run_look(station);
	report_look(station);
	signals_look(station);
	station_show(station);
	output_look(station);
	notify_alive(&station->notify, station->now.monotonic_us);
	if (station->request.ends_with_meters && all_ended(station))
		station->stopping = true;
}

static void view_begin(struct station *station)
{
	if (!station->request.view)
		return;
	terminal_take(&station->terminal, station->request.key_fd, station->request.out_fd);
	output_add(&station->out, TERMINAL_VIEW_ON, sizeof(TERMINAL_VIEW_ON) - 1);
	station->stale_view = true;
}

static void view_end(struct station *station)
{
	if (!station->request.view)
		return;
	output_add(&station->out, TERMINAL_VIEW_OFF, sizeof(TERMINAL_VIEW_OFF) - 1);
	output_finish(&station->out, LAST_OUTPUT_MS);
	terminal_restore(&station->terminal);
	station->request.view = false;
}

/* Stores what is left, for as long as may be waited for. */
static enum status last_store(struct station *station, struct error *error)
{
	int64_t until = station->now.monotonic_us + LAST_STORE_MS * INT64_C(1000);
	size_t lines = 0;

	station_note(station, NULL, LOG_LEVEL_NEWS, "stopped", "stopped");
	for (;;) {
		station->store.retry_us = 0;
		station_store(station);
		if (station->store.count == 0)
			return STATUS_OK;
		station->now = moment_now();
		if (station->now.monotonic_us >= until)
			break;
		poll(NULL, 0, 20);
	}
	for (const struct store_item *item = station->store.first; item; item = item->next)
		lines += !item->is_event;
	if (lines == 0)
		return STATUS_OK;
	return error_set(error, STATUS_IO, "%zu lines were not stored, and are lost: %s", lines,
	                 station->store.error.text);
}

enum status station_run(struct station *station, struct error *error)
{
	enum status status;

	station_note(station, NULL, LOG_LEVEL_NEWS, "started", "listening; readings go to %s", station->bench->ledger);
	view_begin(station);
	notify_ready("storing");
	while (!station->stopping)
		turn_round(station);
	notify_stopping();
	status = last_store(station, error);
	view_end(station);
	output_finish(&station->out, LAST_OUTPUT_MS);
	broken_tell(station);
	report_child_finish(&station->report, LAST_REPORT_MS);
	/* a reader that goes away, as "head" does, is no failure */
	if (status == STATUS_OK && station->out.broken && station->out.why != EPIPE)
		return error_set(error, STATUS_IO, "standard output: %s", strerror(station->out.why));
	return status;
}
