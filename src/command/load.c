/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "load.h"

#include <math.h>

#include "join.h"
#include "ledger_load.h"
#include "manifest.h"
#include "readings.h"
#include "response.h"

/* What is known from earlier runs is of use only whole, and only for a yield. */
static enum status history_check(struct invocation *invocation)
{
	const struct settings *settings = &invocation->settings;
	bool sd = isfinite(settings->history_sd), df = isfinite(settings->history_df);

	if (sd != df)
		return error_set(
			&invocation->error, STATUS_INVALID,
			"%s is set, but not %s; expected both: how large the spread is, and how well it is known",
			sd ? "history-sd" : "history-df", sd ? "history-df" : "history-sd");
	if (sd && !response_names_yield(settings->response))
		faults_add(&invocation->faults, SEVERITY_NOTE, (struct place){ .file = NULL },
		           "history-sd is in yield points, so it is not used: %s is compared", settings->response);
	return STATUS_OK;
}

enum status load_files(struct loaded *loaded, struct invocation *invocation)
{
	const char *profile = invocation_value(invocation, "profile");
	struct faults *faults = &invocation->faults;
	struct error *error = &invocation->error;
	enum status status = history_check(invocation);

	*loaded = (struct loaded){ .run = NULL };
	if (status != STATUS_OK)
		return status;
	if (invocation_given(invocation, "bench"))
		return load_bench(loaded, invocation);
	loaded->run = run_new();
	if (!loaded->run)
		return error_set(error, STATUS_MEMORY, "no memory");
	if (profile)
		status = profile_open(&loaded->profile, profile, faults, error);
	if (status == STATUS_OK)
		status = manifest_read(loaded->run, invocation->operands[0], &invocation->settings, faults, error);
	for (size_t i = 1; status == STATUS_OK && i < invocation->operand_count; i++)
		status = readings_read(loaded->run, invocation->operands[i], loaded->profile, &invocation->settings,
		                       faults, error);
	if (status == STATUS_OK)
		status = join_readings(loaded->run, &invocation->settings, faults, error);
	return status;
}

void loaded_release(struct loaded *loaded)
{
	run_free(loaded->run);
	profile_free(loaded->profile);
}
