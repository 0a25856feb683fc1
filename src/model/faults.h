/* SPDX-License-Identifier: GPL-3.0-or-later */
/* faults.h: what is wrong with the data, each with its place. Reading goes on; all of them are told in one go. */
#ifndef BREWSPREAD_FAULTS_H
#define BREWSPREAD_FAULTS_H

#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "arena.h"
#include "slice.h"

/* line and column count from 1; 0: the file as a whole, or the line as a whole. Columns count characters, not bytes. */
struct place {
	const char *file; /* kept by whoever read the file, for as long as the run lives */
	uint32_t line;
	uint32_t column;
};

enum severity {
	SEVERITY_NOTE,    /* worth knowing; nothing is lost */
	SEVERITY_WARNING, /* taken, but doubtful */
	SEVERITY_ERROR,   /* something is not taken: a cell, a row, a line, a file */
};

struct fault {
	struct place place;
	enum severity severity;
	const char *text; /* what is wrong; what was expected; what became of it */
};

struct faults {
	struct fault *items; /* in the order in which they were found; the first FAULTS_KEPT of them */
	size_t count;
	size_t capacity;
	size_t beyond;   /* found after the list was full: counted, not kept */
	size_t warnings; /* of all that were found */
	size_t errors;   /* of all that were found */
	struct arena texts;
};

enum { FAULTS_KEPT = 10000 };

#define FAULTS_INIT           \
	{                     \
		.items = NULL \
	}

/* Adds a fault whose text is made from format. Without memory it is only counted. */
void faults_add(struct faults *faults, enum severity severity, struct place place, const char *format, ...)
	__attribute__((format(printf, 4, 5)));

/* Sorts by file (in the order of first mention), line, column; faults of one place keep their order. */
void faults_sort(struct faults *faults);

/* Is anything wrong or doubtful? Notes do not count. */
bool faults_any(const struct faults *faults);

/* "error", "warning", "note" */
const char *severity_name(enum severity severity);

void faults_release(struct faults *faults);

#endif
