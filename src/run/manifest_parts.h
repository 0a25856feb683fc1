/* SPDX-License-Identifier: GPL-3.0-or-later */
/* manifest_parts.h: what the files that read a manifest share: manifest.c, manifest_header.c, brew_row.c. */
#ifndef BREWSPREAD_MANIFEST_PARTS_H
#define BREWSPREAD_MANIFEST_PARTS_H

#include "cell.h"
#include "faults.h"
#include "header.h"
#include "lookup.h"
#include "run.h"
#include "settings.h"
#include "table.h"

enum { NO_FIELD = TABLE_CELLS };

/* The first of several cells alike and how many there are: they are told in one fault. */
struct tally {
	size_t count;
	struct place place;
	struct slice text;
};

/* A column of the file, and what its cells were found to be. */
struct field {
	struct header header;
	struct place place;    /* of the header cell */
	struct column *column; /* NULL: nameless and empty, left out */
	bool filled;           /* a cell of it holds something */
	struct tally nameless; /* cells under no name */
	struct tally unit_in_cell;
	struct tally absent; /* "N/A" */
	struct tally volume;
};

struct manifest {
	struct run *run;
	const struct settings *settings;
	struct faults *faults;
	const char *file;
	struct slice text;
	bool has_nul;
	char separator; /* from a "sep=" line; '\0': none */
	struct table table;
	char mark; /* decimal */
	struct field *fields;
	size_t field_count;
	struct place header_place;
	size_t label, treatment, method;                          /* index into fields, or NO_FIELD */
	size_t number[BREW_NUMBERS], word[BREW_WORDS], moment[3]; /* likewise */
	size_t rows;                                              /* at most so many brews */
	size_t treatment_room;
	struct lookup labels;     /* label_hash() of a brew's key to its index */
	struct lookup treatments; /* likewise */
	struct tally blank_rows;
	uint32_t last_blank;
	struct tally comments;
	struct tally no_type;
	struct tally unfiltered;
	bool memory_gone;
};

/* The place of a cell in the manifest's file. */
struct place manifest_place(const struct manifest *manifest, const struct cell *cell);

/* Counts one more, keeps the first. */
void tally_add(struct tally *tally, struct place place, struct slice text);

/*
 * Finds the header line in manifest->text from the text's beginning on, settles separator and columns, goes over the
 * row of units below it if there is one, and leaves manifest->table at the first row of data. False: faults say why
 * there is nothing to go on with, or memory is gone.
 */
bool manifest_find_header(struct manifest *manifest, struct slice text, uint32_t line);

/* Makes brews of row, or says why not. False only when memory is gone. */
bool brew_row(struct manifest *manifest, const struct row *row);

#endif
