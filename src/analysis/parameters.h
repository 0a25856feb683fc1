/* SPDX-License-Identifier: GPL-3.0-or-later */
/* parameters.h: was what was meant to be equal (dose, water, temperature, bloom, grind) equal? */
#ifndef BREWSPREAD_PARAMETERS_H
#define BREWSPREAD_PARAMETERS_H

#include "analysis.h"

/*
 * Adds a sentence on how equal each of them was, and a warning where the treatments differ in one: one-way analysis of
 * variance of the column on the treatments, Holm over the columns. False without memory.
 */
bool parameters_say(struct analysis *analysis);

#endif
