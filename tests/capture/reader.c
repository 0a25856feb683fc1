/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * reader.c: a loop over sources that says what they give, for tests.
 *
 *   reader [-p PROFILE] [-d] SOURCE...      -d: drop what is stale
 *
 * Prints an event a line: the number of the source, the event, the line or the text. Ends at SIGTERM, or when all
 * sources have ended; the last line says how much processor time it took.
 */
#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include "profile.h"
#include "source.h"

enum { SOURCES = 8 };

static const char reference[] = "[line]\n"
				"pattern = R (?<seq>\\d{4}) (?<value>\\d\\.\\d\\d) % (?<temp>\\d\\d\\.\\d) C\n";

static volatile sig_atomic_t stopping;

static void stop(int number)
{
	(void)number;
	stopping = 1;
}

static const char *event_name(enum source_event_type type)
{
	static const char *const names[] = {
		"opened", "line", "broken", "gone", "waiting", "diagnosis", "note", "end"
	};

	return names[type];
}

static void tell(size_t number, const struct source_event *event, bool understood)
{
	char printed[LINE_PRINT];

	printf("%zu %s", number, event_name(event->type));
	if (event->type == SOURCE_LINE || event->type == SOURCE_BROKEN)
		printf(" %s%s%s%s", understood ? "reading " : "", event->stale ? "stale " : "",
		       event->damaged ? "damaged " : "", line_print(printed, sizeof(printed), event->line.raw));
	else
		printf(" %s", event->text);
	putchar('\n');
}

static void drain(struct source *source, size_t number, const struct profile *profile, struct profile_scratch *scratch)
{
	struct source_event event;

	while (source_next(source, &event)) {
		struct profile_reading reading;
		bool understood = false;

		if (event.type == SOURCE_LINE) {
			understood = !event.damaged &&
			             profile_match(profile, scratch, event.line.text, &reading) == LINE_READING;
			tell(number, &event, understood);
			source_judge(source, understood);
		} else {
			tell(number, &event, false);
		}
	}
}

static bool all_ended(struct source **sources, size_t count)
{
	for (size_t i = 0; i < count; i++)
		if (source_info(sources[i]).state != SOURCE_STATE_ENDED)
			return false;
	return true;
}

/* As poll(), but a signal that came before is not slept over: stop() can run in here alone. */
static int wait_for(struct pollfd *polled, size_t count, int wait_ms)
{
	const struct timespec limit = { .tv_sec = wait_ms / 1000, .tv_nsec = wait_ms % 1000 * 1000000L };
	sigset_t none;

	sigemptyset(&none);
	return ppoll(polled, count, wait_ms < 0 ? NULL : &limit, &none);
}

static void serve(struct source **sources, size_t count, const struct profile *profile, struct profile_scratch *scratch)
{
	struct moment now = moment_now();

	while (!stopping && !all_ended(sources, count)) {
		struct pollfd polled[SOURCES];
		int64_t deadline = CLOCK_NEVER;

		for (size_t i = 0; i < count; i++) {
			source_poll(sources[i], &polled[i]);
			if (source_deadline_us(sources[i]) < deadline)
				deadline = source_deadline_us(sources[i]);
		}
		if (wait_for(polled, count, clock_poll_ms(deadline, now.monotonic_us)) < 0 && errno != EINTR)
			return;
		now = moment_now();
		for (size_t i = 0; i < count; i++) {
			source_step(sources[i], polled[i].revents, &now);
			drain(sources[i], i, profile, scratch);
		}
	}
}

static struct profile *profile_get(const char *name)
{
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct profile *profile;
	enum status status;

	if (name)
		status = profile_open(&profile, name, &faults, &error);
	else
		status = profile_parse(&profile, SLICE_OF(reference), "reference", &faults, &error);
	if (status != STATUS_OK)
		fprintf(stderr, "reader: %s\n", faults.count ? faults.items[0].text : error.text);
	faults_release(&faults);
	return profile;
}

int main(int argc, char **argv)
{
	struct source *sources[SOURCES] = { NULL };
	struct source_request request = { .stale = SOURCE_STALE_MARK };
	struct sigaction action = { .sa_handler = stop };
	sigset_t term;
	struct error error = ERROR_INIT;
	struct profile_scratch *scratch;
	struct profile *profile;
	const char *name = NULL;
	struct rusage usage;
	size_t count = 0;
	int option;

	while ((option = getopt(argc, argv, "p:d")) != -1) {
		if (option == 'p')
			name = optarg;
		else if (option == 'd')
			request.stale = SOURCE_STALE_DROP;
		else
			return 2;
	}
	sigemptyset(&term);
	sigaddset(&term, SIGTERM);
	sigprocmask(SIG_BLOCK, &term, NULL);
	sigaction(SIGTERM, &action, NULL);
	setvbuf(stdout, NULL, _IOLBF, 0);
	profile = profile_get(name);
	scratch = profile ? profile_scratch_new(profile) : NULL;
	if (!scratch)
		return 1;
	request.profile = profile;
	for (; optind < argc && count < SOURCES; optind++) {
		request.where = argv[optind];
		if (source_new(&sources[count++], &request, &error) != STATUS_OK) {
			fprintf(stderr, "reader: %s\n", error.text);
			return 1;
		}
	}
	serve(sources, count, profile, scratch);
	for (size_t i = 0; i < count; i++)
		source_free(sources[i]);
	profile_scratch_free(scratch);
	profile_free(profile);
	getrusage(RUSAGE_SELF, &usage);
	printf("processor %ld ms\n", (long)(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec) * 1000 +
	                                     (long)(usage.ru_utime.tv_usec + usage.ru_stime.tv_usec) / 1000);
	return 0;
}
