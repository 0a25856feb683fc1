/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdio.h>

#include "command.h"
#include "learn.h"
#include "number.h"
#include "text.h"

static const struct command_option options[] = {
	{ .name = NULL },
};

enum { LINES_SHOWN = 200 };

/* As a remark of an INI file, so that all that is printed makes a profile. */
static void line_tell(const struct learned_line *line)
{
	char text[LINE_PRINT], number[NUMBER_TEXT];
	const struct profile_reading *reading = &line->reading;

	printf("; %s\n;   ", line_print(text, sizeof(text), line->text));
	switch (line->kind) {
	case LINE_READING:
		printf("%s %s", number_print(number, sizeof(number), reading->shown.value, reading->shown.decimals),
		       unit_symbol(reading->shown.unit));
		if (!isnan(reading->temp_c))
			printf(", %.1f °C", reading->temp_c);
		if (reading->label.len > 0)
			printf(", cup %s", line_print(text, sizeof(text), reading->label));
		if (reading->seq.len > 0)
			printf(", number %s", line_print(text, sizeof(text), reading->seq));
		printf("\n");
		break;
	case LINE_NO_READING:
		printf("says that there is no reading\n");
		break;
	case LINE_UNMATCHED:
	case LINE_ERROR:
		printf("not read\n");
		break;
	}
}

static enum exit_code learned_tell(const struct learned *learned)
{
	for (size_t i = 0; i < learned->doubt_count; i++)
		fprintf(stderr, "%s\n", learned->doubts[i]);
	if (!learned->ini) {
		fprintf(stderr, "no profile can be proposed\n");
		return EXIT_FAULTS;
	}
	fputs(learned->ini, stdout);
	printf("\n; what it makes of the %zu lines, %zu of them readings:\n", learned->line_count,
	       learned->reading_count);
	for (size_t i = 0; i < learned->line_count && i < LINES_SHOWN; i++)
		line_tell(&learned->lines[i]);
	if (learned->line_count > LINES_SHOWN)
		printf("; and %zu more\n", learned->line_count - LINES_SHOWN);
	return learned->doubt_count > 0 || learned->reading_count == 0 ? EXIT_FAULTS : EXIT_DONE;
}

static enum exit_code run_learn(struct invocation *invocation)
{
	struct text text = TEXT_INIT;
	struct learned learned;
	enum exit_code code;
	enum status status = text_load(&text, invocation->operands[0], &invocation->error);

	if (status != STATUS_OK)
		return invocation_tell_error(invocation, status);
	status = learn_profile(&learned, (struct slice){ text.bytes, text.len }, &invocation->error);
	code = status == STATUS_OK ? learned_tell(&learned) : invocation_tell_error(invocation, status);
	learned_release(&learned);
	text_release(&text);
	return code;
}

const struct command command_learn = {
	.name = "learn",
	.purpose = "Proposes a meter profile from captured lines, and shows what it reads from each.",
	.operands = "FILE",
	.operands_min = 1,
	.operands_max = 1,
	.options = options,
	.details =
		"What is printed can be saved and used as a profile, once it was looked over; doubts go to standard error.\n"
		"FILE holds the meter's bytes as they came, some lines with readings among them; - is standard input.",
	.example = "learn fixtures/captures/cr-only.bin",
	.example_exit = EXIT_DONE,
	.run = run_learn,
};
