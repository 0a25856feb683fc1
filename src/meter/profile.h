/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * profile.h: how one meter talks: its port, the end of its lines, what a line means.
 *
 * A profile comes from an INI file or from the built-in ones (builtin_profiles.h). Its heart is a regular
 * expression (PCRE2, bytes, not UTF-8) for one whole line, end taken off, with named groups:
 *
 *   value   the number shown (needed)       temp    temperature of the sample
 *   unit    of the number, where it varies  time    ISO 8601, see timestamp.h
 *   label   of the cup                      status  a word, see no-reading
 *   seq     number that the meter counts its lines with
 *
 * The file, all keys but pattern optional:
 *
 *   [meter]  name, about, unit (tds, brix, nd), scale-factor (TDS per Brix of its own TDS scale, 0.85),
 *            cal-temp (°C, 20), compensated (yes), step, accuracy (±, of the display, in its unit)
 *   [port]   baud (9600), data-bits (7, 8), parity (none, even, odd, mark, space), stop-bits (1, 2),
 *            flow (none, rtscts, xonxoff), dtr (on), rts (on)
 *   [line]   end (auto, lf, cr, crlf, gap), gap (ms, 100), pattern, anchored (yes), decimal (either, point, comma),
 *            temp-unit (C, F), no-reading (words, with commas between them), strip-parity (no)
 *   [ask]    send (\r \n \t \\ \xHH understood), every (ms, 1000)
 *
 * A long pattern goes on in the next line, indented; the pieces are joined without a blank. " ;" begins a remark:
 * [;] is a semicolon in a pattern.
 */
#ifndef BREWSPREAD_PROFILE_H
#define BREWSPREAD_PROFILE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "faults.h"
#include "lines.h"
#include "meter.h"
#include "shown.h"
#include "slice.h"
#include "status.h"

enum parity { PARITY_NONE, PARITY_EVEN, PARITY_ODD, PARITY_MARK, PARITY_SPACE };
enum flow { FLOW_NONE, FLOW_RTSCTS, FLOW_XONXOFF };
enum decimal { DECIMAL_EITHER, DECIMAL_POINT, DECIMAL_COMMA };

/* A member's word in a profile: "none", "even", …; "none", "rtscts", "xonxoff". */
const char *parity_name(enum parity parity);
const char *flow_name(enum flow flow);

struct port_settings {
	int baud;
	int data_bits;
	enum parity parity;
	int stop_bits;
	enum flow flow;
	bool dtr, rts; /* raised while the port is open */
};

enum profile_group {
	GROUP_VALUE,
	GROUP_UNIT,
	GROUP_TEMP,
	GROUP_LABEL,
	GROUP_TIME,
	GROUP_STATUS,
	GROUP_SEQ,
	PROFILE_GROUPS /* how many there are */
};

struct pcre2_real_code_8;

struct profile {
	const char *name;  /* "" where the file gives none */
	const char *about; /* one line; "" */
	struct meter meter;
	struct port_settings port;
	enum line_end line_end;
	int gap_ms;
	const char *pattern;
	bool anchored; /* the pattern has to fit the whole line */
	enum decimal decimal;
	bool fahrenheit;          /* its temperatures are; readings hold °C all the same */
	bool strip_parity;        /* the top bit of each byte is not looked at */
	struct slice *no_reading; /* texts that a meter shows or sends in place of a number */
	size_t no_reading_count;
	struct slice ask; /* bytes that make the meter send a reading; empty: it sends by itself */
	int ask_every_ms;
	struct pcre2_real_code_8 *code;
	int group[PROFILE_GROUPS]; /* numbers of the groups in the pattern; 0: not there */
	struct arena memory;
};

/*
 * The profile called name: a built-in one, else the file at that path.
 * *out is NULL on every failure, else the caller's: profile_free().
 * STATUS_REFUSED: faults has each fault with its line. STATUS_IO, STATUS_MEMORY: error.
 */
enum status profile_open(struct profile **out, const char *name, struct faults *faults, struct error *error) MUST_USE;

/* As profile_open(), from the text of an INI file; file is named in faults and has to live as long as they do. */
enum status profile_parse(struct profile **out, struct slice ini, const char *file, struct faults *faults,
                          struct error *error) MUST_USE;

/* Takes NULL. */
void profile_free(struct profile *profile);

/*
 * A pattern runs at most PROFILE_MATCH_LIMIT steps on a line. One that needs more than that for one of the lines that
 * profile_parse() tries it on, 40 to 256 characters long, is refused.
 */
enum { PROFILE_MATCH_LIMIT = 100000 };

/* What matching needs to write to; one a thread, for one profile. */
struct profile_scratch;

/* NULL when there is no memory. The caller's: profile_scratch_free(), which takes NULL. */
struct profile_scratch *profile_scratch_new(const struct profile *profile);
void profile_scratch_free(struct profile_scratch *scratch);

enum line_kind {
	LINE_READING,
	LINE_NO_READING, /* the meter says that it has none */
	LINE_UNMATCHED,  /* not a line of this profile */
	LINE_ERROR,      /* the matching itself failed, or what it found is no number: profile_reason() */
};

struct profile_reading {
	struct shown shown; /* the unit is the line's, else the profile's */
	double temp_c;      /* NaN: not told */
	int64_t taken_us;   /* READING_NO_TIME: not told, or not in a known form */
	struct slice label; /* these show the line, or scratch where parity is stripped; empty: not told */
	struct slice status;
	struct slice seq;
	size_t value_at; /* where in the line the number begins, in bytes from 0 */
};

/*
 * What line, its end taken off, says. Any bytes will do; a line longer than LINES_CAP is LINE_ERROR. *out is whole
 * for LINE_READING, has status for LINE_NO_READING, and is untouched else. Never runs longer than some milliseconds.
 */
enum line_kind profile_match(const struct profile *profile, struct profile_scratch *scratch, struct slice line,
                             struct profile_reading *out);

/* Why the last line that was matched was LINE_ERROR, or what is doubtful in it; "" if nothing. */
const char *profile_reason(const struct profile_scratch *scratch);

#endif
