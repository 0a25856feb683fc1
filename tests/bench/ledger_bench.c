/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * ledger_bench [FOLDER [ROWS]]: what the ledger costs beside what it is made of, each pair measured in the same run:
 *   - a durable append against append + fdatasync of as many bytes to a plain file, the two taking turns; medians
 *   - the same in groups of 10, a reading
 *   - a stream of ROWS (1,000,000) readings against a bare SELECT of the same columns; the better of three, in turns
 *   - the first reading of one meter's last month
 * Prints one line each. FOLDER is where the files are made and removed (TMPDIR or /tmp).
 */
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <sqlite3.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "bench.h"
#include "ledger_append.h"
#include "ledger_meter.h"
#include "ledger_read.h"
#include "ledger_run.h"
#include "number.h"

enum { TURNS = 400, GROUP = 10, FIRST_DAY_US_PER_ROW = 10000000 };

static const char line[] = "R 000123  TDS 1.38 %  22.4 C";

static struct ledger_entry entry_of(int64_t number, const int64_t *meters, int64_t run)
{
	struct ledger_entry entry = LEDGER_ENTRY_INIT;

	entry.received_us = 1700000000000000 + number * FIRST_DAY_US_PER_ROW;
	entry.monotonic_us = 1000000 + number * FIRST_DAY_US_PER_ROW;
	entry.meter = meters[number % 4];
	entry.run = run;
	entry.role = READING_SAMPLE;
	entry.label = slice_from("A1");
	entry.raw = SLICE_OF(line);
	entry.sequence = slice_from("000123");
	entry.shown = (struct shown){ 1.38, 2, UNIT_TDS_PERCENT };
	entry.temp_c = 22.4;
	return entry;
}

static struct ledger *ledger_made(const char *path, int64_t meters[4], int64_t *run)
{
	struct error error = ERROR_INIT;
	struct ledger *ledger;

	bench_stop_at("open", ledger_open(&ledger, path, LEDGER_CREATE, &error), &error);
	for (int i = 0; i < 4; i++) {
		char name[] = "meter 0";
		struct ledger_meter meter = { .meter = meter_standard() };

		name[6] = (char)('0' + i);
		meter.meter.name = slice_from(name);
		bench_stop_at("meter", ledger_meter_add(ledger, &meter, &error), &error);
		meters[i] = meter.id;
	}
	bench_stop_at("run", ledger_run_open(ledger, slice_from("bench"), slice_from(""), 1, run, &error), &error);
	return ledger;
}

static void append_group(struct ledger *ledger, int64_t *number, int count, const int64_t *meters, int64_t run)
{
	struct error error = ERROR_INIT;

	bench_stop_at("begin", ledger_begin(ledger, &error), &error);
	for (int i = 0; i < count; i++) {
		struct ledger_entry entry = entry_of((*number)++, meters, run);

		bench_stop_at("append", ledger_append(ledger, &entry, &error), &error);
	}
	bench_stop_at("commit", ledger_commit(ledger, &error), &error);
}

static void bench_append(const char *folder, int group)
{
	static double ledger_s[TURNS], plain_s[TURNS];
	char path[512], plain[512];
	int64_t meters[4], run, number = 0;
	struct ledger *ledger;
	char bytes[sizeof(line) * GROUP];
	int fd;

	snprintf(path, sizeof(path), "%s/bench-%ld.ledger", folder, (long)getpid());
	snprintf(plain, sizeof(plain), "%s/bench-%ld.plain", folder, (long)getpid());
	ledger = ledger_made(path, meters, &run);
	fd = open(plain, O_WRONLY | O_CREAT | O_APPEND | O_TRUNC, 0600);
	memset(bytes, 'x', sizeof(bytes));
	append_group(ledger, &number, 5000, meters, run); /* past the start, where every commit makes the file longer */
	for (int i = 0; i < TURNS; i++) {
		double start = bench_now_s(), middle;

		append_group(ledger, &number, group, meters, run);
		middle = bench_now_s();
		if (write(fd, bytes, sizeof(line) * (size_t)group) < 0 || fdatasync(fd) != 0)
			bench_stop_at("plain file", STATUS_IO, &(struct error){ "cannot be written" });
		ledger_s[i] = middle - start;
		plain_s[i] = bench_now_s() - middle;
	}
	printf("durable append of %2d: %.3f ms, append + fdatasync %.3f ms, ratio %.2f\n", group,
	       bench_quantile(ledger_s, TURNS, 0.5) * 1e3, bench_quantile(plain_s, TURNS, 0.5) * 1e3,
	       bench_quantile(ledger_s, TURNS, 0.5) / bench_quantile(plain_s, TURNS, 0.5));
	close(fd);
	ledger_free(ledger);
	unlink(plain);
	unlink(path);
}

struct sum {
	double value;
	int64_t rows;
	double first_s; /* when the first one came */
};

static enum status row_sum(void *context, const struct ledger_row *row, struct error *error)
{
	struct sum *sum = context;

	(void)error;
	if (sum->rows++ == 0)
		sum->first_s = bench_now_s();
	sum->value += row->entry.shown.value + (double)row->entry.raw.len + (double)row->label.len;
	return STATUS_OK;
}

static double bare_select(const char *path, double *total)
{
	double start = bench_now_s();
	sqlite3 *db;
	sqlite3_stmt *statement;

	sqlite3_open_v2(path, &db, SQLITE_OPEN_READONLY | SQLITE_OPEN_NOMUTEX, NULL);
	sqlite3_prepare_v2(
		db,
		"SELECT id, received_us, monotonic_us, meter, run, paste, line, col, role, flags, unit, "
		"decimals, value, temp_c, standard_percent, taken_us, label, sequence, status, raw FROM readings",
		-1, &statement, NULL);
	*total = 0;
	while (sqlite3_step(statement) == SQLITE_ROW) {
		int64_t sum = 0;

		for (int i = 0; i < 12; i++)
			sum += sqlite3_column_int64(statement, i);
		*total += sqlite3_column_double(statement, 12) + (double)(sum & 1) * 0;
		*total += sqlite3_column_type(statement, 13) == SQLITE_NULL ? 0 :
		                                                              sqlite3_column_double(statement, 13) * 0;
		*total += sqlite3_column_type(statement, 14) == SQLITE_NULL ? 0 :
		                                                              sqlite3_column_double(statement, 14) * 0;
		*total += sqlite3_column_type(statement, 15) == SQLITE_NULL ?
		                  0 :
		                  (double)sqlite3_column_int64(statement, 15) * 0;
		for (int i = 16; i < 20; i++) {
			const void *bytes = sqlite3_column_blob(statement, i);

			if (bytes && (i == 16 || i == 19))
				*total += sqlite3_column_bytes(statement, i);
		}
	}
	sqlite3_finalize(statement);
	sqlite3_close(db);
	return bench_now_s() - start;
}

static double stream(const char *path, const struct ledger_query *query, struct sum *sum)
{
	struct error error = ERROR_INIT;
	struct ledger *ledger;
	double start = bench_now_s();

	*sum = (struct sum){ .value = 0 };
	bench_stop_at("open", ledger_open(&ledger, path, LEDGER_READ, &error), &error);
	bench_stop_at("read", ledger_each(ledger, query, row_sum, sum, &error), &error);
	ledger_free(ledger);
	return bench_now_s() - start;
}

static void bench_month(const char *path, int64_t rows)
{
	struct ledger_query query = { .meter = slice_from("meter 1") };
	double start = bench_now_s(), took;
	struct sum sum;

	query.since_us = 1700000000000000 + rows * FIRST_DAY_US_PER_ROW - (int64_t)30 * 86400 * 1000000;
	took = stream(path, &query, &sum);
	printf("one meter's last month: opened in %.1f ms, all %lld readings in %.1f ms\n", (sum.first_s - start) * 1e3,
	       (long long)sum.rows, took * 1e3);
}

static void bench_stream(const char *folder, int64_t rows)
{
	static const struct ledger_query all = { .run = 0 };
	double ours = INFINITY, bare = INFINITY, total, took;
	int64_t meters[4], run, number = 0;
	struct ledger *ledger;
	char path[512];
	struct sum sum;

	snprintf(path, sizeof(path), "%s/bench-%ld.ledger", folder, (long)getpid());
	ledger = ledger_made(path, meters, &run);
	took = bench_now_s();
	while (number < rows)
		append_group(ledger, &number, rows - number < 1000 ? (int)(rows - number) : 1000, meters, run);
	printf("filled: %lld readings in %.1f s\n", (long long)rows, bench_now_s() - took);
	ledger_free(ledger);
	for (int i = 0; i < 3; i++) {
		bare = fmin(bare, bare_select(path, &total));
		ours = fmin(ours, stream(path, &all, &sum));
		if (sum.rows != rows || fabs(sum.value - total) > 1)
			bench_stop_at("stream", STATUS_REFUSED, &(struct error){ "not the same rows" });
	}
	printf("stream of %lld: %.2f s, bare SELECT %.2f s, ratio %.2f\n", (long long)rows, ours, bare, ours / bare);
	bench_month(path, rows);
	unlink(path);
}

int main(int argc, char **argv)
{
	const char *folder = argc > 1 ? argv[1] : getenv("TMPDIR");
	long long rows = 1000000;

	if (argc > 2 && !number_parse_count(&rows, slice_from(argv[2]))) {
		fprintf(stderr, "usage: ledger_bench [FOLDER [ROWS]]\n");
		return 2;
	}
	bench_append(folder ? folder : "/tmp", 1);
	bench_append(folder ? folder : "/tmp", GROUP);
	bench_stream(folder ? folder : "/tmp", rows);
	return 0;
}
