/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Short texts: moments, numbers, labels, formats of a report. */
#include "digits.h"
#include "fuzz.h"
#include "label.h"
#include "number.h"
#include "report_files.h"
#include "timestamp.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
	char *copy = fuzz_copy(data, size);
	struct slice text = { copy, size }, key;
	struct arena arena = ARENA_INIT;
	struct error error = ERROR_INIT;
	char back[TIMESTAMP_TEXT];
	unsigned formats = 0;
	long long count;
	size_t used = 0;
	double value;
	int64_t us;
	int decimals;

	if (!copy)
		return 0;
	if (timestamp_parse(&us, &used, text)) {
		int64_t again;

		FUZZ_HOLDS(used > 0 && used <= size);
		timestamp_print(back, sizeof(back), us, 6);
		FUZZ_HOLDS(timestamp_parse(&again, NULL, slice_from(back)) && again == us);
	}
	if (moment_parse(&us, text))
		FUZZ_HOLDS(size >= 5);
	if (number_parse(&value, &decimals, text, '.') || number_parse(&value, &decimals, text, ',') ||
	    number_parse_any(&value, &decimals, text))
		FUZZ_HOLDS(value - value == 0 && decimals >= 0);
	if (number_parse_count(&count, text))
		FUZZ_HOLDS(size > 0);
	if (utf8_valid_part(text) == text.len) {
		FUZZ_HOLDS(label_key(&key, &arena, text));
		FUZZ_HOLDS(label_hidden(key) == 0);
	}
	if (report_formats_parse(&formats, text, &error) != STATUS_OK)
		FUZZ_HOLDS(formats == 0 && error.text[0] != '\0');
	arena_release(&arena);
	free(copy);
	return 0;
}
