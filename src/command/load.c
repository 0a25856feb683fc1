/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "load.h"

#include "join.h"
#include "ledger_load.h"
#include "manifest.h"
#include "readings.h"

enum status load_files(struct loaded *loaded, struct invocation *invocation)
{
	const char *profile = invocation_value(invocation, "profile");
	struct faults *faults = &invocation->faults;
	struct error *error = &invocation->error;
	enum status status = STATUS_OK;

	if (invocation_given(invocation, "bench"))
		return load_bench(loaded, invocation);
	*loaded = (struct loaded){ .run = run_new() };
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
