/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * random.h: random numbers that a recorded seed brings back, the same on every machine.
 *
 * The generator is xoshiro256** (Blackman and Vigna, "Scrambled linear pseudorandom number generators", ACM
 * Transactions on Mathematical Software 47 (2021) article 36), its state filled from the seed by splitmix64
 * (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014). For drawing plans and
 * Monte Carlo; not for secrets.
 */
#ifndef BREWSPREAD_RANDOM_H
#define BREWSPREAD_RANDOM_H

#include <stddef.h>
#include <stdint.h>

struct random {
	uint64_t word[4]; /* never all zero: random_seed() sees to that */
};

/* Starts state from seed; every seed, 0 too, gives a good start. */
void random_seed(struct random *state, uint64_t seed);

/* The next 64 bits. */
uint64_t random_next(struct random *state);

/* Uniform on the multiples of 2^-53 in [0, 1). */
double random_uniform(struct random *state);

/* Uniform on 0 … n-1 without bias; 0 if n is 0. */
uint64_t random_below(struct random *state, uint64_t n);

/* Standard normal, by the polar method (Marsaglia and Bray, SIAM Review 6 (1964) 260-264). */
double random_normal(struct random *state);

/*
 * Student's t with df > 0 degrees of freedom, whole or not, by the polar method of Bailey, Mathematics of
 * Computation 62 (1994) 779-781. An infinite df gives a standard normal; df <= 0 or NaN gives NaN.
 */
double random_student(struct random *state, double df);

/* Puts order[0..n) into a random order, every order equally likely (Fisher and Yates). */
void random_shuffle(struct random *state, size_t *order, size_t n);

#endif
