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
 * profile, each line as the meter's and, where the profile does not match, as text. Read the manifest first: the
 * labels of its brews help to tell a label from a number. profile may be NULL; settings are lent.
 *
 * Every line gives readings, is empty, or is told in faults; a profile's line that says "no reading" is counted in
 * a note. A line over LINES_CAP bytes is not read. Readings have ids that go on from the run's last, the unit of
 * their line or else of the meter, and no brew yet: join.h. Equal number of the meter's own count and equal value
 * within REPEAT_WINDOW readings: READING_REPEAT, kept.
 * Without a profile text in UTF-16 or Windows-1252 is decoded, the latter with a warning. With one the bytes are
 * matched as they are, unless the file begins with the mark of UTF-16.
 *
 * The content is kept in the run, which also gets the input's name and digest, and the meter if it has not that
 * one yet. Several files can be read into one run, one after the other. STATUS_IO: error; STATUS_MEMORY: what was
 * read so far stays.
 */
enum status readings_read(struct run *run, const char *path, const struct profile *profile,
                          const struct settings *settings, struct faults *faults, struct error *error) MUST_USE;

/* As readings_read(), from memory: bytes are copied; name stands for the file in places and inputs. */
enum status readings_parse(struct run *run, const char *name, struct slice bytes, const struct profile *profile,
                           const struct settings *settings, struct faults *faults, struct error *error) MUST_USE;

enum { REPEAT_WINDOW = 16 };

#endif
