/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "random.h"

#include <math.h>

static uint64_t rotate_left(uint64_t x, int bits)
{
	return (x << bits) | (x >> (64 - bits));
}

static uint64_t splitmix(uint64_t *x)
{
	uint64_t z = (*x += UINT64_C(0x9e3779b97f4a7c15));

	z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
	z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
	return z ^ (z >> 31);
}

void random_seed(struct random *state, uint64_t seed)
{
	/* Four consecutive outputs of splitmix64 are never all 0: it visits each value once in 2^64. */
	for (int i = 0; i < 4; i++)
		state->word[i] = splitmix(&seed);
}

uint64_t random_next(struct random *state)
{
	uint64_t *s = state->word;
	uint64_t result = rotate_left(s[1] * 5, 7) * 9;
	uint64_t shifted = s[1] << 17;

	s[2] ^= s[0];
	s[3] ^= s[1];
	s[1] ^= s[2];
	s[0] ^= s[3];
	s[2] ^= shifted;
	s[3] = rotate_left(s[3], 45);
	return result;
}

double random_uniform(struct random *state)
{
	return (double)(random_next(state) >> 11) * 0x1p-53;
}

uint64_t random_below(struct random *state, uint64_t n)
{
	uint64_t skipped; /* 2^64 modulo n: what is left over below a multiple of n */
	uint64_t bits;

	if (n == 0)
		return 0;
	skipped = (UINT64_MAX - n + 1) % n;
	do
		bits = random_next(state);
	while (bits < skipped);
	return bits % n;
}

/* A point of the unit disc but its centre: *u is one coordinate, the result its squared distance from the centre. */
static double disc_point(struct random *state, double *u)
{
	double r2;

	do {
		double v = 2 * random_uniform(state) - 1;

		*u = 2 * random_uniform(state) - 1;
		r2 = *u * *u + v * v;
	} while (r2 >= 1 || r2 == 0);
	return r2;
}

double random_normal(struct random *state)
{
	double u;
	double r2 = disc_point(state, &u);

	return u * sqrt(-2 * log(r2) / r2);
}

double random_student(struct random *state, double df)
{
	double u;
	double r2;

	if (isinf(df) && df > 0)
		return random_normal(state);
	if (!(df > 0))
		return NAN;
	r2 = disc_point(state, &u);
	return u * sqrt(df * expm1(-2 / df * log(r2)) / r2);
}

void random_shuffle(struct random *state, size_t *order, size_t n)
{
	for (size_t left = n; left > 1; left--) {
		size_t pick = (size_t)random_below(state, left);
		size_t kept = order[left - 1];

		order[left - 1] = order[pick];
		order[pick] = kept;
	}
}
