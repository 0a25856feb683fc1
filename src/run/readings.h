/* SPDX-License-Identifier: GPL-3.0-or-later */
/* readings.h: a file of readings, typed, pasted or captured from a meter, into a run. */
#ifndef BREWSPREAD_READINGS_H
#define BREWSPREAD_READINGS_H

#include "faults.h"
#include "profile.h"
#include "run.h"
#include "settings.h"
#include "slice.h"
#include "status.h"

/*
 * Adds the readings in the file at path ("-": standard input) to run: as text (reading_text.h), or, with a
 * profile, each line as the meter's. Lines end in CR, LF or both, whatever the profile says: a file may have been
 * saved anew. Of lines that the profile does not match those are read as text that cannot be the meter's: "zero",
 * "standard" and "cup" lines, and readings behind a label that a brew has or in quotes. Read the manifest first:
 * the labels of its brews help to tell a label from a number. profile may be NULL; settings are lent.
 *
 * Every line gives readings, is empty, or is told in faults, up to READINGS_TOLD of them one by one: an error
 * where it holds a digit, else a note. A profile's lines that say "no reading" are counted in a note. A line over
 * LINES_CAP bytes is not read. Where a profile matched next to nothing, a warning says what the bytes suggest
 * (lines.h).
 *
 * Readings have ids that go on from the run's last, the unit of their line or else of the meter, the label of their
 * line or else of the cup named before them, and no brew yet: join.h. Equal number of the meter's own count, equal
 * value and label within REPEAT_WINDOW readings: READING_REPEAT, kept. A last line without an end, matched by a
 * profile: READING_QUESTIONED, it may be cut off.
 *
 * Without a profile text in UTF-16 or Windows-1252 is decoded, the latter with a warning. With one the bytes are
 * matched as they are, unless the file begins with the mark of UTF-16.
 *
 * The content is kept in the run, which also gets the input's name and digest, and the meter if it has not that one
 * yet. Several files can be read into one run, one after the other. STATUS_IO, STATUS_MEMORY: error; what was read
 * before stays.
 */
enum status readings_read(struct run *run, const char *path, const struct profile *profile,
                          const struct settings *settings, struct faults *faults, struct error *error) MUST_USE;

/* As readings_read(), from memory: bytes are copied; name stands for the file in places and inputs. */
enum status readings_parse(struct run *run, const char *name, struct slice bytes, const struct profile *profile,
                           const struct settings *settings, struct faults *faults, struct error *error) MUST_USE;

enum { REPEAT_WINDOW = 16, READINGS_TOLD = 200 };

#endif
