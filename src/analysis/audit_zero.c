/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_zero.h"

#include <math.h>

#include "reading.h"

static struct audit_line monthly_line(const struct audit_desk *desk)
{
	const struct audit_meter *meter = desk->meter;
	struct fit_sums sums = { .n = 0 };

	for (size_t i = 0; i < meter->session_count; i++) {
		const struct audit_session *session = &meter->sessions[i];

		if (session->zero.n > 0 && session->first_us != READING_NO_TIME)
			fit_add(&sums, (double)(session->first_us - meter->first_us) / 1e6 / AUDIT_MONTH_S,
			        moments_mean(&session->zero));
	}
	return fit_line(&sums, (double)sums.n - 2, desk->audit->query.confidence);
}

void zero_finish(const struct audit_desk *desk)
{
	const struct audit_live *live = desk->live;
	struct audit_zero *zero = &desk->meter->zero;
	double df = (double)live->hourly.n - (double)live->hourly_sessions - 1;

	zero->hourly = fit_line(&live->hourly, df, desk->audit->query.confidence);
	zero->hourly.n = live->hourly_sessions;
	zero->monthly = monthly_line(desk);
	zero->hours_to_step = NAN;
	if (zero->hourly.lower > 0 || zero->hourly.upper < 0)
		zero->hours_to_step = desk->meter->step / fabs(zero->hourly.slope);
}
