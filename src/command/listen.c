/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "bench_command.h"
#include "control_path.h"
#include "station.h"

static const struct command_option options[] = {
	BENCH_OPTION,
	{ "from", 'f', "SOURCE...", "Listens to this without a bench folder; may be given several times." },
	{ "profile", 'p', "NAME", "Meter profile, built in or a file, of what --from names." },
	{ "ledger", 'l', "FILE", "Where readings of --from go; unless set: ledger.brewspread." },
	{ "json", 0, NULL, "Prints each reading that is stored as JSON, a line each." },
	{ "plain", 0, NULL, "Prints lines on a terminal too, instead of the live view." },
	{ .name = NULL },
};

static const char *const sections[] = { "bench", NULL };

/* The value of a --from at argv[i], as the option reader took it; NULL: it is none. */
static const char *from_at(const struct invocation *invocation, int i)
{
	const char *word = invocation->argv[i];
	const char *next = i + 1 < invocation->argc ? invocation->argv[i + 1] : NULL;

	if (!word)
		return NULL;
	if (strcmp(word, "--from") == 0 || strcmp(word, "-f") == 0)
		return next;
	if (strncmp(word, "--from=", 7) == 0)
		return word + 7;
	return strncmp(word, "-f", 2) == 0 ? word + 2 : NULL;
}

/* Each source is a meter of its own, called after its place on the command line. */
static enum status sources_add(struct bench *bench, const struct invocation *invocation, struct error *error)
{
	const char *profile = invocation_value(invocation, "profile");

	for (int i = 1; i < invocation->argc; i++) {
		struct bench_meter meter = { .port = from_at(invocation, i), .profile = profile };
		enum status status;

		if (!meter.port)
			continue;
		meter.name = meter.port;
		status = bench_add_meter(bench, &meter, error);
		if (status == STATUS_INVALID)
			return error_set(error, STATUS_INVALID, "more than %d sources", BENCH_METERS);
		if (status != STATUS_OK)
			return status;
		i += i + 1 < invocation->argc && meter.port == invocation->argv[i + 1];
	}
	return STATUS_OK;
}

/* The socket of a daemon without a folder: of one such daemon an account. */
static void runtime_control(struct bench *bench)
{
	const char *runtime = getenv("XDG_RUNTIME_DIR");
	const char *folder;

	if (!runtime || runtime[0] != '/')
		return;
	folder = arena_print(&bench->memory, "%s/brewspread", runtime);
	if (folder && (mkdir(folder, 0700) == 0 || access(folder, W_OK) == 0))
		bench->control = control_path(NULL, &bench->memory);
}

static enum status bench_from_options(struct bench **out, struct invocation *invocation)
{
	const char *ledger = invocation_value(invocation, "ledger");
	enum status status;

	if (!invocation_given(invocation, "profile"))
		return error_set(&invocation->error, STATUS_INVALID,
		                 "--from needs a --profile: how the meter's lines are read");
	*out = bench_new(ledger ? ledger : "ledger.brewspread");
	if (!*out)
		return error_set(&invocation->error, STATUS_MEMORY, "no memory");
	status = sources_add(*out, invocation, &invocation->error);
	runtime_control(*out);
	return status;
}

static enum status bench_get(struct bench **out, struct invocation *invocation)
{
	enum status status;

	*out = NULL;
	if (invocation_given(invocation, "from") && invocation_given(invocation, "bench"))
		return error_set(&invocation->error, STATUS_INVALID, "either --bench or --from was expected, not both");
	if (invocation_given(invocation, "from"))
		return bench_from_options(out, invocation);
	if (invocation_given(invocation, "ledger") || invocation_given(invocation, "profile"))
		return error_set(&invocation->error, STATUS_INVALID, "--ledger and --profile go with --from");
	status = invocation_bench_open(out, invocation);
	if (status == STATUS_OK && *out && (*out)->meter_count == 0)
		status = error_set(&invocation->error, STATUS_INVALID,
		                   "%s has no meters; expected a section [meter NAME] with port and profile",
		                   (*out)->ini);
	return status;
}

static bool input_is_meter(const struct bench *bench)
{
	for (size_t i = 0; i < bench->meter_count; i++)
		if (strcmp(bench->meters[i].port, "-") == 0)
			return true;
	return false;
}

static enum status listen_to(struct bench *bench, struct invocation *invocation)
{
	const char *no_color = getenv("NO_COLOR");
	struct station_request request = {
		.bench = bench,
		.is_folder = !invocation_given(invocation, "from"),
		.out_fd = STDOUT_FILENO,
		.message_fd = STDERR_FILENO,
		.key_fd = isatty(STDIN_FILENO) && !input_is_meter(bench) ? STDIN_FILENO : -1,
		.json = invocation_given(invocation, "json"),
		.color = !no_color || !no_color[0],
		.ends_with_meters = invocation_given(invocation, "from"),
	};
	struct station *station;
	enum status status;

	bench->settings = invocation->settings;
	request.view = isatty(STDOUT_FILENO) && !request.json && !invocation_given(invocation, "plain");
	status = station_new(&station, &request, &invocation->faults, &invocation->error);
	invocation_tell_faults(invocation);
	if (status == STATUS_OK)
		status = station_run(station, &invocation->error);
	station_free(station);
	return status;
}

static enum exit_code run_listen(struct invocation *invocation)
{
	struct bench *bench;
	enum status status = bench_get(&bench, invocation);

	if (status == STATUS_OK && bench)
		status = listen_to(bench, invocation);
	else
		bench_free(bench);
	return status == STATUS_OK ? EXIT_DONE : invocation_tell_error(invocation, status);
}

const struct command command_listen = {
	.name = "listen",
	.purpose = "Takes readings straight from the meters, and keeps the open run's report up to date.",
	.operands = "",
	.sections = sections,
	.options = options,
	.details =
		"A source is a serial port (/dev/serial/by-id/...), a FIFO, a file, - for standard input, or tcp:HOST:PORT.\n"
		"A reading is told only when it is on the disk. SIGTERM ends it, SIGHUP reads bench.ini again.",
	.example =
		"listen --from fixtures/readings/serial-sent-twice.bin --profile templates/profiles/counted-line.ini "
		"--ledger build/demo/ledger.brewspread",
	.example_exit = EXIT_DONE,
	.run = run_listen,
};
