/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A manifest, a line "----", readings: read, joined, analysed, and told as JSON. */
#include "analysis.h"
#include "analysis_json.h"
#include "fuzz.h"
#include "join.h"
#include "manifest.h"
#include "readings.h"

enum { ANALYSED_MOST = 200 }; /* more make a slow input, not another one */

static enum status analyse(struct run *run, const struct settings *settings, struct faults *faults, struct error *error)
{
	struct analysis *analysis = NULL;
	enum status status = analysis_make(&analysis, run, settings, error);

	if (status == STATUS_OK)
		fuzz_json_holds(analysis_json(analysis, faults, "0"));
	analysis_free(analysis);
	return status;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct settings settings;
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct slice manifest, readings;
	struct run *run = run_new();
	struct text text;
	enum status status;

	settings_init(&settings);
	fuzz_split(data, size, &manifest, &readings);
	text = fuzz_text((const uint8_t *)manifest.text, manifest.len);
	if (!run || !text.bytes)
		return 0;
	status = manifest_read_text(run, "brews.csv", &text, &settings, &faults, &error);
	text_release(&text);
	if (status == STATUS_OK)
		status = readings_parse(run, "cups.txt", readings, NULL, &settings, &faults, &error);
	if (status == STATUS_OK && run->brew_count <= ANALYSED_MOST)
		status = join_readings(run, &settings, &faults, &error);
	if (status == STATUS_OK && run->brew_count <= ANALYSED_MOST)
		status = analyse(run, &settings, &faults, &error);
	FUZZ_HOLDS(status == STATUS_OK || error.text[0] != '\0');
	run_free(run);
	faults_release(&faults);
	return 0;
}
