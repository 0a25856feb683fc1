/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <string.h>

#include "builtin_profiles.h"
#include "profile.h"

/* Each line of the row's proof gives what it says. */
static void row_proves_itself(void **state)
{
	const struct profile_def *def = *state;
	struct faults faults = FAULTS_INIT;
	struct error error = ERROR_INIT;
	struct profile_scratch *scratch;
	struct profile *profile;
	size_t lines = 0;

	assert_int_equal(profile_open(&profile, def->name, &faults, &error), STATUS_OK);
	assert_int_equal(faults.count, 0);
	assert_string_equal(profile->name, def->name);
	assert_string_equal(profile->about, def->about);
	scratch = profile_scratch_new(profile);
	for (; lines < PROOF_LINES && def->proof[lines].line; lines++) {
		const struct profile_proof *proof = &def->proof[lines];
		struct profile_reading got;
		enum line_kind kind = profile_match(profile, scratch, slice_from(proof->line), &got);

		print_message("# %s: %s\n", def->name, proof->line);
		if (proof->value == NO_READING) {
			assert_int_not_equal(kind, LINE_READING);
			continue;
		}
		assert_int_equal(kind, LINE_READING);
		assert_near(got.shown.value, proof->value, 0);
		assert_int_equal(got.shown.decimals, proof->decimals);
		assert_near(got.temp_c, proof->temp_c > 0 ? proof->temp_c : (double)NAN, 0);
		assert_true(slice_equal(got.label, slice_from(proof->label)));
	}
	assert_true(lines >= 3);
	profile_scratch_free(scratch);
	profile_free(profile);
	faults_release(&faults);
}

static void names_are_found_and_differ(void **state)
{
	size_t count;
	const struct profile_def *defs = builtin_profiles(&count);

	(void)state;
	assert_true(count >= 3);
	for (size_t i = 0; i < count; i++)
		assert_ptr_equal(builtin_profile_find(slice_from(defs[i].name)), &defs[i]);
	assert_null(builtin_profile_find(SLICE_OF("no such name")));
}

int main(void)
{
	const struct CMUnitTest rest[] = { cmocka_unit_test(names_are_found_and_differ) };
	struct CMUnitTest rows[16];
	size_t count;
	const struct profile_def *defs = builtin_profiles(&count);

	if (count > sizeof(rows) / sizeof(rows[0]))
		return 1;
	for (size_t i = 0; i < count; i++)
		rows[i] = (struct CMUnitTest){ defs[i].name, row_proves_itself, NULL, NULL,
			                       (void *)(uintptr_t)&defs[i] };
	return _cmocka_run_group_tests("rows", rows, count, NULL, NULL) + cmocka_run_group_tests(rest, NULL, NULL);
}
