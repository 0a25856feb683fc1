/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Readings as text: the program's own forms, and each built-in profile's. The first byte chooses. */
#include "fuzz.h"
#include "readings.h"

/* Labels that the short way through a line knows. */
static void brews_lend(struct run *run)
{
	static const char *const labels[] = { "A1", "A2", "B-01" };
	static struct brew brews[3];

	for (size_t i = 0; i < 3; i++)
		brews[i].label = brews[i].key = slice_from(labels[i]);
	run->brews = brews;
	run->brew_count = 3;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	static const char *const names[] = { NULL, "bare-number", "labelled-line", "delimited-line" };
	static struct profile *profiles[4];
	struct settings settings;
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct run *run = run_new();
	size_t which = size > 0 ? data[0] % 4 : 0;
	char *copy = fuzz_copy(size > 0 ? data + 1 : data, size > 0 ? size - 1 : 0);

	settings_init(&settings);
	if (names[which] && !profiles[which] &&
	    profile_open(&profiles[which], names[which], &faults, &error) != STATUS_OK)
		abort();
	if (run && copy) {
		struct slice bytes = { copy, size > 0 ? size - 1 : 0 };
		enum status status;

		brews_lend(run);
		status = readings_parse(run, "cups.txt", bytes, profiles[which], &settings, &faults, &error);

		FUZZ_HOLDS(status == STATUS_OK || error.text[0] != '\0');
		for (size_t i = 0; i < run->reading_count; i++)
			FUZZ_HOLDS(run->readings[i].value == run->readings[i].value);
	}
	free(copy);
	run_free(run);
	faults_release(&faults);
	return 0;
}
