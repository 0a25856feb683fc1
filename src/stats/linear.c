/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "linear.h"

#include <math.h>

static void swap_rows(double *a, double *b, size_t n, size_t one, size_t other)
{
	double keep = b[one];

	b[one] = b[other];
	b[other] = keep;
	for (size_t k = 0; k < n; k++) {
		keep = a[one * n + k];
		a[one * n + k] = a[other * n + k];
		a[other * n + k] = keep;
	}
}

bool linear_solve(double *a, double *b, size_t n)
{
	for (size_t c = 0; c < n; c++) {
		size_t pivot = c;

		for (size_t r = c + 1; r < n; r++)
			if (fabs(a[r * n + c]) > fabs(a[pivot * n + c]))
				pivot = r;
		if (!(fabs(a[pivot * n + c]) > 0))
			return false;
		swap_rows(a, b, n, c, pivot);
		for (size_t r = c + 1; r < n; r++) {
			double f = a[r * n + c] / a[c * n + c];

			for (size_t k = c; k < n; k++)
				a[r * n + k] -= f * a[c * n + k];
			b[r] -= f * b[c];
		}
	}
	for (size_t r = n; r-- > 0;) {
		for (size_t k = r + 1; k < n; k++)
			b[r] -= a[r * n + k] * b[k];
		b[r] /= a[r * n + r];
	}
	return true;
}

#define PIVOT_LEAST 1e-12

static bool factor(double *a, size_t n, double *log_det)
{
	*log_det = 0;
	for (size_t j = 0; j < n; j++) {
		double diagonal = a[j * n + j];

		for (size_t i = j; i < n; i++) {
			double sum = a[i * n + j];

			for (size_t k = 0; k < j; k++)
				sum -= a[i * n + k] * a[j * n + k];
			if (i > j)
				a[i * n + j] = sum / a[j * n + j];
			else if (sum > PIVOT_LEAST * diagonal)
				a[j * n + j] = sqrt(sum);
			else
				return false;
		}
		*log_det += 2 * log(a[j * n + j]);
	}
	return true;
}

/* The inverse of the factor in the lower half, transposed into the upper half; the diagonal becomes the inverse's. */
static void invert_factor(double *a, size_t n)
{
	for (size_t j = 0; j < n; j++) {
		a[j * n + j] = 1 / a[j * n + j];
		for (size_t i = j + 1; i < n; i++) {
			double sum = a[i * n + j] * a[j * n + j];

			for (size_t k = j + 1; k < i; k++)
				sum += a[i * n + k] * a[j * n + k];
			a[j * n + i] = -sum / a[i * n + i];
		}
	}
}

bool linear_invert_definite(double *a, size_t n, double *log_det)
{
	double log_of_it;

	if (!factor(a, n, &log_of_it))
		return false;
	invert_factor(a, n);
	for (size_t i = 0; i < n; i++)
		for (size_t j = i; j < n; j++) {
			double sum = 0;

			for (size_t k = j; k < n; k++)
				sum += a[i * n + k] * a[j * n + k];
			a[i * n + j] = sum;
		}
	for (size_t i = 0; i < n; i++)
		for (size_t j = 0; j < i; j++)
			a[i * n + j] = a[j * n + i];
	if (log_det)
		*log_det = log_of_it;
	return true;
}
