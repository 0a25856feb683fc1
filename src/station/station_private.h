/* SPDX-License-Identifier: GPL-3.0-or-later */
/* station_private.h: what a station is made of; for the files station*.c alone. */
#ifndef BREWSPREAD_STATION_PRIVATE_H
#define BREWSPREAD_STATION_PRIVATE_H

#include <jansson.h>

#include "control.h"
#include "cup_turn.h"
#include "file_watch.h"
#include "live_check.h"
#include "log.h"
#include "notify.h"
#include "output.h"
#include "reading_json.h"
#include "report_child.h"
#include "source.h"
#include "station.h"
#include "store.h"
#include "terminal.h"

enum {
	METER_RECENT = 16, /* readings among which one that was sent twice is known again */
	METER_VALUES = 64, /* of the cup on the prism that are remembered */
	STATION_MESSAGES = 12,
	STATION_RECENT = 10, /* readings that status tells */
	STATION_TEXT = 1200,
	STATION_METERS = 2 * BENCH_METERS, /* with those that settings took away */
};

/* A reading that a meter counted, to know it again. */
struct sent {
	char sequence[32];
	char label[64];
	double value;
};

struct station_meter {
	struct bench_meter about; /* texts in memory */
	struct arena memory;
	char *profile_text;
	struct profile *profile;
	struct profile_scratch *scratch;
	struct source *source; /* NULL: settings took the meter away */
	int64_t id;            /* in the ledger */
	bool written_down;     /* its coming and going is an event of the ledger */

	/* as lines come */
	struct cup_turn turn;
	unsigned *taken; /* from malloc(), unless the run's are shared */
	struct sent recent[METER_RECENT];
	size_t recent_count;
	int64_t unread_told_us;
	size_t unread_untold;

	/* as they are stored */
	char cup[CUP_TURN_TEXT]; /* that values are of */
	uint8_t cup_role;
	struct shown shown; /* the last reading */
	double temp_c;
	double values[METER_VALUES]; /* the last ones */
	size_t value_count;          /* that are kept */
	size_t count;                /* that there were */
	bool doubted;                /* … the cup, once or more */
	struct live_spread spread;
	struct live_result live;
	char warning[480]; /* what live says, for people; "" */
	size_t readings, unread;
	int64_t last_us; /* wall clock; 0: nothing yet */
	char last_line[LINE_PRINT];
};

struct station_run {
	int64_t id; /* in the ledger; 0: none is open */
	char name[128];
	const char *manifest; /* its path, in memory */
	struct slice *labels; /* from malloc(); their texts in memory */
	struct cup_order order;
	unsigned *taken;  /* from malloc(), where meters share the work */
	bool by_time;     /* brews have times to join readings by: no turn */
	size_t faults;    /* of the manifest, warnings and errors */
	int64_t again_us; /* the system failed to read it: it is tried again after so long; 0: it did not fail */
	struct file_watch watch;
	struct arena memory;
};

struct station_message {
	int64_t wall_us;
	enum log_level level;
	char text[240];
};

struct station {
	struct bench *bench;
	struct station_request request;
	struct ledger *ledger;
	struct store store;
	struct log log;
	struct output out;
	struct json_line told; /* the last reading that was */
	struct terminal terminal;
	struct screen screen;
	struct control *control; /* NULL: no socket */
	struct notify notify;
	struct report_child report;
	struct station_run run;
	struct station_meter *meters[STATION_METERS];
	size_t meter_count;
	struct moment now;
	int64_t wall_less_boot_us; /* when last looked at */
	int signals;
	bool stopping;
	bool refusal_told;                                 /* people know that the ledger refuses */
	bool broken_told;                                  /* … that standard output can't be written to */
	bool lost_told;                                    /* … and that lines are being lost */
	size_t chosen;                                     /* meter that keys are for; STATION_METERS: all */
	struct station_message messages[STATION_MESSAGES]; /* newest last */
	size_t message_count;
	char *recent[STATION_RECENT]; /* JSON, from malloc(); newest last */
	size_t recent_count;
	bool stale_view;       /* something is to be shown anew, */
	int64_t show_us;       /* no sooner than then */
	char entry[CUP_LABEL]; /* label that is being typed; */
	bool typing;
};

/* -- station.c -- */

/* Tells people; texts from outside may be in it: what is not printable is escaped. */
void station_say(struct station *station, enum log_level level, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

/* The same, and an event of the ledger of that kind, about meter where it is not NULL. */
void station_note(struct station *station, struct station_meter *meter, enum log_level level, const char *kind,
                  const char *format, ...) __attribute__((format(printf, 5, 6)));

/* Reads settings again: meters come, go and change; where there are faults all stays as it was. */
void station_reload(struct station *station);

/* -- station_meter.c: from the wire to what waits to be stored -- */

enum status station_meter_new(struct station_meter **out, struct station *station, const struct bench_meter *about,
                              struct faults *faults, struct error *error) MUST_USE;
void station_meter_free(struct station_meter *meter);

/* Reads what has come, and puts it with what waits to be stored. */
void station_meter_step(struct station *station, struct station_meter *meter, short revents);

/* -- station_told.c: what is stored is told -- */

/* Stores what waits, and acknowledges what was stored. */
void station_store(struct station *station);

/* -- station_run.c: the open run -- */

/* Takes up the run that the ledger says is open, if there is one. */
enum status station_run_resume(struct station *station, struct error *error) MUST_USE;
enum status station_run_begin(struct station *station, struct slice name, struct error *error) MUST_USE;
enum status station_run_end(struct station *station, struct error *error) MUST_USE;

/* Counts anew what the ledger has of the run: readings were pasted, amended, or the manifest changed. */
void station_run_count(struct station *station);

/* The same; says which cups have too few readings now and had enough before. */
void station_run_recount(struct station *station);

/* Is the manifest to be read again? */
void station_run_look(struct station *station);
void station_run_release(struct station *station);

/* Gives meter its place in the run's turn. */
bool station_run_join(struct station *station, struct station_meter *meter);

/* -- station_cups.c: what is on the prism -- */

/* meter NULL: every meter. What was done is told, and written down. STATUS_INVALID: error. */
enum status station_cup_set(struct station *station, struct station_meter *meter, struct slice label,
                            struct error *error) MUST_USE;
enum status station_cup_check(struct station *station, struct station_meter *meter, double standard_percent,
                              struct error *error) MUST_USE;

enum cup_move { CUP_NEXT, CUP_BACK, CUP_AGAIN, CUP_OFF };
enum status station_cup_move(struct station *station, struct station_meter *meter, enum cup_move move,
                             struct error *error) MUST_USE;

/* Words as "cup" has them: A3, zero, standard 5.00. */
enum status station_cup_words(struct station *station, struct station_meter *meter, struct slice words,
                              struct error *error) MUST_USE;

/* Writes down what is on meter's prism. */
void station_cup_note(struct station *station, struct station_meter *meter);

/* Asks meter, or every meter that can be asked, for a reading. */
enum status station_ask(struct station *station, struct station_meter *meter, struct error *error) MUST_USE;

/* -- station_status.c -- */

/* The caller's: json_decref(). NULL: no memory. */
json_t *station_status(const struct station *station);

/* -- station_serve.c: the socket's requests, and keys -- */

void station_serve(struct station *station);
void station_key(struct station *station, char key);

/* -- station_view.c -- */

void station_show(struct station *station);

#endif
