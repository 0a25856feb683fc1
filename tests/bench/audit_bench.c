/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * audit_bench fill LEDGER READINGS: makes a ledger of that many invented readings: four meters taken in turns, each
 *   session two readings of water, three of a standard, twenty cups three times, water again; a session each 35 minutes.
 *   Prints the day a month before the last reading.
 * audit_bench select LEDGER: reads the columns of every reading that an audit reads, and nothing else: its floor.
 * audit_bench month LEDGER DAY: how much processor time it takes from opening the ledger to the first reading of one meter since that
 *   day, and to the finished audit of them.
 */
#include <math.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "audit.h"
#include "audit_feed.h"
#include "bench.h"
#include "ledger_amend.h"
#include "ledger_append.h"
#include "ledger_meter.h"
#include "ledger_read.h"
#include "number.h"
#include "random.h"
#include "timestamp.h"

enum { METERS = 4, CUPS = 20, READINGS_A_CUP = 3, ZEROS = 2, STANDARDS = 3, GROUP = 1000, EXCLUDED_EACH = 5000 };

enum { SESSION = 2 * ZEROS + STANDARDS + CUPS * READINGS_A_CUP };

#define SECOND_US  INT64_C(1000000)
#define SESSION_US (35 * 60 * SECOND_US)
#define BEGIN_US   INT64_C(1420102800000000) /* 2015-01-01 09:00 UTC */

/* Processor time: what a busy machine takes elsewhere is not counted. */
static double used_ms(void)
{
	struct timespec now;

	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
	return (double)now.tv_sec * 1e3 + (double)now.tv_nsec / 1e6;
}

static int64_t received_of(int64_t number)
{
	return BEGIN_US + number / SESSION * SESSION_US + number % SESSION * 20 * SECOND_US;
}

static double rounded(double value)
{
	return round(value * 100) / 100;
}

/* What the reading of that number is: its role, cup and value. */
static void entry_fill(struct ledger_entry *entry, int64_t number, struct random *random, char label[8])
{
	int64_t place = number % SESSION, cup = (place - ZEROS - STANDARDS) / READINGS_A_CUP;
	double noise = 0.01 * random_normal(random);

	entry->label = slice_from("");
	entry->standard_percent = NAN;
	if (place < ZEROS || place >= SESSION - ZEROS) {
		entry->role = READING_ZERO;
		entry->shown.value = rounded(noise);
	} else if (place < ZEROS + STANDARDS) {
		entry->role = READING_STANDARD;
		entry->standard_percent = 2;
		entry->shown.value = rounded(1.70 + noise);
	} else {
		snprintf(label, 8, "C%d", (int)cup + 1);
		entry->role = READING_SAMPLE;
		entry->label = slice_from(label);
		entry->shown.value = rounded(1.20 + 0.02 * (double)cup + noise);
	}
}

static struct ledger *ledger_begun(const char *path, int64_t meters[METERS])
{
	struct error error = ERROR_INIT;
	struct ledger *ledger;

	bench_stop_at("open", ledger_open(&ledger, path, LEDGER_CREATE, &error), &error);
	for (int i = 0; i < METERS; i++) {
		char name[] = "meter 0";
		struct ledger_meter meter = { .meter = meter_standard() };

		name[6] = (char)('0' + i);
		meter.meter.name = slice_from(name);
		bench_stop_at("meter", ledger_meter_add(ledger, &meter, &error), &error);
		meters[i] = meter.id;
	}
	return ledger;
}

static void exclude_some(struct ledger *ledger, int64_t readings)
{
	struct error error = ERROR_INIT;

	bench_stop_at("begin", ledger_begin(ledger, &error), &error);
	for (int64_t id = EXCLUDED_EACH; id <= readings; id += EXCLUDED_EACH) {
		struct amendment amendment = { .reading = id,
			                       .action = AMENDMENT_EXCLUDE,
			                       .reason = slice_from("bubble") };

		bench_stop_at("exclude", ledger_amend_append(ledger, &amendment, &error), &error);
	}
	bench_stop_at("commit", ledger_commit(ledger, &error), &error);
}

static void fill(const char *path, int64_t readings)
{
	struct error error = ERROR_INIT;
	int64_t meters[METERS];
	struct ledger *ledger = ledger_begun(path, meters);
	struct ledger_entry entry = LEDGER_ENTRY_INIT;
	struct random random;
	char label[8], day[TIMESTAMP_TEXT];

	random_seed(&random, 1);
	entry.shown = (struct shown){ 0, 2, UNIT_TDS_PERCENT };
	entry.raw = slice_from("R 000123  TDS 1.38 %  22.4 C");
	for (int64_t number = 0; number < readings; number++) {
		if (number % GROUP == 0)
			bench_stop_at("begin", ledger_begin(ledger, &error), &error);
		entry.meter = meters[number / SESSION % METERS];
		entry.received_us = received_of(number);
		entry.monotonic_us = entry.received_us - BEGIN_US + SECOND_US;
		entry.temp_c = 21 + (double)(number % 30) / 10;
		entry_fill(&entry, number, &random, label);
		bench_stop_at("append", ledger_append(ledger, &entry, &error), &error);
		if (number % GROUP == GROUP - 1 || number == readings - 1)
			bench_stop_at("commit", ledger_commit(ledger, &error), &error);
	}
	exclude_some(ledger, readings);
	ledger_free(ledger);
	timestamp_print(day, sizeof(day), received_of(readings - 1) - 30 * 86400 * SECOND_US, 0);
	printf("%.10s\n", day);
}

static void bare_select(const char *path)
{
	sqlite3 *db;
	sqlite3_stmt *statement = NULL;
	double total = 0;
	int64_t sum = 0;

	if (sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX, NULL) != SQLITE_OK ||
	    sqlite3_prepare_v2(db,
	                       "SELECT id, received_us, monotonic_us, meter, run, paste, line, col, role, flags, unit, "
	                       "decimals, value, temp_c, standard_percent, taken_us, label, sequence, status, raw "
	                       "FROM readings WHERE role < 3",
	                       -1, &statement, NULL) != SQLITE_OK)
		bench_stop_at("select", STATUS_IO, &(struct error){ "it can't be read" });
	while (sqlite3_step(statement) == SQLITE_ROW) {
		for (int i = 0; i < 12; i++)
			sum += sqlite3_column_int64(statement, i);
		for (int i = 12; i < 15; i++)
			total += sqlite3_column_type(statement, i) == SQLITE_NULL ? 0 :
			                                                            sqlite3_column_double(statement, i);
		sum += sqlite3_column_type(statement, 15) == SQLITE_NULL ? 0 : sqlite3_column_int64(statement, 15);
		for (int i = 16; i < 20; i++)
			sum += sqlite3_column_blob(statement, i) ? sqlite3_column_bytes(statement, i) : 0;
	}
	sqlite3_finalize(statement);
	sqlite3_close(db);
	printf("%.2f %lld\n", total, (long long)sum);
}

struct first {
	double at_ms;
	uint64_t readings;
};

static enum status note_first(void *context, const struct ledger_row *row, struct error *error)
{
	struct first *first = context;

	(void)row;
	(void)error;
	if (first->readings++ == 0)
		first->at_ms = used_ms();
	return STATUS_OK;
}

static void month(const char *path, const char *day)
{
	const struct audit_query standard = audit_query_standard();
	struct ledger_query lines = { .meter = slice_from("meter 1") };
	struct audit_feed_query query = { .meter = slice_from("meter 1") };
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct first first = { .at_ms = 0 };
	struct audit *audit = audit_new(&standard);
	struct ledger *ledger;
	double start = used_ms(), audited;

	if (!moment_parse(&query.since_us, slice_from(day)))
		bench_stop_at("month", STATUS_INVALID, &(struct error){ "expected a day" });
	lines.since_us = query.since_us;
	bench_stop_at("open", ledger_open(&ledger, path, LEDGER_READ, &error), &error);
	bench_stop_at("read", ledger_each(ledger, &lines, note_first, &first, &error), &error);
	ledger_free(ledger);
	audited = used_ms();
	bench_stop_at("open", ledger_open(&ledger, path, LEDGER_READ, &error), &error);
	bench_stop_at("feed", audit_feed_ledger(audit, ledger, &query, &faults, &error), &error);
	bench_stop_at("finish", audit_finish(audit, &error), &error);
	printf("  one meter's last month: open after %.1f ms, its %llu readings audited in %.1f ms (processor time)\n",
	       first.at_ms - start, (unsigned long long)first.readings, used_ms() - audited);
	ledger_free(ledger);
	audit_free(audit);
	faults_release(&faults);
}

int main(int argc, char **argv)
{
	long long readings;

	if (argc == 4 && strcmp(argv[1], "fill") == 0 && number_parse_count(&readings, slice_from(argv[3])))
		fill(argv[2], readings);
	else if (argc == 3 && strcmp(argv[1], "select") == 0)
		bare_select(argv[2]);
	else if (argc == 4 && strcmp(argv[1], "month") == 0)
		month(argv[2], argv[3]);
	else
		return 2;
	return 0;
}
