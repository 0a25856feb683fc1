/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bench_command.h"

static const struct command_option options[] = {
	BENCH_OPTION,
	{ "meter", 'm', "NAME", "The meter that it is about; unless set, all." },
	{ "next", 'n', NULL, "On to the next cup of the reading order." },
	{ "back", 'k', NULL, "Back to the cup before." },
	{ "again", 'r', NULL, "The cup on the prism, or the one just finished, is read once more." },
	{ "off", 0, NULL, "No cup: readings are kept without a label." },
	{ .name = NULL },
};

/* The request that the words of the command line stand for, from malloc(); NULL: they make no sense. */
static char *request_make(const struct invocation *invocation)
{
	static const char *const moves[] = { "next", "back", "again", "off" };
	char *words = operand_words(invocation);
	char *request = NULL;
	size_t given = 0;

	for (size_t i = 0; i < sizeof(moves) / sizeof(moves[0]); i++)
		if (invocation_given(invocation, moves[i])) {
			free(request);
			request = strdup(moves[i]);
			given++;
		}
	if (given == 0 && words && words[0] && !strpbrk(words, "\r\n")) {
		request = malloc(strlen(words) + 5);
		if (request) {
			memcpy(request, "cup ", 4);
			memcpy(request + 4, words, strlen(words) + 1);
		}
	} else if (given != 1 || !words || words[0]) {
		free(request);
		request = NULL;
	}
	free(words);
	return request;
}

static enum exit_code run_cup(struct invocation *invocation)
{
	char *request = request_make(invocation);
	json_t *answer = NULL;
	enum status status;

	if (!request)
		return invocation_wrong_use(invocation,
		                            "expected a cup's label, zero, standard PERCENT, or one option");
	status = daemon_ask(&answer, invocation_bench(invocation), invocation_value(invocation, "meter"), request,
	                    &invocation->error);
	free(request);
	json_decref(answer);
	return status == STATUS_OK ? EXIT_DONE : invocation_tell_error(invocation, status);
}

const struct command command_cup = {
	.name = "cup",
	.purpose = "Tells the daemon which cup is on the prism.",
	.operands = "LABEL | zero | standard PERCENT",
	.operands_min = 0,
	.operands_max = 8,
	.options = options,
	.details = "A cup that is called zero or standard goes in quotes of its own: brewspread cup '\"zero\"'",
	.example = "cup A3 --bench fixtures",
	.example_exit = EXIT_SYSTEM,
	.run = run_cup,
};
