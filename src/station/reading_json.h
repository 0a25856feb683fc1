/* SPDX-License-Identifier: GPL-3.0-or-later */
/* reading_json.h: a reading of the ledger as one JSON object: what listen, status, followers and export tell alike. */
#ifndef BREWSPREAD_READING_JSON_H
#define BREWSPREAD_READING_JSON_H

#include <jansson.h>
#include <stdbool.h>

#include "ledger_append.h"
#include "slice.h"

/* A reading as it stands now, with its amendments. */
struct reading_facts {
	const struct ledger_entry *entry; /* as it came */
	struct slice label, note;
	uint8_t role;  /* enum reading_role, or LEDGER_RAW */
	uint8_t flags; /* enum reading_flag, or-ed */
	struct slice meter, run;
};

/* Where a reading stands that has just come. */
struct reading_place {
	unsigned count, goal; /* the how-manieth of its cup, 0: of none; how many are wanted, 0: as many as come */
	struct slice warning; /* what is to be done about the cup; empty: nothing */
};

/* A line of JSON, in memory that is kept for the next one. */
struct json_line {
	char *text; /* from malloc() */
	size_t len, room;
	bool torn; /* there was no memory for all of it */
};

#define JSON_LINE_INIT       \
	{                    \
		.text = NULL \
	}

/*
 * "id", "received", "taken", "meter", "run", "role", "cup", "shown" (the number as the display had it, a text), "value",
 * "unit", "temp_c", "standard_percent", "flags", "sequence", "status", "note", "line"; null where there is nothing; with
 * place, which may be NULL, "reading_of_cup", "wanted", "warning". Stands in line until the next call with it. NULL: no memory.
 * Printed here and not by the library, which took more time for it than storing the reading takes, while somebody waits
 * for the word.
 */
const char *reading_json(struct json_line *line, const struct reading_facts *facts, const struct reading_place *place);

void json_line_release(struct json_line *line);

/* "sample", "zero", "standard", "not read" */
const char *reading_role_word(uint8_t role);

/* The words of flags with blanks between them, such as "repeat excluded"; returns out. */
const char *reading_flag_words(char *out, size_t size, uint8_t flags);

#define READING_FLAG_WORDS 128

/*
 * bytes as text from which they can be had again: "\\" for a backslash, "\xHH" for each byte that is not part of
 * printable UTF-8. From malloc(), the caller's; NULL: no memory.
 */
char *raw_text(struct slice bytes);

/* As a JSON string, null where text is empty; what is not UTF-8 as raw_text() has it. */
json_t *json_text(struct slice text);

#endif
