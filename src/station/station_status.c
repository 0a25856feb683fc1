/* SPDX-License-Identifier: GPL-3.0-or-later */
/* station_status.c: how everything is doing, as JSON: docs/control.md lists the members. */
#include <math.h>

#include "reading_json.h"
#include "station_private.h"
#include "timestamp.h"

static json_t *count_json(size_t count)
{
	return json_integer((json_int_t)count);
}

static json_t *wall_json(int64_t us)
{
	char text[TIMESTAMP_TEXT];

	return us == 0 ? json_null() : json_string(timestamp_print(text, sizeof(text), us, 3));
}

static json_t *real_json(double value)
{
	return isfinite(value) ? json_real(value) : json_null();
}

static const char *state_word(enum source_state state)
{
	switch (state) {
	case SOURCE_STATE_WAITING:
		return "waiting";
	case SOURCE_STATE_OPEN:
		return "open";
	case SOURCE_STATE_ENDED:
		break;
	}
	return "ended";
}

static json_t *cup_json(const struct station_meter *meter)
{
	const struct cup_turn *turn = &meter->turn;
	size_t next = cup_turn_next(turn);
	char label[CUP_TURN_TEXT];
	json_t *json = json_object();

	json_object_set_new(json, "role", json_string(reading_role_word((uint8_t)turn->role)));
	json_object_set_new(json, "label", json_text(slice_from(cup_turn_label(label, sizeof(label), turn))));
	json_object_set_new(json, "readings", json_integer(cup_turn_count(turn)));
	json_object_set_new(json, "wanted", json_integer(turn->goal));
	json_object_set_new(json, "next", next == CUP_NONE ? json_null() : json_text(turn->order->labels[next]));
	json_object_set_new(json, "last_label", json_text(slice_from(meter->cup)));
	json_object_set_new(json, "mean", real_json(meter->live.mean));
	json_object_set_new(json, "sd", real_json(meter->live.sd));
	json_object_set_new(json, "warning", json_text(slice_from(meter->warning)));
	return json;
}

static json_t *meter_json(const struct station_meter *meter)
{
	struct source_info info = source_info(meter->source);
	json_t *json = json_object();

	json_object_set_new(json, "name", json_text(slice_from(meter->about.name)));
	json_object_set_new(json, "port", json_text(slice_from(meter->about.port)));
	json_object_set_new(json, "path", json_text(slice_from(source_path(meter->source))));
	json_object_set_new(json, "profile", json_text(slice_from(meter->about.profile)));
	json_object_set_new(json, "kind", json_string(source_kind_name(source_kind(meter->source))));
	json_object_set_new(json, "state", json_string(state_word(info.state)));
	json_object_set_new(json, "why", json_text(slice_from(info.text)));
	json_object_set_new(json, "openings", count_json(info.openings));
	json_object_set_new(json, "bytes", count_json(info.bytes));
	json_object_set_new(json, "lines", count_json(info.lines));
	json_object_set_new(json, "readings", count_json(meter->readings));
	json_object_set_new(json, "not_read", count_json(meter->unread));
	json_object_set_new(json, "nuls", count_json(info.nuls));
	json_object_set_new(json, "damaged", count_json(info.damaged));
	json_object_set_new(json, "last_at", wall_json(meter->last_us));
	json_object_set_new(json, "last_line", json_text(slice_from(meter->last_line)));
	json_object_set_new(json, "cup", cup_json(meter));
	return json;
}

static const char *report_word(const struct report_child *report)
{
	if (report_child_busy(report))
		return "being written";
	if (report->failed)
		return "failed";
	return report->written_us != 0 ? "written" : "none yet";
}

static json_t *report_json(const struct report_child *report)
{
	json_t *json = json_object();

	json_object_set_new(json, "run", json_text(slice_from(report->run)));
	json_object_set_new(json, "state", json_string(report_word(report)));
	json_object_set_new(json, "written", wall_json(report->written_us));
	json_object_set_new(json, "said", report->failed ? json_text(slice_from(report->said)) : json_null());
	return json;
}

static json_t *run_json(const struct station *station)
{
	const struct station_run *run = &station->run;
	size_t done = 0;
	json_t *json;

	if (run->id == 0)
		return json_null();
	for (size_t i = 0; i < station->meter_count; i++) {
		size_t of_meter = station->meters[i]->source ? cup_turn_done(&station->meters[i]->turn) : 0;

		done = of_meter > done ? of_meter : done;
	}
	json = json_object();
	json_object_set_new(json, "name", json_text(slice_from(run->name)));
	json_object_set_new(json, "manifest", json_text(slice_from(run->manifest)));
	json_object_set_new(json, "cups", count_json(run->order.count));
	json_object_set_new(json, "cups_done", count_json(done));
	json_object_set_new(json, "by_time", json_boolean(run->by_time));
	json_object_set_new(json, "manifest_faults", count_json(run->faults));
	return json;
}

static json_t *messages_json(const struct station *station)
{
	json_t *array = json_array();

	for (size_t i = 0; i < station->message_count; i++) {
		const struct station_message *message = &station->messages[i];
		json_t *json = json_object();

		json_object_set_new(json, "at", wall_json(message->wall_us));
		json_object_set_new(json, "level", json_string(log_level_name(message->level)));
		json_object_set_new(json, "text", json_text(slice_from(message->text)));
		json_array_append_new(array, json);
	}
	return array;
}

static json_t *ledger_json(const struct station *station)
{
	const struct store *store = &station->store;
	json_t *json = json_object();

	json_object_set_new(json, "path", json_text(slice_from(station->bench->ledger)));
	json_object_set_new(json, "storing", json_boolean(store->state == STORE_STORING));
	json_object_set_new(json, "why",
	                    store->state == STORE_STORING ? json_null() : json_text(slice_from(store->error.text)));
	json_object_set_new(json, "waiting", count_json(store->count));
	json_object_set_new(json, "lost", count_json(store->lost));
	return json;
}

json_t *station_status(const struct station *station)
{
	json_t *json = json_object();
	json_t *meters = json_array();
	json_t *readings = json_array();

	for (size_t i = 0; i < station->meter_count; i++)
		if (station->meters[i]->source)
			json_array_append_new(meters, meter_json(station->meters[i]));
	for (size_t i = 0; i < station->recent_count; i++)
		json_array_append_new(readings, json_loads(station->recent[i], 0, NULL));
	json_object_set_new(json, "ok", json_true());
	json_object_set_new(json, "bench",
	                    station->request.is_folder ? json_text(slice_from(station->bench->folder)) : json_null());
	json_object_set_new(json, "ledger", ledger_json(station));
	json_object_set_new(json, "run", run_json(station));
	json_object_set_new(json, "report", report_json(&station->report));
	json_object_set_new(json, "meters", meters);
	json_object_set_new(json, "readings", readings);
	json_object_set_new(json, "messages", messages_json(station));
	return json;
}
