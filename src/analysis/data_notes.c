/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "data_notes.h"

#include <math.h>

#include "sentences.h"

enum { BREWS_NAMED = 8 };

/* "A3, B1 and 2 more" for the brews that pick says yes to; empty .text where there is none. */
static struct slice name_brews(struct analysis *analysis, bool (*pick)(const struct analysis *, size_t), size_t *count)
{
	char *list = NULL;

	*count = 0;
	for (size_t b = 0; b < analysis->run->brew_count; b++) {
		if (!pick(analysis, b) || (*count)++ >= BREWS_NAMED)
			continue;
		list = arena_print(&analysis->memory, "%s%s%.*s", list ? list : "", list ? ", " : "",
		                   SLICE_ARG(analysis->run->brews[b].label));
		if (!list)
			return SLICE_OF("");
	}
	if (*count > BREWS_NAMED)
		list = arena_print(&analysis->memory, "%s and %zu more", list, *count - BREWS_NAMED);
	return slice_from(list);
}

static bool has_no_response(const struct analysis *analysis, size_t b)
{
	return analysis->brews[b].why != NULL;
}

static bool has_odd_retention(const struct analysis *analysis, size_t b)
{
	return (analysis->brews[b].flags & BREW_RETENTION_ODD) != 0;
}

static bool is_estimated(const struct analysis *analysis, size_t b)
{
	return (analysis->brews[b].flags & BREW_ESTIMATED) != 0;
}

static bool lies_apart(const struct analysis *analysis, size_t b)
{
	return (analysis->brews[b].flags & (BREW_MEAN_STRAGGLER | BREW_MEAN_OUTLIER)) != 0;
}

static bool h_crossed(const struct analysis *analysis, size_t b)
{
	return analysis->brews[b].h_mark == OUTLIER_STRAGGLER || analysis->brews[b].h_mark == OUTLIER_STATISTICAL;
}

static bool h_crossed_far(const struct analysis *analysis, size_t b)
{
	return analysis->brews[b].h_mark == OUTLIER_STATISTICAL;
}

static bool h_tested(const struct analysis *analysis, size_t b)
{
	return analysis->brews[b].h_mark != OUTLIER_NOT_TESTED;
}

static bool k_crossed(const struct analysis *analysis, size_t b)
{
	return analysis->brews[b].k_mark == OUTLIER_STRAGGLER || analysis->brews[b].k_mark == OUTLIER_STATISTICAL;
}

static bool k_crossed_far(const struct analysis *analysis, size_t b)
{
	return analysis->brews[b].k_mark == OUTLIER_STATISTICAL;
}

static bool k_tested(const struct analysis *analysis, size_t b)
{
	return analysis->brews[b].k_mark != OUTLIER_NOT_TESTED;
}

static bool has_few_readings(const struct analysis *analysis, size_t b)
{
	return analysis->brews[b].used > 0 && (analysis->brews[b].flags & BREW_FEW_READINGS) != 0;
}

static bool drifts(const struct analysis *analysis, size_t b)
{
	return (analysis->brews[b].flags & BREW_DRIFTING) != 0;
}

struct brew_note {
	bool (*pick)(const struct analysis *analysis, size_t b);
	enum severity severity;
	const char *lead; /* before the names */
	const char *then; /* behind them; "" : nothing */
};

static const struct brew_note brew_notes[] = {
	{ has_no_response, SEVERITY_WARNING, "No result, so no part in the comparison", "" },
	{ has_odd_retention, SEVERITY_WARNING, "An unlikely amount of water kept in the grounds",
	  " Look for a slip of the scale, the tare or the pen." },
	{ is_estimated, SEVERITY_WARNING, "Not weighed after brewing",
	  " The beverage is estimated from the water that the grounds keep." },
	{ lies_apart, SEVERITY_WARNING, "Apart from the other brews of the same treatment (Grubbs' test)",
	  " Such a brew counts unless you exclude its readings, with a reason." },
	{ drifts, SEVERITY_WARNING, "Read higher, or lower, each time, by more than the meter scatters",
	  " Such a cup may still be cooling or drying." },
	{ has_few_readings, SEVERITY_NOTE, "Fewer readings than wanted", "" },
};

static bool say_brews(struct analysis *analysis, const struct brew_note *note)
{
	size_t count;
	struct slice names = name_brews(analysis, note->pick, &count);

	if (count == 0)
		return true;
	return sentence_say(analysis, TOPIC_DATA, note->severity, NAN, "%s: %.*s.%s", note->lead, SLICE_ARG(names),
	                    note->then);
}

/* One of Mandel's two statistics: each brew is tested on its own, so some cross their limit by chance, and that is said. */
struct mandel_note {
	bool (*tested)(const struct analysis *analysis, size_t b);
	bool (*crossed)(const struct analysis *analysis, size_t b);
	bool (*far)(const struct analysis *analysis, size_t b);
	const char *lead;
};

static const struct mandel_note mandel_notes[] = {
	{ h_tested, h_crossed, h_crossed_far,
	  "Far from the other brews of the same treatment (Mandel's h beyond its 5 % limit)" },
	{ k_tested, k_crossed, k_crossed_far,
	  "Readings that scatter more than those of the other cups (Mandel's k beyond its 5 % limit)" },
};

static bool say_mandel(struct analysis *analysis, const struct mandel_note *note)
{
	size_t tested, crossed, far;
	struct slice names = name_brews(analysis, note->crossed, &crossed);
	struct slice far_names = name_brews(analysis, note->far, &far);

	name_brews(analysis, note->tested, &tested);
	if (crossed == 0)
		return true;
	return sentence_say(analysis, TOPIC_DATA, far > 0 ? SEVERITY_WARNING : SEVERITY_NOTE, NAN,
	                    "%s: %.*s%s%.*s. By chance alone that befalls about %s of %s.", note->lead,
	                    SLICE_ARG(names), far > 0 ? "; beyond the 1 % limit: " : "", SLICE_ARG(far_names),
	                    words_number(0.05 * (double)tested, tested < 200 ? 1 : 0).text,
	                    words_count(tested, "brew", "brews").text);
}

static bool say_readings(struct analysis *analysis)
{
	if (analysis->readings_unjoined > 0 &&
	    !sentence_say(analysis, TOPIC_DATA, SEVERITY_WARNING, NAN, "%s to no brew: kept in the list, not used.",
	                  words_count(analysis->readings_unjoined, "reading belongs", "readings belong").text))
		return false;
	if (analysis->readings_out_of_range > 0 &&
	    !sentence_say(analysis, TOPIC_DATA, SEVERITY_WARNING, NAN,
	                  "%s physically impossible; kept in the list, not used.",
	                  words_count(analysis->readings_out_of_range, "reading is", "readings are").text))
		return false;
	if (analysis->readings_excluded > 0 &&
	    !sentence_say(analysis, TOPIC_DATA, SEVERITY_NOTE, NAN,
	                  "%s excluded by hand; the reasons stand beside them.",
	                  words_count(analysis->readings_excluded, "reading was", "readings were").text))
		return false;
	return true;
}

bool data_say(struct analysis *analysis)
{
	for (size_t i = 0; i < sizeof(brew_notes) / sizeof(brew_notes[0]); i++)
		if (!say_brews(analysis, &brew_notes[i]))
			return false;
	for (size_t i = 0; i < sizeof(mandel_notes) / sizeof(mandel_notes[0]); i++)
		if (!say_mandel(analysis, &mandel_notes[i]))
			return false;
	return say_readings(analysis);
}
