/* SPDX-License-Identifier: GPL-3.0-or-later */
/* station_serve.c: the socket's requests, each a row; and the keys of the live view. */
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "json_put.h"
#include "reading_json.h"
#include "station_private.h"

enum { REQUESTS_A_TURN = 16 };

/* A request at work: what it is about, and what is answered. */
struct service {
	struct station *station;
	struct station_meter *meter; /* NULL: all */
	const struct control_request *request;
	json_t *answer; /* members beside "ok" */
	struct error error;
};

static enum status serve_status(struct service *service)
{
	json_decref(service->answer);
	service->answer = station_status(service->station);
	return STATUS_OK;
}

static enum status serve_cup(struct service *service)
{
	struct slice words = service->request->rest;

	if (words.len == 0)
		return error_set(&service->error, STATUS_INVALID, "expected a label, zero, or standard PERCENT");
	return station_cup_words(service->station, service->meter, words, &service->error);
}

static enum status serve_next(struct service *service)
{
	return station_cup_move(service->station, service->meter, CUP_NEXT, &service->error);
}

static enum status serve_back(struct service *service)
{
	return station_cup_move(service->station, service->meter, CUP_BACK, &service->error);
}

static enum status serve_again(struct service *service)
{
	return station_cup_move(service->station, service->meter, CUP_AGAIN, &service->error);
}

static enum status serve_off(struct service *service)
{
	return station_cup_move(service->station, service->meter, CUP_OFF, &service->error);
}

static enum status serve_ask(struct service *service)
{
	return station_ask(service->station, service->meter, &service->error);
}

static enum status serve_open(struct service *service)
{
	return station_run_begin(service->station, service->request->rest, &service->error);
}

static enum status serve_close(struct service *service)
{
	struct slice name = service->request->rest;
	struct slice open = slice_from(service->station->run.name);

	if (service->station->run.id != 0 && name.len > 0 && !slice_equal(name, open))
		return error_set(&service->error, STATUS_INVALID, "run %.*s is open, not %.*s", SLICE_ARG(open),
		                 SLICE_ARG(name));
	json_object_set_new(service->answer, "run", json_text(open));
	return station_run_end(service->station, &service->error);
}

static enum status serve_look(struct service *service)
{
	struct station *station = service->station;

	station_run_recount(station);
	if (station->run.id != 0)
		report_child_want(&station->report, station->run.name);
	return STATUS_OK;
}

static enum status serve_follow(struct service *service)
{
	control_follow(service->station->control, service->request->client);
	return STATUS_OK;
}

static struct station_meter *meter_find(struct station *station, struct slice name)
{
	for (size_t i = 0; i < station->meter_count; i++)
		if (station->meters[i]->source && slice_equal(slice_from(station->meters[i]->about.name), name))
			return station->meters[i];
	return NULL;
}

static enum status serve_for(struct service *service)
{
	struct slice name = service->request->rest;

	if (name.len > 0 && !meter_find(service->station, name))
		return error_set(&service->error, STATUS_INVALID, "no meter is called \"%.*s\"", SLICE_ARG(name));
	memset(service->request->meter, 0, CONTROL_METER);
	if (name.len > 0 && name.len < CONTROL_METER)
		memcpy(service->request->meter, name.text, name.len);
	return STATUS_OK;
}

static const struct {
	const char *word;
	enum status (*serve)(struct service *service);
} services[] = {
	{ "status", serve_status }, { "cup", serve_cup },   { "next", serve_next },     { "back", serve_back },
	{ "again", serve_again },   { "off", serve_off },   { "ask", serve_ask },       { "open", serve_open },
	{ "close", serve_close },   { "look", serve_look }, { "follow", serve_follow }, { "for", serve_for },
};

static enum status request_do(struct service *service)
{
	const struct control_request *request = service->request;

	service->meter = meter_find(service->station, slice_from(request->meter));
	if (request->meter[0] && !service->meter && !slice_equal(request->word, SLICE_OF("for")))
		return error_set(&service->error, STATUS_INVALID, "meter \"%s\" is not there any more", request->meter);
	for (size_t i = 0; i < sizeof(services) / sizeof(services[0]); i++)
		if (slice_equal(slice_from(services[i].word), request->word))
			return services[i].serve(service);
	return error_set(&service->error, STATUS_INVALID,
	                 "no request is called so; expected status, cup, next, back, again, off, ask, open, close, "
	                 "look, follow or for");
}

static void request_serve(struct station *station, const struct control_request *request)
{
	struct service service = { .station = station, .request = request, .answer = json_object() };
	enum status status = request_do(&service);
	char *text;

	json_object_set_new(service.answer, "ok", json_boolean(status == STATUS_OK));
	if (status != STATUS_OK)
		json_object_set_new(service.answer, "error", json_text(slice_from(service.error.text)));
	text = json_lined(service.answer, JSON_COMPACT | JSON_REAL_PRECISION(15), "");
	control_answer(station->control, request->client, text ? text : "{\"ok\":false,\"error\":\"no memory\"}");
	free(text);
	json_decref(service.answer);
}

void station_serve(struct station *station)
{
	struct control_request request;
	char text[160];

	for (int i = 0; i < REQUESTS_A_TURN && control_next(station->control, &request); i++)
		request_serve(station, &request);
	while (control_dropped(station->control, text, sizeof(text)))
		station_say(station, LOG_LEVEL_NOTICE, "%s", text);
}

/* A label that is being typed: ends with Return, is given up with Escape. */
static void label_key_take(struct station *station, struct station_meter *meter, char key)
{
	size_t len = strlen(station->entry);
	struct error error = ERROR_INIT;

	if (key == '\r' || key == '\n') {
		station->typing = false;
		if (len > 0 && station_cup_words(station, meter, slice_from(station->entry), &error) != STATUS_OK)
			station_say(station, LOG_LEVEL_NOTICE, "%s", error.text);
	} else if (key == 0x1b) {
		station->typing = false;
	} else if (key == 0x7f || key == '\b') {
		/* a character of several bytes goes as a whole */
		while (len > 0 && ((unsigned char)station->entry[--len] & 0xc0) == 0x80)
			continue;
		station->entry[len] = '\0';
	} else if ((unsigned char)key >= ' ' && len + 1 < sizeof(station->entry)) {
		station->entry[len] = key;
		station->entry[len + 1] = '\0';
	}
}

static void meter_choose_next(struct station *station)
{
	size_t i = station->chosen >= station->meter_count ? 0 : station->chosen + 1;

	while (i < station->meter_count && !station->meters[i]->source)
		i++;
	station->chosen = i < station->meter_count ? i : STATION_METERS;
}

void station_key(struct station *station, char key)
{
	struct station_meter *meter = station->chosen < station->meter_count ? station->meters[station->chosen] : NULL;
	struct error error = ERROR_INIT;
	enum status status = STATUS_OK;

	station->stale_view = true;
	if (station->typing) {
		label_key_take(station, meter, key);
		return;
	}
	switch (key) {
	case 'n':
		status = station_cup_move(station, meter, CUP_NEXT, &error);
		break;
	case 'b':
		status = station_cup_move(station, meter, CUP_BACK, &error);
		break;
	case 'r':
		status = station_cup_move(station, meter, CUP_AGAIN, &error);
		break;
	case 'z':
		status = station_cup_check(station, meter, 0, &error);
		break;
	case 'a':
		status = station_ask(station, meter, &error);
		break;
	case 'c':
		station->typing = true;
		station->entry[0] = '\0';
		break;
	case '\t':
		meter_choose_next(station);
		break;
	case 'q':
		station->stopping = true;
		break;
	default:
		break;
	}
	if (status != STATUS_OK)
		station_say(station, LOG_LEVEL_NOTICE, "%s", error.text);
}
