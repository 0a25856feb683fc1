/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "ledger_load.h"

#include <stdlib.h>

#include "bench_command.h"
#include "bench_run.h"
#include "join.h"
#include "ledger_read.h"
#include "manifest.h"
#include "response.h"

static enum status readings_load(struct loaded *loaded, const struct bench *bench, struct slice name,
                                 struct invocation *invocation)
{
	struct ledger_query query = { .run = 0 };
	struct ledger *ledger;
	enum status status = invocation_ledger_open(&ledger, bench, LEDGER_READ, invocation);

	if (status == STATUS_OK)
		status = bench_run_find(ledger, name, &query.run, NULL, 0, &invocation->error);
	if (status == STATUS_OK && query.run == 0)
		status = error_set(&invocation->error, STATUS_INVALID, "%s has no run \"%.*s\"", bench->ledger,
		                   SLICE_ARG(name));
	if (status == STATUS_OK)
		status = ledger_load_run(ledger, &query, loaded->run, &invocation->error);
	ledger_free(ledger);
	return status;
}

/* Does any treatment say itself how brews of it scatter? */
static bool brewed_once(const struct run *run)
{
	for (size_t t = 0; t < run->treatment_count; t++)
		if (run->treatments[t].brews > 1)
			return false;
	return run->brew_count > 0;
}

/* A run with one brew each can be judged by nothing but the spread of earlier runs of the same method. */
static enum status history_borrow(struct loaded *loaded, const struct bench *bench, const char *manifest,
                                  struct invocation *invocation)
{
	struct history_query query = { .except = manifest };
	struct place place = { .file = manifest };
	struct history history;
	char words[200];
	enum status status;

	if (!brewed_once(loaded->run) || !response_names_yield(invocation->settings.response))
		return STATUS_OK;
	query.method = loaded->run->brews[0].method;
	status = invocation_history(&history, bench, &query, invocation);
	if (status == STATUS_OK && history_apply(&invocation->settings, &history))
		faults_add(&invocation->faults, SEVERITY_NOTE, place,
		           "each treatment was brewed once; the spread between brews is taken %s",
		           history_words(words, sizeof(words), &history, bench->ledger));
	return status;
}

/* Was every cup read once at most? */
static bool read_once(const struct run *run)
{
	size_t *readings = calloc(run->brew_count + 1, sizeof(*readings));
	size_t most = readings ? 0 : 2;

	for (size_t i = 0; readings && i < run->reading_count; i++) {
		const struct reading *reading = &run->readings[i];

		if (reading_used(reading) && reading->brew < run->brew_count && ++readings[reading->brew] > most)
			most = readings[reading->brew];
	}
	free(readings);
	return most < 2;
}

/* How well its meter repeats a run with one reading a cup can't say: earlier runs that were read with it may. */
static enum status repeatability_borrow(struct loaded *loaded, const struct bench *bench, const char *manifest,
                                        struct invocation *invocation)
{
	const struct run *run = loaded->run;
	struct history_query query = { .except = manifest };
	struct history history;
	enum status status;

	if (run->brew_count == 0 || run->meter_count != 1 || !read_once(run))
		return STATUS_OK;
	query.method = run->brews[0].method;
	query.meter = run->meters[0].name;
	status = invocation_history(&history, bench, &query, invocation);
	if (status == STATUS_OK && history.s_r_df > 0) {
		invocation->settings.reading_sd = history.s_r;
		invocation->settings.reading_df = history.s_r_df;
	}
	return status;
}

static enum status run_load(struct loaded *loaded, const struct bench *bench, struct slice name,
                            struct invocation *invocation)
{
	struct faults *faults = &invocation->faults;
	struct error *error = &invocation->error;
	const char *manifest = bench_run_manifest(bench, name, &loaded->run->memory);
	enum status status;

	loaded->folder = bench_run_folder(bench, name, &loaded->run->memory);
	if (!manifest || !loaded->folder)
		return error_set(error, STATUS_MEMORY, "no memory");
	status = manifest_read(loaded->run, manifest, &invocation->settings, faults, error);
	if (status == STATUS_OK)
		status = readings_load(loaded, bench, name, invocation);
	if (status == STATUS_OK)
		status = join_readings(loaded->run, &invocation->settings, faults, error);
	if (status == STATUS_OK)
		status = history_borrow(loaded, bench, manifest, invocation);
	if (status == STATUS_OK)
		status = repeatability_borrow(loaded, bench, manifest, invocation);
	return status;
}

enum status load_bench(struct loaded *loaded, struct invocation *invocation)
{
	struct slice name = slice_from(invocation->operands[0]);
	struct bench *bench = NULL;
	enum status status = invocation_bench_open(&bench, invocation);

	*loaded = (struct loaded){ .run = run_new() };
	if (status == STATUS_OK && !loaded->run)
		status = error_set(&invocation->error, STATUS_MEMORY, "no memory");
	if (status == STATUS_OK && (invocation->operand_count != 1 || !bench_run_name_fits(name)))
		status = error_set(&invocation->error, STATUS_INVALID,
		                   "with --bench the name of a run was expected, and nothing else");
	if (status == STATUS_OK)
		status = run_load(loaded, bench, name, invocation);
	bench_free(bench);
	return status;
}
