/* SPDX-License-Identifier: GPL-3.0-or-later */
/* data_notes.h: what is missing, left out or doubtful in the data, in words. */
#ifndef BREWSPREAD_DATA_NOTES_H
#define BREWSPREAD_DATA_NOTES_H

#include "analysis.h"

/* Adds the sentences of TOPIC_DATA. False without memory. */
bool data_say(struct analysis *analysis);

#endif
