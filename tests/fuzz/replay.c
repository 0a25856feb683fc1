/* SPDX-License-Identifier: GPL-3.0-or-later */
/* replay FILE...: runs a driver once on each file, without the fuzzer. */
#include <stdio.h>

#include "fuzz.h"

int main(int argc, char **argv)
{
	for (int i = 1; i < argc; i++) {
		struct text text = TEXT_INIT;
		struct error error = ERROR_INIT;

		if (text_load(&text, argv[i], &error) != STATUS_OK) {
			fprintf(stderr, "%s\n", error.text);
			return 1;
		}
		LLVMFuzzerTestOneInput((const uint8_t *)text.bytes, text.len);
		text_release(&text);
	}
	return 0;
}
