/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <math.h>

#include "shown.h"

/* As many decimals as no meter has, and a few that make no sense: the step is the very double that pow() gives. */
static void step_is_the_power_of_ten(void **state)
{
	(void)state;
	for (int decimals = -3; decimals <= 30; decimals++)
		assert_true(shown_step((struct shown){ .value = 1.4, .decimals = decimals }) == pow(10.0, -decimals));
	assert_true(shown_step((struct shown){ .value = 1.40, .decimals = 2 }) == 0.01);
}

int main(void)
{
	const struct CMUnitTest tests[] = { cmocka_unit_test(step_is_the_power_of_ten) };

	return cmocka_run_group_tests(tests, NULL, NULL);
}
