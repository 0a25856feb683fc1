/* SPDX-License-Identifier: GPL-3.0-or-later */
/* status.h: how a call that can fail because of the system ends. Faults of the data go into a list instead: faults.h. */
#ifndef BREWSPREAD_STATUS_H
#define BREWSPREAD_STATUS_H

enum status {
	STATUS_OK,
	STATUS_MEMORY,  /* no memory left */
	STATUS_IO,      /* the system refused: file, disk, port, socket */
	STATUS_BUSY,    /* somebody else holds what is wanted */
	STATUS_NEWER,   /* made by a later version of this program */
	STATUS_INVALID, /* what was asked for makes no sense; the text says why */
	STATUS_REFUSED, /* the input has faults that leave nothing to go on with */
};

/* The text of the failure, filled in where errno is fresh; "" while nothing failed. */
struct error {
	char text[512];
};

#define ERROR_INIT         \
	{                  \
		.text = "" \
	}

/*
 * Fills error->text from format, cut where it does not fit; error may be NULL.
 * Returns status, so that a failure is told and handed on in one line.
 */
enum status error_set(struct error *error, enum status status, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

/* As error_set(), with ": " and the text of errno behind it. */
enum status error_set_errno(struct error *error, enum status status, const char *format, ...)
	__attribute__((format(printf, 3, 4)));

#define MUST_USE __attribute__((warn_unused_result))

#endif
