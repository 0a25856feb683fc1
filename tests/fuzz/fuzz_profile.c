/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A meter profile, a line "----", and lines that it is tried on. */
#include "fuzz.h"
#include "profile.h"

static void match_lines(const struct profile *profile, struct slice text)
{
	struct profile_scratch *scratch = profile_scratch_new(profile);
	size_t from = 0;

	for (size_t i = 0; scratch && i <= text.len; i++) {
		struct profile_reading reading;
		char *line;

		if (i < text.len && text.text[i] != '\n')
			continue;
		line = fuzz_copy((const uint8_t *)text.text + from, i - from);
		if (line &&
		    profile_match(profile, scratch, (struct slice){ line, i - from }, &reading) == LINE_READING) {
			FUZZ_HOLDS(reading.shown.value == reading.shown.value);
			FUZZ_HOLDS(reading.value_at <= i - from);
		}
		FUZZ_HOLDS(profile_reason(scratch));
		free(line);
		from = i + 1;
	}
	profile_scratch_free(scratch);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct profile *profile = NULL;
	struct slice ini, lines;
	char *copy;

	fuzz_split(data, size, &ini, &lines);
	copy = fuzz_copy((const uint8_t *)ini.text, ini.len);
	if (copy && profile_parse(&profile, (struct slice){ copy, ini.len }, "meter.ini", &faults, &error) == STATUS_OK)
		match_lines(profile, lines);
	else if (copy)
		FUZZ_HOLDS(faults.errors > 0 || error.text[0] != '\0');
	profile_free(profile);
	free(copy);
	faults_release(&faults);
	return 0;
}
