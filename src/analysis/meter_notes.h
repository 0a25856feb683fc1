/* SPDX-License-Identifier: GPL-3.0-or-later */
/* meter_notes.h: what the meter can and can't tell apart, in words. */
#ifndef BREWSPREAD_METER_NOTES_H
#define BREWSPREAD_METER_NOTES_H

#include "analysis.h"

/* Adds the sentences of TOPIC_METER. False without memory. */
bool meter_say(struct analysis *analysis);

#endif
