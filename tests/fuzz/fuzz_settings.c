/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A settings file. */
#include "fuzz.h"
#include "settings_file.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	struct settings settings;
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct text text = fuzz_text(data, size);
	enum status status;

	settings_init(&settings);
	if (!text.bytes)
		return 0;
	status = settings_file_read_text(&settings, "bench.ini", &text, &faults, &error);
	FUZZ_HOLDS(status == STATUS_OK || faults.errors > 0 || error.text[0] != '\0');
	FUZZ_HOLDS(settings.confidence > 0 && settings.confidence < 1 && settings.type_count <= SETTINGS_TYPES);
	text_release(&text);
	faults_release(&faults);
	return 0;
}
