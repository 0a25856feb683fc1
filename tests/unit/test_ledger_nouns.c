/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Amendments, meters, runs, pasted texts and events of a ledger. */
#include "ledger_scene.h"

#include "ledger_amend.h"
#include "ledger_event.h"
#include "ledger_paste.h"
#include "ledger_run.h"

/* One line an item, as each test prints it. */
struct list {
	char text[1024];
	size_t count;
};

static void list_add(struct list *list, const char *line)
{
	size_t used = strlen(list->text);

	snprintf(list->text + used, sizeof(list->text) - used, "%s\n", line);
	list->count++;
}

static enum status list_amendment(void *context, const struct amendment *amendment, struct error *error)
{
	char line[256];

	(void)error;
	snprintf(line, sizeof(line), "%d: %d %s \"%.*s\" %d %.*s (%.*s)", (int)amendment->id, (int)amendment->reading,
	         amendment_action_name(amendment->action), SLICE_ARG(amendment->label), amendment->role,
	         SLICE_ARG(amendment->reason), SLICE_ARG(amendment->author));
	list_add(context, line);
	return STATUS_OK;
}

static enum status list_run(void *context, const struct ledger_run *run, struct error *error)
{
	char line[256];

	(void)error;
	snprintf(line, sizeof(line), "%d: %.*s %.*s %d %d", (int)run->id, SLICE_ARG(run->name),
	         SLICE_ARG(run->manifest), (int)run->opened_us,
	         run->closed_us == READING_NO_TIME ? -1 : (int)run->closed_us);
	list_add(context, line);
	return STATUS_OK;
}

static enum status list_event(void *context, const struct ledger_event *event, struct error *error)
{
	char line[256];

	(void)error;
	snprintf(line, sizeof(line), "%d: %d %d %d %d %.*s: %.*s", (int)event->id, (int)event->at_us,
	         (int)event->monotonic_us, (int)event->meter, (int)event->run, SLICE_ARG(event->kind),
	         SLICE_ARG(event->text));
	list_add(context, line);
	return STATUS_OK;
}

static enum status list_meter(void *context, const struct ledger_meter *meter, struct error *error)
{
	char line[256];

	(void)error;
	snprintf(line, sizeof(line), "%d: %.*s %.*s \"%.*s\" %s %g %g %d %g %g", (int)meter->id,
	         SLICE_ARG(meter->meter.name), SLICE_ARG(meter->port), SLICE_ARG(meter->profile),
	         unit_name(meter->meter.unit), meter->meter.scale_factor, meter->meter.cal_temp_c,
	         meter->meter.compensated, meter->meter.step, meter->meter.accuracy);
	list_add(context, line);
	return STATUS_OK;
}

static struct amendment amendment_of(int64_t reading, enum amendment_action action)
{
	return (struct amendment){
		.reading = reading,
		.at_us = SCENE_TIME_US,
		.action = action,
		.label = slice_from(action == AMENDMENT_MOVE ? "B1" : ""),
		.reason = slice_from("spilt"),
		.author = slice_from("K."),
	};
}

static void amendments_are_listed_as_they_were_made(void **state)
{
	static const enum amendment_action actions[] = { AMENDMENT_EXCLUDE, AMENDMENT_RESTORE, AMENDMENT_MOVE };
	struct scene *scene = *state;
	struct list all = { .count = 0 }, one = { .count = 0 };
	struct amendment amendment;

	scene_add(scene, "A1", 1.38);
	scene_add(scene, "A1", 1.39);
	for (size_t i = 0; i < 3; i++) {
		amendment = amendment_of(2, actions[i]);
		assert_done(ledger_amend_append(scene->ledger, &amendment, &error));
		assert_int_equal(amendment.id, i + 1);
	}
	amendment = amendment_of(1, AMENDMENT_EXCLUDE);
	assert_done(ledger_amend_append(scene->ledger, &amendment, &error));
	assert_done(ledger_each_amendment(scene->ledger, 0, list_amendment, &all, &error));
	assert_string_equal(all.text, "1: 2 exclude \"\" 0 spilt (K.)\n2: 2 restore \"\" 0 spilt (K.)\n"
	                              "3: 2 move \"B1\" 0 spilt (K.)\n4: 1 exclude \"\" 0 spilt (K.)\n");
	assert_done(ledger_each_amendment(scene->ledger, 1, list_amendment, &one, &error));
	assert_string_equal(one.text, "4: 1 exclude \"\" 0 spilt (K.)\n");
}

static void excluded_and_restored_and_excluded_again(void **state)
{
	struct scene *scene = *state;
	struct amendment exclude = amendment_of(1, AMENDMENT_EXCLUDE), restore = amendment_of(1, AMENDMENT_RESTORE);

	scene_add(scene, "A1", 1.38);
	assert_told(ledger_amend_append(scene->ledger, &restore, &error), STATUS_INVALID, "not excluded");
	assert_done(ledger_amend_append(scene->ledger, &exclude, &error));
	assert_told(ledger_amend_append(scene->ledger, &exclude, &error), STATUS_INVALID, "already: spilt");
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).row.flags, READING_EXCLUDED);
	assert_done(ledger_amend_append(scene->ledger, &restore, &error));
	assert_int_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).row.flags, 0);
	assert_string_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).note, "");
	exclude.reason = slice_from("once more");
	assert_done(ledger_amend_append(scene->ledger, &exclude, &error));
	assert_string_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).note, "once more");
}

static void moved_twice_and_back(void **state)
{
	struct scene *scene = *state;
	struct amendment move = amendment_of(1, AMENDMENT_MOVE);

	scene_add(scene, "A1", 1.38);
	assert_done(ledger_amend_append(scene->ledger, &move, &error));
	assert_told(ledger_amend_append(scene->ledger, &move, &error), STATUS_INVALID, "\"B1\" already");
	move.label = slice_from("A1");
	assert_done(ledger_amend_append(scene->ledger, &move, &error));
	assert_string_equal(scene_see(scene->ledger, (struct ledger_query){ 0 }).label, "A1");
	move.role = 7;
	assert_told(ledger_amend_append(scene->ledger, &move, &error), STATUS_INVALID, "role");
}

static void amendments_that_make_no_sense(void **state)
{
	struct scene *scene = *state;
	struct ledger_entry unread = LEDGER_ENTRY_INIT;
	struct amendment amendment = amendment_of(1, AMENDMENT_EXCLUDE);
	struct list list = { .count = 0 };

	assert_told(ledger_amend_append(scene->ledger, &amendment, &error), STATUS_INVALID, "no reading 1");
	amendment.reading = 0;
	scene_add(scene, "A1", 1.38);
	assert_told(ledger_amend_append(scene->ledger, &amendment, &error), STATUS_INVALID, "no reading 0");
	amendment.reading = 1;
	amendment.reason = slice_from(" \t");
	assert_told(ledger_amend_append(scene->ledger, &amendment, &error), STATUS_INVALID, "without a reason");
	unread.meter = scene->meter;
	assert_done(ledger_append(scene->ledger, &unread, &error));
	amendment = amendment_of(2, AMENDMENT_MOVE);
	assert_told(ledger_amend_append(scene->ledger, &amendment, &error), STATUS_INVALID, "gave no reading");
	assert_done(ledger_each_amendment(scene->ledger, 0, list_amendment, &list, &error));
	assert_int_equal(list.count, 0);
}

static struct ledger_meter meter_of(const char *name, const char *port, const char *profile)
{
	struct ledger_meter meter = { .seen_us = SCENE_TIME_US, .meter = meter_standard() };

	meter.meter.name = slice_from(name);
	meter.port = slice_from(port);
	meter.profile = slice_from(profile);
	return meter;
}

static void meter_is_stored_once_and_again_when_it_changed(void **state)
{
	struct scene *scene = *state; /* has one meter */
	struct ledger_meter first = meter_of("red", "p1", "x"), again = first;
	struct ledger_meter other[] = { meter_of("red", "p2", "x"), meter_of("red", "p1", "y"), first, first, first };
	struct list list = { .count = 0 };

	other[2].meter.accuracy = 0.02;
	other[3].meter.unit = UNIT_BRIX;
	other[4].meter.scale_factor = 0.8;
	assert_done(ledger_meter_add(scene->ledger, &first, &error));
	again.seen_us += 5;
	assert_done(ledger_meter_add(scene->ledger, &again, &error));
	assert_int_equal(first.id, 2);
	assert_int_equal(again.id, 2);
	for (int i = 0; i < 5; i++) {
		assert_done(ledger_meter_add(scene->ledger, &other[i], &error));
		assert_int_equal(other[i].id, 3 + i);
	}
	assert_done(ledger_each_meter(scene->ledger, list_meter, &list, &error));
	assert_int_equal(list.count, 7);
	assert_non_null(strstr(list.text, "2: red p1 \"x\" tds 0.85 20 1 nan nan\n"));
	assert_non_null(strstr(list.text, "5: red p1 \"x\" tds 0.85 20 1 nan 0.02\n"));
	assert_non_null(strstr(list.text, "6: red p1 \"x\" brix 0.85 20 1 nan nan\n"));
}

static void meters_that_make_no_sense(void **state)
{
	struct scene *scene = *state;
	struct ledger_meter meter = meter_of(" ", "p", "");

	assert_told(ledger_meter_add(scene->ledger, &meter, &error), STATUS_INVALID, "name");
	meter = meter_of("red", "p", "");
	meter.meter.scale_factor = NAN;
	assert_told(ledger_meter_add(scene->ledger, &meter, &error), STATUS_INVALID, "finite");
	meter = meter_of("red", "p", "");
	meter.meter.cal_temp_c = INFINITY;
	assert_told(ledger_meter_add(scene->ledger, &meter, &error), STATUS_INVALID, "finite");
	meter = meter_of("red", "p", "");
	meter.meter.step = INFINITY;
	assert_told(ledger_meter_add(scene->ledger, &meter, &error), STATUS_INVALID, "step");
}

static void run_is_opened_closed_and_opened_again(void **state)
{
	struct scene *scene = *state;
	struct slice march = slice_from("march"), path = slice_from("a/m.csv");
	struct list list = { .count = 0 }, closed = { .count = 0 };
	int64_t id = 0, same = 0, other = 0;

	assert_done(ledger_run_open(scene->ledger, march, path, 10, &id, &error));
	assert_done(ledger_run_open(scene->ledger, march, path, 11, &same, &error)); /* open already */
	assert_int_equal(same, id);
	assert_done(ledger_run_open(scene->ledger, march, slice_from("b/m.csv"), 12, &other, &error));
	assert_int_not_equal(other, id);
	assert_done(ledger_run_close(scene->ledger, id, 20, &error));
	assert_done(ledger_run_close(scene->ledger, id, 21, &error)); /* closed already */
	assert_done(ledger_each_run(scene->ledger, list_run, &closed, &error));
	assert_string_equal(closed.text, "1: march a/m.csv 10 20\n2: march b/m.csv 12 -1\n");
	assert_done(ledger_run_open(scene->ledger, march, path, 30, &same, &error));
	assert_int_equal(same, id);
	assert_done(ledger_each_run(scene->ledger, list_run, &list, &error));
	assert_string_equal(list.text, "1: march a/m.csv 10 -1\n2: march b/m.csv 12 -1\n");
	assert_done(ledger_run_find(scene->ledger, march, &same, &error));
	assert_int_equal(same, other); /* the newest of that name */
	assert_done(ledger_run_find(scene->ledger, slice_from("Märch"), &same, &error));
	assert_int_equal(same, 0);
}

static void runs_that_make_no_sense(void **state)
{
	struct scene *scene = *state;
	int64_t id;

	assert_told(ledger_run_open(scene->ledger, slice_from(""), slice_from("m"), 1, &id, &error), STATUS_INVALID,
	            "name");
	assert_told(ledger_run_close(scene->ledger, 9, 1, &error), STATUS_INVALID, "no run 9");
}

static void events_are_listed_after_an_id(void **state)
{
	struct scene *scene = *state;
	struct ledger_event plugged = {
		.at_us = 5, .monotonic_us = 6, .meter = scene->meter, .kind = slice_from("opened")
	};
	struct ledger_event step = { .at_us = 7, .kind = slice_from("clock step"), .text = slice_from("-3600 s") };
	struct list all = { .count = 0 }, later = { .count = 0 };

	assert_done(ledger_event_add(scene->ledger, &plugged, &error));
	assert_done(ledger_event_add(scene->ledger, &step, &error));
	assert_done(ledger_each_event(scene->ledger, 0, list_event, &all, &error));
	assert_string_equal(all.text, "1: 5 6 1 0 opened: \n2: 7 0 0 0 clock step: -3600 s\n");
	assert_done(ledger_each_event(scene->ledger, plugged.id, list_event, &later, &error));
	assert_string_equal(later.text, "2: 7 0 0 0 clock step: -3600 s\n");
	step.kind = slice_from("");
	assert_told(ledger_event_add(scene->ledger, &step, &error), STATUS_INVALID, "kind");
	plugged.meter = 77;
	assert_told(ledger_event_add(scene->ledger, &plugged, &error), STATUS_INVALID, "FOREIGN KEY");
}

static void same_text_pasted_twice_is_noticed(void **state)
{
	struct scene *scene = *state;
	struct slice text = slice_from("A1 1.38 1.39\nA2 1.41\n");
	int64_t id = -1, known = -1, at_us = 0;

	assert_done(ledger_paste_find(scene->ledger, text, &known, &at_us, &error));
	assert_int_equal(known, 0);
	assert_done(ledger_paste_add(scene->ledger, slice_from("tray1.txt"), text, 100, &id, &error));
	assert_done(ledger_paste_find(scene->ledger, text, &known, &at_us, &error));
	assert_int_equal(known, id);
	assert_int_equal(at_us, 100);
	assert_done(
		ledger_paste_add(scene->ledger, slice_from("tray2.txt"), text, 200, &id, &error)); /* the user's will */
	assert_done(ledger_paste_find(scene->ledger, text, &known, &at_us, &error));
	assert_int_equal(at_us, 100); /* the first */
}

struct digest_case {
	const char *name;
	const char *text, *other;
	bool same;
};

static void digests_compare(void **state)
{
	const struct digest_case *c = *state;
	char digest[65], other[65];

	ledger_paste_digest(digest, slice_from(c->text));
	ledger_paste_digest(other, slice_from(c->other));
	assert_int_equal(strcmp(digest, other) == 0, c->same);
}

/* FIPS 180-4's example "abc" has no line end; with one, sha256sum(1) gives this. */
static void digest_is_sha_256_of_the_lines(void **state)
{
	char digest[65];

	(void)state;
	ledger_paste_digest(digest, slice_from("  abc \r\n\r\n"));
	assert_string_equal(digest, "edeaaff3f1774ad2888673770c6d64097e391bc362d7d6fb34982ddf0efd18cb");
	ledger_paste_digest(digest, slice_from("")); /* FIPS 180-4 of nothing */
	assert_string_equal(digest, "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

static enum status stop_amendment(void *context, const struct amendment *amendment, struct error *error)
{
	(void)context;
	(void)amendment;
	return error_set(error, STATUS_REFUSED, "enough");
}

static enum status stop_run(void *context, const struct ledger_run *run, struct error *error)
{
	(void)context;
	(void)run;
	return error_set(error, STATUS_REFUSED, "enough");
}

static enum status stop_meter(void *context, const struct ledger_meter *meter, struct error *error)
{
	(void)context;
	(void)meter;
	return error_set(error, STATUS_REFUSED, "enough");
}

static enum status stop_event(void *context, const struct ledger_event *event, struct error *error)
{
	(void)context;
	(void)event;
	return error_set(error, STATUS_REFUSED, "enough");
}

static void lists_stop_where_the_caller_says(void **state)
{
	struct scene *scene = *state;
	struct amendment amendment = amendment_of(1, AMENDMENT_EXCLUDE);
	struct ledger_event event = { .kind = slice_from("opened") };
	int64_t id;

	scene_add(scene, "A1", 1.38);
	assert_done(ledger_amend_append(scene->ledger, &amendment, &error));
	assert_done(ledger_event_add(scene->ledger, &event, &error));
	assert_done(ledger_run_open(scene->ledger, slice_from("r"), slice_from(""), 1, &id, &error));
	assert_told(ledger_each_amendment(scene->ledger, 0, stop_amendment, NULL, &error), STATUS_REFUSED, "enough");
	assert_told(ledger_each_run(scene->ledger, stop_run, NULL, &error), STATUS_REFUSED, "enough");
	assert_told(ledger_each_meter(scene->ledger, stop_meter, NULL, &error), STATUS_REFUSED, "enough");
	assert_told(ledger_each_event(scene->ledger, 0, stop_event, NULL, &error), STATUS_REFUSED, "enough");
}

#define SCENE_TEST(function) cmocka_unit_test_setup_teardown(function, scene_setup, scene_teardown)

#define LENGTH(array)        (sizeof(array) / sizeof((array)[0]))

int main(void)
{
	static struct digest_case digests[] = {
		{ "line ends play no part in a text", "A1 1.38\nA2 1.41\n", "A1 1.38\r\nA2 1.41", true },
		{ "old line ends neither", "A1 1.38\nA2 1.41\n", "A1 1.38\rA2 1.41\r", true },
		{ "nor blank lines and blanks at the ends of lines", "A1 1.38\nA2 1.41\n",
		  "\n  A1 1.38  \n\nA2 1.41\n\n", true },
		{ "another number is another text", "A1 1.38\n", "A1 1.39\n", false },
		{ "another order is another text", "A1 1.38\nA2 1.41\n", "A2 1.41\nA1 1.38\n", false },
		{ "two lines are not one", "A1 1.38\n1.39\n", "A1 1.381.39\n", false },
		{ "a line more is another text", "A1 1.38\n", "A1 1.38\nA1 1.38\n", false },
	};
	static const struct CMUnitTest plain[] = {
		SCENE_TEST(amendments_are_listed_as_they_were_made),
		SCENE_TEST(excluded_and_restored_and_excluded_again),
		SCENE_TEST(moved_twice_and_back),
		SCENE_TEST(amendments_that_make_no_sense),
		SCENE_TEST(meter_is_stored_once_and_again_when_it_changed),
		SCENE_TEST(meters_that_make_no_sense),
		SCENE_TEST(run_is_opened_closed_and_opened_again),
		SCENE_TEST(runs_that_make_no_sense),
		SCENE_TEST(events_are_listed_after_an_id),
		SCENE_TEST(same_text_pasted_twice_is_noticed),
		cmocka_unit_test(digest_is_sha_256_of_the_lines),
		SCENE_TEST(lists_stop_where_the_caller_says),
	};
	struct CMUnitTest tests[LENGTH(plain) + LENGTH(digests)];
	size_t count = 0;

	for (size_t i = 0; i < LENGTH(plain); i++)
		tests[count++] = plain[i];
	for (size_t i = 0; i < LENGTH(digests); i++)
		tests[count++] = (struct CMUnitTest){ digests[i].name, digests_compare, NULL, NULL, &digests[i] };
	return cmocka_run_group_tests(tests, NULL, NULL);
}
