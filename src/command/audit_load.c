/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_load.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "audit_feed.h"
#include "audit_history.h"
#include "brew.h"
#include "clock.h"
#include "gauge_manifest.h"
#include "join.h"
#include "ledger.h"
#include "number.h"
#include "readings.h"
#include "timestamp.h"

/* The option's value as a number above 0; *value as it is where it is not given. */
static enum status take_positive(struct invocation *invocation, const char *name, double *value)
{
	const char *text = invocation_value(invocation, name);
	double number;

	if (!text)
		return STATUS_OK;
	if (!number_parse_any(&number, NULL, slice_trim(slice_from(text))) || !(number > 0))
		return error_set(&invocation->error, STATUS_INVALID, "--%s is \"%s\"; expected a number above 0", name,
		                 text);
	*value = number;
	return STATUS_OK;
}

/* "2026-03-01", or with a time of day behind it; else 0. */
static enum status take_since(struct invocation *invocation, int64_t *us)
{
	const char *text = invocation_value(invocation, "since");

	*us = 0;
	if (!text)
		return STATUS_OK;
	/* a time of day without a day is one of 1970 */
	if (!moment_parse(us, slice_from(text)) || *us < 86400 * INT64_C(1000000))
		return error_set(&invocation->error, STATUS_INVALID,
		                 "--since is \"%s\"; expected a day such as 2026-03-01", text);
	return STATUS_OK;
}

static enum status take_query(struct audited *audited, struct invocation *invocation)
{
	const struct settings *settings = &invocation->settings;
	const struct sample_type *filter = settings_type(settings, slice_from("filter"));
	struct audit_query *query = &audited->query;
	enum status status;

	*query = audit_query_standard();
	query->confidence = settings->confidence;
	query->filter_factor = filter ? filter->factor : query->filter_factor;
	query->temp_apart_c = settings->temp_apart_c;
	query->margin = isfinite(settings->margin) ? settings->margin : query->margin;
	query->brew_sd = settings->history_sd;
	query->brew_df = settings->history_df;
	query->brew_cost = settings->brew_cost;
	query->reading_cost = settings->reading_cost;
	query->readings = settings->readings_wanted;
	query->scale_step_g = settings->scale_step_g;
	query->scale_accuracy_g = settings->scale_accuracy_g;
	query->meter_accuracy = settings->meter_accuracy;
	query->now_us = clock_wall_us();
	status = take_positive(invocation, "dose", &query->dose_g);
	if (status == STATUS_OK)
		status = take_positive(invocation, "beverage", &query->beverage_g);
	if (status == STATUS_OK)
		status = take_positive(invocation, "standard-mass", &query->standard_total_g);
	return status;
}

/* Is the file at path a database? What can't be read is told by whoever reads it next. */
static bool is_ledger(const char *path)
{
	static const char mark[] = "SQLite format 3";
	char bytes[sizeof(mark)] = "";
	FILE *file = fopen(path, "rb");
	bool is;

	if (!file)
		return false;
	is = fread(bytes, 1, sizeof(bytes), file) == sizeof(bytes) && memcmp(bytes, mark, sizeof(mark)) == 0;
	fclose(file);
	return is;
}

/*
 * What earlier runs in the ledger say of brewing, where no setting does. Brews of the two methods are never pooled, for
 * their yields are not reckoned alike; the method with more of them to go by speaks.
 */
static enum status take_history(struct audited *audited, struct invocation *invocation, struct ledger *ledger,
                                struct slice meter)
{
	static const enum brew_method methods[] = { METHOD_PERCOLATION, METHOD_IMMERSION };
	struct audit_query *query = &audited->audit->query;
	struct history best = { .df = 0 };
	size_t warnings = invocation->faults.warnings;
	char words[200];
	enum status status = STATUS_OK;

	if (isfinite(query->brew_sd))
		return STATUS_OK;
	for (size_t i = 0; status == STATUS_OK && i < sizeof(methods) / sizeof(methods[0]); i++) {
		struct history_query ask = { .method = methods[i], .meter = meter };
		struct history history;

		status = audit_history(&history, ledger, &ask, &invocation->settings, &invocation->error);
		if (status == STATUS_OK && invocation->faults.warnings == warnings)
			history_tell_unread(&history, &invocation->faults); /* once, not for each method */
		if (status == STATUS_OK && isfinite(history.s_brew) && history.df > best.df)
			best = history;
	}
	if (status != STATUS_OK || !(best.df > 0))
		return status;
	query->brew_sd = best.s_brew;
	query->brew_df = best.df;
	query->brew_from = arena_print(&audited->run->memory, "%s",
	                               history_words(words, sizeof(words), &best, ledger_path(ledger)));
	return query->brew_from ? STATUS_OK : error_set(&invocation->error, STATUS_MEMORY, "no memory");
}

/* All of it before audit_finish(), which works out what the spreads mean together. */
static enum status take_ledger(struct audited *audited, struct invocation *invocation, const char *path,
                               const struct audit_feed_query *query)
{
	struct ledger *ledger;
	enum status status = ledger_open(&ledger, path, LEDGER_READ, &invocation->error);

	if (status != STATUS_OK)
		return status;
	status = audit_feed_ledger(audited->audit, ledger, query, &invocation->faults, &invocation->error);
	if (status == STATUS_OK)
		status = take_history(audited, invocation, ledger, query->meter);
	ledger_free(ledger);
	return status;
}

/* The ledger that path stands for: itself, or the one in the bench folder; NULL: no memory. */
static const char *ledger_in(struct audited *audited, const char *path)
{
	struct stat about;

	if (stat(path, &about) != 0 || !S_ISDIR(about.st_mode))
		return path;
	return arena_print(&audited->run->memory, "%s/" AUDIT_LEDGER, path);
}

static enum status take_text(struct audited *audited, struct invocation *invocation, const char *path, int64_t number,
                             const struct audit_feed_query *query)
{
	size_t first = audited->run->reading_count;
	enum status status = readings_read(audited->run, path, audited->profile, &invocation->settings,
	                                   &invocation->faults, &invocation->error);

	if (status != STATUS_OK)
		return status;
	return audit_feed_run(audited->audit, audited->run, first, number, query, &invocation->faults,
	                      &invocation->error);
}

static bool has_meter(const struct audit *audit, struct slice name)
{
	for (size_t i = 0; i < audit->meter_count; i++)
		if (slice_equal(audit->meters[i].name, name))
			return true;
	return false;
}

/* A ledger says so itself; of readings as text it is seen once all are read. */
static enum status no_such_meter(const struct run *run, struct slice name, struct error *error)
{
	char list[200] = "";
	size_t used = 0;

	for (size_t i = 0; i < run->meter_count && used < sizeof(list); i++)
		used += (size_t)snprintf(list + used, sizeof(list) - used, "%s%.*s", i > 0 ? ", " : "",
		                         SLICE_ARG(run->meters[i].name));
	return error_set(error, STATUS_INVALID, "no meter is called \"%.*s\"; in these readings there %s %s",
	                 SLICE_ARG(name), run->meter_count == 1 ? "is" : "are", used > 0 ? list : "none");
}

static enum status audit_files(struct audited *audited, struct invocation *invocation)
{
	const char *bench = invocation_value(invocation, "bench");
	const char *standard = bench ? bench : AUDIT_LEDGER;
	const char *const *files = invocation->operand_count > 0 ? (const char *const *)invocation->operands :
	                                                           &standard;
	size_t count = invocation->operand_count > 0 ? invocation->operand_count : 1;
	struct audit_feed_query query = { .meter = slice_from(invocation_value(invocation, "meter")) };
	enum status status = take_since(invocation, &query.since_us);

	if (bench && invocation->operand_count > 0)
		return error_set(&invocation->error, STATUS_INVALID,
		                 "with --bench no file was expected, but there is \"%s\"", invocation->operands[0]);
	audited->audit = audit_new(&audited->query);
	if (!audited->audit)
		return error_set(&invocation->error, STATUS_MEMORY, "no memory for the audit");
	for (size_t i = 0; status == STATUS_OK && i < count; i++) {
		const char *ledger = ledger_in(audited, files[i]);

		if (!ledger)
			status = error_set(&invocation->error, STATUS_MEMORY, "no memory for the audit");
		else if (ledger != files[i] || is_ledger(ledger) || files == &standard)
			status = take_ledger(audited, invocation, ledger, &query);
		else
			status = take_text(audited, invocation, files[i], (int64_t)i + 1, &query);
	}
	if (status == STATUS_OK && query.meter.len > 0 && !has_meter(audited->audit, query.meter))
		status = no_such_meter(audited->run, query.meter, &invocation->error);
	return status == STATUS_OK ? audit_finish(audited->audit, &invocation->error) : status;
}

static enum status study_files(struct audited *audited, struct invocation *invocation)
{
	const char *manifest = invocation_value(invocation, "gauge");
	struct faults *faults = &invocation->faults;
	struct error *error = &invocation->error;
	enum status status;

	if (invocation->operand_count == 0)
		return error_set(error, STATUS_INVALID, "--gauge needs the readings of the study behind it");
	status = gauge_manifest_read(audited->run, &audited->design, manifest, faults, error);
	for (size_t i = 0; status == STATUS_OK && i < invocation->operand_count; i++)
		status = readings_read(audited->run, invocation->operands[i], audited->profile, &invocation->settings,
		                       faults, error);
	if (status == STATUS_OK)
		status = join_readings(audited->run, &invocation->settings, faults, error);
	if (status != STATUS_OK)
		return status;
	return audit_gauge_make(&audited->gauge, audited->run, &audited->design, &invocation->settings, &audited->query,
	                        error);
}

enum status audit_load(struct audited *audited, struct invocation *invocation)
{
	const char *profile = invocation_value(invocation, "profile");
	enum status status;

	*audited = (struct audited){ .run = run_new() };
	if (!audited->run)
		return error_set(&invocation->error, STATUS_MEMORY, "no memory");
	status = take_query(audited, invocation);
	if (status == STATUS_OK && profile)
		status = profile_open(&audited->profile, profile, &invocation->faults, &invocation->error);
	if (status != STATUS_OK)
		return status;
	return invocation_given(invocation, "gauge") ? study_files(audited, invocation) :
	                                               audit_files(audited, invocation);
}

void audited_release(struct audited *audited)
{
	audit_free(audited->audit);
	audit_gauge_free(audited->gauge);
	run_free(audited->run);
	profile_free(audited->profile);
}
