/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The manifest of an instrument study, a line "----", readings: the study, and the same readings audited, told as JSON. */
#include "audit_feed.h"
#include "audit_gauge.h"
#include "audit_json.h"
#include "fuzz.h"
#include "gauge_manifest.h"
#include "join.h"
#include "readings.h"

enum { STUDIED_MOST = 60 }; /* loads; more make a slow input, not another one */

static enum status study(struct run *run, const struct gauge_design *design, const struct settings *settings,
                         struct faults *faults, struct error *error)
{
	const struct audit_query query = audit_query_standard();
	struct audit_gauge *gauge = NULL;
	enum status status = join_readings(run, settings, faults, error);

	if (status == STATUS_OK)
		status = audit_gauge_make(&gauge, run, design, settings, &query, error);
	if (status == STATUS_OK)
		fuzz_json_holds(audit_json(NULL, gauge, faults, "0"));
	audit_gauge_free(gauge);
	return status;
}

static enum status audited(const struct run *run, struct faults *faults, struct error *error)
{
	const struct audit_query query = audit_query_standard();
	const struct audit_feed_query all = { .since_us = 0 };
	struct audit *audit = audit_new(&query);
	enum status status = audit ? audit_feed_run(audit, run, 0, 1, &all, faults, error) : STATUS_MEMORY;

	if (status == STATUS_OK)
		status = audit_finish(audit, error);
	if (status == STATUS_OK)
		fuzz_json_holds(audit_json(audit, NULL, faults, "0"));
	audit_free(audit);
	return status;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct settings settings;
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct gauge_design design = { .operators = NULL };
	struct slice manifest, readings;
	struct run *run = run_new();
	struct text text;
	enum status status;

	settings_init(&settings);
	fuzz_split(data, size, &manifest, &readings);
	text = fuzz_text((const uint8_t *)manifest.text, manifest.len);
	if (!run || !text.bytes)
		return 0;
	status = gauge_manifest_read_text(run, &design, "study.csv", &text, &faults, &error);
	text_release(&text);
	FUZZ_HOLDS(status == STATUS_OK || faults.errors > 0 || error.text[0] != '\0');
	FUZZ_HOLDS(status != STATUS_OK || run->brew_count <= GAUGE_LOADS_MOST);
	if (status == STATUS_OK || status == STATUS_REFUSED)
		status = readings_parse(run, "study.txt", readings, NULL, &settings, &faults, &error);
	if (status == STATUS_OK)
		status = audited(run, &faults, &error);
	if (status == STATUS_OK && run->brew_count <= STUDIED_MOST)
		status = study(run, &design, &settings, &faults, &error);
	FUZZ_HOLDS(status == STATUS_OK || error.text[0] != '\0');
	run_free(run);
	faults_release(&faults);
	return 0;
}
