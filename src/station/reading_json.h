/* SPDX-License-Identifier: GPL-3.0-or-later */
/* reading_json.h: a reading of the ledger as one JSON object: what listen, status, followers and export tell alike. */
#ifndef BREWSPREAD_READING_JSON_H
#define BREWSPREAD_READING_JSON_H

#include <jansson.h>

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

/*
 * "id", "received", "taken", "meter", "run", "role", "cup", "shown" (the number as the display had it, a text), "value",
 * "unit", "temp_c", "standard_percent", "flags", "sequence", "status", "note", "line": null where there is nothing.
 * The caller's: json_decref(). NULL: no memory.
 */
json_t *reading_json(const struct reading_facts *facts);

/* Adds a member to *json; where memory ends, *json goes away and is NULL: a reading with a hole in it would be told as one. */
void reading_json_put(json_t **json, const char *name, json_t *value);

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
