/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "remarks.h"

#include <string.h>

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* That concerns all readings of a run: it stands on Meter, not beside each. */
#define TOLD_ELSEWHERE ((unsigned)CORRECTION_NO_ZERO)

struct flag_words {
	unsigned flag;
	const char *words;
};

static const struct flag_words brew_words[] = {
	{ BREW_ESTIMATED, "beverage estimated, not weighed" },
	{ BREW_RETENTION_ODD, "retained water unusual: check scale, tare, typing" },
	{ BREW_WRONG_DOSE_SIDE, "beverage heavier than the water" },
	{ BREW_SPREAD_OUTLIER, "its readings scatter far more than others' (1 %)" },
	{ BREW_SPREAD_STRAGGLER, "its readings scatter more than others' (5 %)" },
	{ BREW_MEAN_OUTLIER, "far from the other brews of its treatment (1 %)" },
	{ BREW_MEAN_STRAGGLER, "apart from the other brews of its treatment (5 %)" },
	{ BREW_FEW_READINGS, "fewer readings than wanted" },
	{ BREW_DRIFTING, "its readings drift" },
};

/* What concerns the temperature the correction's own flags say. */
static const struct flag_words reading_words[] = {
	{ READING_OUT_OF_RANGE, "cannot be" }, { READING_UNJOINED, "no brew of that name" },
	{ READING_EXCLUDED, "excluded" },      { READING_REPEAT, "sent twice" },
	{ READING_QUESTIONED, "unusual" },     { READING_STALE, "waited in the port before it was opened" },
};

static void say_flags(struct phrase *phrase, const struct flag_words *words, size_t count, unsigned flags)
{
	for (size_t i = 0; i < count; i++) {
		if (!(flags & words[i].flag))
			continue;
		phrase_between(phrase, "; ");
		phrase_label(phrase, words[i].words);
	}
}

void remarks_brew(struct phrase *phrase, const struct analysis *analysis, size_t brew)
{
	const struct brew_result *result = &analysis->brews[brew];

	phrase_clear(phrase);
	if (result->why) {
		phrase_label(phrase, "no result:");
		phrase_words(phrase, " ");
		phrase_label(phrase, result->why);
	}
	say_flags(phrase, brew_words, COUNT(brew_words), result->flags);
}

bool remarks_any(const struct reading *reading, const struct correction *correction)
{
	return reading->flags != 0 || reading->line->note.len > 0 || (correction->flags & ~TOLD_ELSEWHERE) != 0;
}

void remarks_reading(struct phrase *phrase, const struct reading *reading, const struct correction *correction)
{
	unsigned flags = correction->flags & ~TOLD_ELSEWHERE;

	phrase_clear(phrase);
	if (!remarks_any(reading, correction))
		return;
	say_flags(phrase, reading_words, COUNT(reading_words), reading->flags);
	for (unsigned flag = 1; flag <= flags; flag <<= 1) {
		if (!(flags & flag))
			continue;
		phrase_between(phrase, "; ");
		phrase_label(phrase, correction_flag_text(flag));
	}
	if (reading->line->note.len > 0) {
		phrase_between(phrase, ": ");
		phrase_add(phrase, reading->line->note);
	}
}

void remarks_place(struct phrase *phrase, struct place place)
{
	const char *file = place.file ? place.file : "";
	const char *slash = strrchr(file, '/');

	phrase_clear(phrase);
	phrase_words(phrase, slash ? slash + 1 : file);
	if (place.line > 0)
		phrase_print(phrase, ":%u", place.line);
	if (place.column > 0)
		phrase_print(phrase, ":%u", place.column);
}
