/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * random_components.h: variance components of any number of random factors, crossed or nested, balanced or not, by
 * restricted maximum likelihood: the shares of samples, operators, days, loads and readings in a gauge study.
 *
 *   mean of cell i = m + Σ effect of its level of each factor + effect of the cell + mean of its n_i readings' errors
 *
 * A cell is a group of readings taken under one condition, told by its summary. V = Σ σ_k² Z_k Z_k' + σ_cell² I +
 * σ_reading² diag(1/n); the likelihood of the cell means, restricted for m, times that of the squares within cells.
 * Searle, Casella and McCulloch, "Variance Components" (1992), chapter 6. Fisher scoring kept at or above 0, begun by a
 * few of the multiplicative steps of Zhou, Hu, Zhou and Lange (J. Computational and Graphical Statistics 28 (2019)
 * 350-361), which never lower the likelihood. In a balanced design whose ANOVA estimates are all positive they are
 * these.
 */
#ifndef RANDOM_COMPONENTS_H
#define RANDOM_COMPONENTS_H

#include <stdbool.h>
#include <stddef.h>

#include "brew_summary.h"

enum { COMPONENT_FACTORS = 4, COMPONENTS_MOST = COMPONENT_FACTORS + 2, COMPONENT_CELLS = 600 };

struct component_factor {
	const size_t *level; /* of each cell, from 0 */
	size_t levels;       /* at most as many as there are cells */
};

struct component_query {
	const struct brew_summary *cells; /* each with at least one reading */
	size_t count;
	const struct component_factor *factors;
	size_t factor_count;
	bool cell_effect; /* cells differ by more than their readings and factors make them */
};

/* Indices of the last two components, behind those of the factors. */
#define COMPONENT_CELL    COMPONENT_FACTORS
#define COMPONENT_READING (COMPONENT_FACTORS + 1)

struct random_components {
	double var[COMPONENTS_MOST]; /* 0 or more; NaN: not in the model */
	double df[COMPONENTS_MOST];  /* 2 var² / its variance by the expected information; NaN at 0 */
	double mean, se_mean;        /* generalised least squares */
	double loglik;               /* restricted, without its constant */
	bool converged;
};

/*
 * Where no cell has two readings the cell's effect and the readings' can't be told apart: the first is NaN, the second
 * holds both. All NaN and not converged where there are fewer than 2 cells, more than COMPONENT_CELLS, more levels
 * of a factor than cells, or no spread at all. False: no memory (work space of 2 count² + 10 count doubles is taken and given back).
 */
bool random_components_reml(struct random_components *out, const struct component_query *query);

#endif
