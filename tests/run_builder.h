/* SPDX-License-Identifier: GPL-3.0-or-later */
/* run_builder.h: invented runs in memory for tests, without files and parsers. */
#ifndef RUN_BUILDER_H
#define RUN_BUILDER_H

#include "run.h"

/* A run without brews, with one standard meter. */
struct run *build_run(void);

/* Adds another standard meter; returns its index. */
uint16_t build_meter(struct run *run, const char *name);

/*
 * Adds a usable brew of percolation: dose 20 g, water 320 g, beverage 280 g, sample type filter at 0.85. Returns its index;
 * change what the test is about. Treatments are made at first mention.
 */
uint32_t build_brew(struct run *run, const char *label, const char *treatment);

/* Adds a reading of brew in % TDS with two decimals, at 20 °C, without a time. Returns it, until the next is added. */
struct reading *build_reading(struct run *run, uint32_t brew, double tds);

/* Adds a reading of distilled water likewise. */
struct reading *build_zero(struct run *run, double shown);

/* Adds a column of words or of numbers with a cell for each brew so far; known as in struct column. */
struct column *build_words(struct run *run, const char *name, int known, const char *const *words);
struct column *build_numbers(struct run *run, const char *name, int known, const double *numbers);

#endif
