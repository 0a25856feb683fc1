/* SPDX-License-Identifier: GPL-3.0-or-later */
/* audit_json.h: an audit as JSON: every number that its workbook shows. */
#ifndef BREWSPREAD_AUDIT_JSON_H
#define BREWSPREAD_AUDIT_JSON_H

#include "audit.h"
#include "audit_gauge.h"
#include "faults.h"

/*
 * One object as text, from malloc(), with a line end; NULL: no memory. Either of audit and gauge may be NULL, faults
 * too. What can't be had is null; units stand in the names.
 */
char *audit_json(const struct audit *audit, const struct audit_gauge *gauge, const struct faults *faults,
                 const char *version);

#endif
