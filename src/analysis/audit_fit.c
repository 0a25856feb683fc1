/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_fit.h"

#include <Rmath.h>
#include <math.h>

void fit_add(struct fit_sums *sums, double x, double y)
{
	double dx = x - sums->mean_x;
	double dy = y - sums->mean_y;
	double n = (double)++sums->n;

	sums->mean_x += dx / n;
	sums->mean_y += dy / n;
	sums->sxx += dx * (x - sums->mean_x);
	sums->sxy += dx * (y - sums->mean_y);
	sums->syy += dy * (y - sums->mean_y);
}

void fit_pool(struct fit_sums *into, const struct fit_sums *other)
{
	into->n += other->n;
	into->sxx += other->sxx;
	into->sxy += other->sxy;
	into->syy += other->syy;
}

double fit_student(double confidence, double df)
{
	return df >= 1 ? qt((1 + confidence) / 2, df, 1, 0) : NAN;
}

struct audit_line fit_line(const struct fit_sums *sums, double df, double confidence)
{
	struct audit_line line = {
		.n = sums->n,
		.slope = sums->sxx > 0 ? sums->sxy / sums->sxx : NAN,
		.df = df >= 0 ? df : 0,
		.at_mean = sums->n > 0 ? sums->mean_y : NAN,
		.mean_x = sums->n > 0 ? sums->mean_x : NAN,
	};
	double residual = fmax(sums->syy - line.slope * sums->sxy, 0);

	line.s = df >= 1 && sums->sxx > 0 ? sqrt(residual / df) : NAN;
	line.se = line.s / sqrt(sums->sxx);
	line.lower = line.slope - fit_student(confidence, df) * line.se;
	line.upper = line.slope + fit_student(confidence, df) * line.se;
	line.p = line.se > 0 ? 2 * pt(-fabs(line.slope / line.se), df, 1, 0) : NAN;
	return line;
}
