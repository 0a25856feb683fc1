/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_history.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "analysis.h"
#include "arena.h"
#include "join.h"
#include "ledger_read.h"
#include "ledger_run.h"
#include "manifest.h"

/* A run of the ledger with a manifest. */
struct past_run {
	int64_t id;
	const char *manifest;
};

struct past {
	struct history *out;
	struct ledger *ledger;
	const struct history_query *query;
	struct settings settings;
	struct arena memory;
	struct past_run runs[HISTORY_RUNS]; /* a ring of the newest */
	size_t seen;
	struct pooled brews, readings;
	double least, most; /* of the runs' spreads */
};

/* Where the manifest stands: as it was told, else beside the ledger, else in the ledger's folder. NULL: no memory. */
static const char *manifest_path(struct past *past, struct slice told)
{
	const char *path = arena_copy(&past->memory, told).text;
	const char *ledger = ledger_path(past->ledger);
	const char *slash = strrchr(ledger, '/');
	const char *beside;

	if (!path || path[0] == '/' || access(path, R_OK) == 0 || !slash)
		return path;
	beside = arena_print(&past->memory, "%.*s/%s", (int)(slash - ledger), ledger, path);
	return beside && access(beside, R_OK) == 0 ? beside : path;
}

static bool same_file(const char *a, const char *b)
{
	char *real_a = realpath(a, NULL), *real_b = realpath(b, NULL);
	bool same = real_a && real_b ? strcmp(real_a, real_b) == 0 : strcmp(a, b) == 0;

	free(real_a);
	free(real_b);
	return same;
}

static enum status take_run(void *context, const struct ledger_run *run, struct error *error)
{
	struct past *past = context;
	const char *path;

	if (run->manifest.len == 0)
		return STATUS_OK;
	path = manifest_path(past, run->manifest);
	if (!path)
		return error_set(error, STATUS_MEMORY, "no memory for the earlier runs");
	if (past->query->except && same_file(past->query->except, path))
		return STATUS_OK;
	past->runs[past->seen++ % HISTORY_RUNS] = (struct past_run){ run->id, path };
	return STATUS_OK;
}

static bool of_method(const struct run *run, enum brew_method method)
{
	for (size_t i = 0; i < run->brew_count; i++)
		if (run->brews[i].method != method)
			return false;
	return run->brew_count > 0;
}

static void pool_spread(struct past *past, const struct analysis *analysis)
{
	const struct comparison *comparison = &analysis->comparison;
	double s = comparison->s_brew, df = comparison->s_brew_df;

	if (comparison->source != SPREAD_RUN || !comparison->response.is_yield || !isfinite(s) || !(df > 0))
		return;
	pooled_add(&past->brews, s * s * df, df);
	past->least = past->out->runs > 0 ? fmin(past->least, s) : s;
	past->most = past->out->runs > 0 ? fmax(past->most, s) : s;
	past->out->runs++;
	for (size_t t = 0; t < analysis->run->treatment_count; t++)
		past->out->brews += analysis->treatments[t].brews;
}

static void pool_readings(struct past *past, const struct analysis *analysis)
{
	const struct repeatability *r = &analysis->repeatability;

	if (isfinite(r->s_r) && r->df > 0)
		pooled_add(&past->readings, r->s_r * r->s_r * r->df, r->df);
}

static enum status load(struct past *past, const struct past_run *which, struct run *run, struct faults *faults,
                        struct error *error)
{
	struct ledger_query lines = { .run = which->id, .meter = past->query->meter };
	enum status status = manifest_read(run, which->manifest, &past->settings, faults, error);

	if (status == STATUS_IO || status == STATUS_REFUSED) {
		past->out->unreadable++;
		if (status == STATUS_IO && !past->out->unread.text[0] && access(which->manifest, F_OK) == 0)
			past->out->unread = *error;
		return STATUS_REFUSED;
	}
	if (status == STATUS_OK && !of_method(run, past->query->method))
		return STATUS_REFUSED;
	if (status == STATUS_OK)
		status = ledger_load_run(past->ledger, &lines, run, error);
	if (status == STATUS_OK)
		status = join_readings(run, &past->settings, faults, error);
	return status;
}

/* STATUS_OK also for a run that has nothing to say. */
static enum status pool_run(struct past *past, const struct past_run *which, struct error *error)
{
	struct faults faults = FAULTS_INIT;
	struct run *run = run_new();
	struct analysis *analysis = NULL;
	enum status status;

	if (!run)
		return error_set(error, STATUS_MEMORY, "no memory for the earlier runs");
	status = load(past, which, run, &faults, error);
	if (status == STATUS_OK)
		status = analysis_make(&analysis, run, &past->settings, error);
	if (status == STATUS_OK) {
		past->out->looked_at++;
		pool_spread(past, analysis);
		pool_readings(past, analysis);
	}
	analysis_free(analysis);
	run_free(run);
	faults_release(&faults);
	return status == STATUS_REFUSED || status == STATUS_INVALID ? STATUS_OK : status;
}

static void finish(struct past *past)
{
	struct history *out = past->out;
	double confidence = past->settings.confidence;

	out->s_brew = pooled_sd(&past->brews);
	out->df = past->brews.df;
	out->s_brew_interval = sd_interval(out->s_brew, out->df, confidence);
	out->ratio = out->runs > 1 && past->least > 0 ? past->most / past->least : NAN;
	out->s_r = pooled_sd(&past->readings);
	out->s_r_df = past->readings.df;
	out->s_r_interval = sd_interval(out->s_r, out->s_r_df, confidence);
}

enum status audit_history(struct history *out, struct ledger *ledger, const struct history_query *query,
                          const struct settings *settings, struct error *error)
{
	struct past *past = calloc(1, sizeof(*past));
	enum status status;
	size_t count;

	*out = (struct history){ .s_brew = NAN, .s_r = NAN, .ratio = NAN };
	if (!past)
		return error_set(error, STATUS_MEMORY, "no memory for the earlier runs");
	past->out = out;
	past->ledger = ledger;
	past->query = query;
	past->settings = *settings;
	past->settings.history_sd = past->settings.history_df = NAN;
	past->settings.reading_sd = past->settings.reading_df = NAN;
	past->settings.control[0] = '\0';
	snprintf(past->settings.response, sizeof(past->settings.response), "yield");
	status = ledger_each_run(ledger, take_run, past, error);
	count = past->seen < HISTORY_RUNS ? past->seen : HISTORY_RUNS;
	for (size_t i = 0; status == STATUS_OK && i < count; i++)
		status = pool_run(past, &past->runs[i], error);
	finish(past);
	arena_release(&past->memory);
	free(past);
	return status;
}

void history_tell_unread(const struct history *history, struct faults *faults)
{
	if (history->unread.text[0])
		faults_add(faults, SEVERITY_WARNING, (struct place){ .file = NULL }, "an earlier run is left out: %s",
		           history->unread.text);
}

bool history_apply(struct settings *settings, const struct history *history)
{
	if (isfinite(settings->history_sd) || !isfinite(history->s_brew) || !(history->df > 0))
		return false;
	settings->history_sd = history->s_brew;
	settings->history_df = history->df;
	return true;
}

const char *history_words(char *out, size_t size, const struct history *history, const char *ledger_path)
{
	snprintf(out, size, "from %zu earlier run%s with %zu brews in %s", history->runs, history->runs == 1 ? "" : "s",
	         history->brews, ledger_path);
	return out;
}
