/* SPDX-License-Identifier: GPL-3.0-or-later */
/* response.h: which number of each brew is compared. */
#ifndef BREWSPREAD_RESPONSE_H
#define BREWSPREAD_RESPONSE_H

#include "analysis.h"

/*
 * Finds what settings->response names: yield, tds, retention, or a numeric column, and fills comparison.response
 * (but its decimals) and response and why of every brew. STATUS_INVALID: no such response; error lists those there
 * are. Needs yields_compute().
 */
enum status response_choose(struct analysis *analysis, struct error *error) MUST_USE;

/* Does settings->response name the yield? */
bool response_names_yield(const char *name);

/* Is it made of readings, yield or TDS? Then what the readings scatter can be told from what the brewing does. */
bool response_from_readings(const struct response *response);

#endif
