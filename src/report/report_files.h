/* SPDX-License-Identifier: GPL-3.0-or-later */
/* report_files.h: a report in the formats that were asked for: one file, or a folder of them. */
#ifndef BREWSPREAD_REPORT_FILES_H
#define BREWSPREAD_REPORT_FILES_H

#include "analysis.h"
#include "faults.h"
#include "labels.h"
#include "status.h"

enum report_format {
	FORMAT_XLSX,
	FORMAT_MD,
	FORMAT_HTML,
	FORMAT_SVG,
	FORMAT_PNG,
	FORMAT_PDF,
	FORMAT_JSON,
	FORMAT_CSV,
	REPORT_FORMATS
};

/* "xlsx", "md", …: as on the command line, and as the ending of such a file. */
const char *report_format_name(enum report_format format);

/*
 * Reads names of formats with commas between them into *formats, one bit each. STATUS_INVALID: one of them is none;
 * error says which there are. *formats is then untouched.
 */
enum status report_formats_parse(unsigned *formats, struct slice list, struct error *error) MUST_USE;

/* Do they need a folder: more than one format, or one that has several files? */
bool report_formats_folder(unsigned formats);

/*
 * Can it be a template, a file of that ending or a folder with one? STATUS_INVALID: not, and error says what was expected.
 */
enum status report_template_check(const char *path, struct error *error) MUST_USE;

struct report_request {
	unsigned formats;
	const char *path;            /* of the file, or of the folder, which is made if it is not there */
	const char *version;         /* of this program */
	const char *command;         /* the words of the command line; "" if there were none */
	const struct labels *labels; /* of the workbook; NULL: all in English */
	const char *
		templates; /* a file of the user's for write-ups of its ending, or a folder with write-up.md, write-up.html,
	                          or one of them; NULL: built-in ones */
};

/*
 * Writes the report. A folder gets comparison.xlsx, write-up.md, write-up.html, analysis.json, treatments.csv, brews.csv,
 * readings.csv, comparisons.csv, and, in figures/, each figure as NAME.svg, NAME.png, NAME-dark.svg, NAME-dark.png, NAME.pdf. Each
 * file is replaced once it is whole. Figures of an earlier report that this one has not are removed, nothing else. The
 * same analysis gives the same bytes.
 *
 * faults may be NULL. STATUS_IO: error names the path and the reason, or what figures lack. STATUS_INVALID: the user's template has a fault.
 * STATUS_MEMORY.
 */
enum status report_files_write(const struct analysis *analysis, const struct faults *faults,
                               const struct report_request *request, struct error *error) MUST_USE;

/* The file of the report that a reader would open first: the page, else the workbook, else the text; made in room. */
const char *report_files_first(const struct report_request *request, char *room, size_t size);

#endif
