/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * gauge_manifest.h: the manifest of an instrument study: one row a load of the prism.
 *
 *   load       what the readings file calls it; each its own (also: cup, label)
 *   sample     what lay on the prism (also: artefact, standard, solution); none: all loads are of one sample
 *   operator   who read; may be left out
 *   day        when; may be left out (also: date)
 *   kind       gauge, in every row, if the column is there: what tells such a manifest from one of brews
 *
 * Delimited text as manifest.h has it: comma, semicolon, tab or bar, "#" before a remark. Other columns are left alone.
 */
#ifndef BREWSPREAD_GAUGE_MANIFEST_H
#define BREWSPREAD_GAUGE_MANIFEST_H

#include "audit_gauge.h"
#include "faults.h"
#include "run.h"
#include "status.h"
#include "text.h"

/*
 * Reads the manifest at path ("-": standard input) into run, which must be empty: its loads are the run's brews, its
 * samples the treatments, so that readings.h and join.h serve as they are. design shows run's memory.
 * STATUS_IO: it can't be read. STATUS_REFUSED: no load in it, faults say why. STATUS_MEMORY.
 */
enum status gauge_manifest_read(struct run *run, struct gauge_design *design, const char *path, struct faults *faults,
                                struct error *error) MUST_USE;

/*
 * The same from text, called name in messages. text->bytes is handed over, and NULL, where it is read; else it stays
 * the caller's.
 */
enum status gauge_manifest_read_text(struct run *run, struct gauge_design *design, const char *name, struct text *text,
                                     struct faults *faults, struct error *error) MUST_USE;

#endif
