/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Quicksort: C. A. R. Hoare, The Computer Journal 5 (1962) 10-16. */
#include "doubles.h"

#include <stdlib.h>

enum { FEW = 16 };

static int compare(const void *left, const void *right)
{
	double a = *(const double *)left;
	double b = *(const double *)right;

	return (a > b) - (a < b);
}

static void sort_few(double *x, size_t n)
{
	for (size_t i = 1; i < n; i++) {
		double value = x[i];
		size_t at = i;

		for (; at > 0 && value < x[at - 1]; at--)
			x[at] = x[at - 1];
		x[at] = value;
	}
}

static double middle_of(double a, double b, double c)
{
	if (a < b)
		return b < c ? b : a < c ? c : a;
	return a < c ? a : b < c ? c : b;
}

/* How many come to stand before the others, none of which is smaller; at least one, and not all. */
static size_t split(double *x, size_t n)
{
	double pivot = middle_of(x[0], x[n / 2], x[n - 1]);
	size_t low = 0, high = n - 1;

	for (;; low++, high--) {
		double kept;

		while (x[low] < pivot)
			low++;
		while (pivot < x[high])
			high--;
		if (low >= high)
			return low > 0 ? low : 1;
		kept = x[low];
		x[low] = x[high];
		x[high] = kept;
	}
}

/* most: so many splits may follow each other before it is plain that they are bad ones. */
static void sort_within(double *x, size_t n, size_t most)
{
	for (; n > FEW && most > 0; most--) {
		size_t first = split(x, n);

		if (first < n - first) {
			sort_within(x, first, most - 1);
			x += first;
			n -= first;
		} else {
			sort_within(x + first, n - first, most - 1);
			n = first;
		}
	}
	if (n > FEW)
		qsort(x, n, sizeof(*x), compare);
	else
		sort_few(x, n);
}

void doubles_sort(double *x, size_t n)
{
	size_t most = 0; /* splits */

	for (size_t rest = n; rest > 0; rest /= 2)
		most += 2;
	sort_within(x, n, most);
}
