/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plan_notes.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "designs.h"

enum { NOTE_TEXT = 1024, NAMES_SHOWN = 5 };

/* A note on its way. */
struct draft {
	char text[NOTE_TEXT];
	size_t len;
};

static void add(struct draft *draft, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void add(struct draft *draft, const char *format, ...)
{
	va_list args;
	int len;

	va_start(args, format);
	len = vsnprintf(draft->text + draft->len, sizeof(draft->text) - draft->len, format, args);
	va_end(args);
	if (len > 0)
		draft->len += (size_t)len;
	if (draft->len >= sizeof(draft->text))
		draft->len = sizeof(draft->text) - 1;
}

static bool say(struct run_plan *plan, enum severity severity, const struct draft *draft)
{
	/* a name may have been cut in the middle of a character */
	const char *text = arena_copy(&plan->memory, (struct slice){ draft->text, draft->len }).text;

	if (!text || plan->note_count == PLAN_NOTES)
		return false;
	plan->notes[plan->note_count++] = (struct plan_note){ severity, text };
	return true;
}

/* A treatment's name, cut to what a note has room for. */
struct name {
	char text[64];
};

static struct name name_of(const struct run_plan *plan, size_t treatment)
{
	struct slice name = plan->treatments[treatment];
	size_t shown = name.len <= 60 ? name.len : 57;
	struct name out;

	while (shown < name.len && shown > 0 && ((unsigned char)name.text[shown] & 0xc0) == 0x80)
		shown--;
	snprintf(out.text, sizeof(out.text), "%.*s%s", (int)shown, name.text, shown < name.len ? "…" : "");
	return out;
}

static const char *times(size_t count)
{
	return count == 1 ? "time" : "times";
}

static const char *rounds_word(size_t count)
{
	return count == 1 ? "round" : "rounds";
}

/* "4", or "3 to 4". */
struct span {
	char text[48];
};

static struct span span_of(const struct count_range *range)
{
	struct span span;

	if (range->lowest == range->highest)
		snprintf(span.text, sizeof(span.text), "%zu", range->lowest);
	else
		snprintf(span.text, sizeof(span.text), "%zu to %zu", range->lowest, range->highest);
	return span;
}

/* -- the design ------------------------------------------------------------------------ */

static void say_complete(const struct run_plan *plan, struct draft *draft)
{
	add(draft, "%zu %s; each holds every treatment once, brewed %s.", plan->rounds, rounds_word(plan->rounds),
	    plan->design == PLAN_TOGETHER ? "at the same time" : "one after the other");
}

static void say_balanced(const struct run_plan *plan, struct draft *draft)
{
	const struct design_check *rounds = &plan->balance.rounds;

	add(draft,
	    "%zu rounds of %zu brews; any two treatments meet in %zu %s, so that all differences are known equally well, "
	    "with %.0f %% of what rounds holding all treatments would tell.",
	    plan->rounds, plan->at_once, rounds->pairs.lowest, rounds_word(rounds->pairs.lowest),
	    100 * rounds->efficiency);
}

static void say_evened(const struct run_plan *plan, struct draft *draft)
{
	const struct design_check *rounds = &plan->balance.rounds;

	add(draft, "%zu %s of %s brews; two treatments meet in %s rounds", plan->rounds, rounds_word(plan->rounds),
	    span_of(&rounds->block_size).text, span_of(&rounds->pairs).text);
	if (rounds->pairs.lowest != rounds->pairs.highest)
		add(draft, " (least: %s and %s; most: %s and %s)", name_of(plan, rounds->pairs.lowest_at[0]).text,
		    name_of(plan, rounds->pairs.lowest_at[1]).text, name_of(plan, rounds->pairs.highest_at[0]).text,
		    name_of(plan, rounds->pairs.highest_at[1]).text);
	add(draft, ", so that differences are not all known equally well.");
	if (plan->balance.even_brews > 0)
		add(draft, " With %zu brews of each, or a multiple of that, they would be.", plan->balance.even_brews);
}

static bool say_design(struct run_plan *plan)
{
	struct draft draft = { .len = 0 };

	switch (plan->design) {
	case PLAN_TOGETHER:
	case PLAN_IN_TURN:
		say_complete(plan, &draft);
		break;
	case PLAN_BALANCED:
		say_balanced(plan, &draft);
		break;
	case PLAN_EVENED:
		say_evened(plan, &draft);
		break;
	}
	return say(plan, SEVERITY_NOTE, &draft);
}

/* -- who meets whom ---------------------------------------------------------------------- */

static void add_strangers(const struct run_plan *plan, struct draft *draft)
{
	size_t t = plan->treatment_count, shown = 0;

	for (size_t a = 0; a < t; a++)
		for (size_t b = a + 1; b < t; b++) {
			if (plan->pairs[a * t + b] > 0 || shown == NAMES_SHOWN)
				continue;
			add(draft, "%s%s and %s", shown > 0 ? "; " : "", name_of(plan, a).text, name_of(plan, b).text);
			shown++;
		}
	if (plan->balance.rounds.pairs_never > shown)
		add(draft, "; and %zu more", plan->balance.rounds.pairs_never - shown);
}

static bool say_strangers(struct run_plan *plan)
{
	size_t never = plan->balance.rounds.pairs_never;
	struct draft draft = { .len = 0 };

	if (never == 0)
		return true;
	add(&draft, "%zu of %zu pairs of treatments never meet in a round: ", never,
	    plan->treatment_count * (plan->treatment_count - 1) / 2);
	add_strangers(plan, &draft);
	add(&draft, ". What differs from round to round comes on top of their difference%s.",
	    plan->balance.parts == 1 ? ", unless other treatments are used to take it off" : "");
	return say(plan, SEVERITY_WARNING, &draft);
}

static bool say_parts(struct run_plan *plan)
{
	struct draft draft = { .len = 0 };

	if (plan->balance.parts < 2)
		return true;
	add(&draft,
	    "The rounds fall apart into %zu groups of treatments that no round links: differences between groups "
	    "can't be told from differences between rounds. More brews of each would link them.",
	    plan->balance.parts);
	return say(plan, SEVERITY_WARNING, &draft);
}

static bool say_alone(struct run_plan *plan)
{
	struct draft draft = { .len = 0 };

	if (plan->balance.alone == 0)
		return true;
	add(&draft, "%zu %s of a single brew: it is compared with nothing made at the same time.", plan->balance.alone,
	    plan->balance.alone == 1 ? "round consists" : "rounds consist");
	return say(plan, SEVERITY_WARNING, &draft);
}

/* -- places and neighbours -------------------------------------------------------------- */

static bool say_positions(struct run_plan *plan)
{
	const struct count_range *range = &plan->balance.positions;
	struct draft draft = { .len = 0 };

	if (range->lowest == range->highest) {
		add(&draft, "Every treatment stands in every place of a round equally often, %zu %s.", range->lowest,
		    times(range->lowest));
		return say(plan, SEVERITY_NOTE, &draft);
	}
	add(&draft, "A treatment stands in a place of a round %s times; least: %s in place %zu, most: %s in place %zu.",
	    span_of(range).text, name_of(plan, range->lowest_at[0]).text, range->lowest_at[1] + 1,
	    name_of(plan, range->highest_at[0]).text, range->highest_at[1] + 1);
	if (plan->design == PLAN_TOGETHER || plan->design == PLAN_IN_TURN)
		add(&draft, " With %zu brews of each, or a multiple of that, it would be even.", plan->treatment_count);
	return say(plan, SEVERITY_NOTE, &draft);
}

static bool say_following(struct run_plan *plan)
{
	const struct count_range *range = &plan->balance.following;
	size_t rows = design_williams_sequences(plan->treatment_count);
	struct draft draft = { .len = 0 };

	if (plan->design != PLAN_TOGETHER && plan->design != PLAN_IN_TURN)
		return true;
	if (range->lowest == range->highest) {
		add(&draft, "Within rounds every treatment follows every other equally often, %zu %s.", range->lowest,
		    times(range->lowest));
		return say(plan, SEVERITY_NOTE, &draft);
	}
	add(&draft,
	    "Within rounds a treatment follows another %s times; least: %s right after %s, most: %s right after %s.",
	    span_of(range).text, name_of(plan, range->lowest_at[1]).text, name_of(plan, range->lowest_at[0]).text,
	    name_of(plan, range->highest_at[1]).text, name_of(plan, range->highest_at[0]).text);
	if (rows > 0)
		add(&draft, " With %zu brews of each, or a multiple of that, it would be even.", rows);
	return say(plan, SEVERITY_NOTE, &draft);
}

/* -- the rest ---------------------------------------------------------------------------- */

static bool say_spare(struct run_plan *plan)
{
	size_t spare = plan->at_once > plan->treatment_count ? plan->at_once - plan->treatment_count : 0;
	struct draft draft = { .len = 0 };

	if (spare == 0)
		return true;
	add(&draft, "%zu of the %zu places of a round stay%s free: a round holds each treatment once.", spare,
	    plan->at_once, spare == 1 ? "s" : "");
	return say(plan, SEVERITY_NOTE, &draft);
}

static bool say_single(struct run_plan *plan)
{
	struct draft draft = { .len = 0 };

	if (plan->brews_each > 1)
		return true;
	add(&draft,
	    "One brew of each shows no spread between brews of one treatment: such a run can't tell a difference "
	    "between treatments from one between brews. Two of each are the least.");
	return say(plan, SEVERITY_WARNING, &draft);
}

/* Would a spreadsheet program take the name for a formula, a date or a number? */
static bool changes_in_spreadsheet(struct slice name)
{
	bool digits = true;

	for (size_t i = 0; i < name.len; i++)
		digits = digits && strchr("0123456789.,/-:% ", name.text[i]) && name.text[i] != '\0';
	return digits || strchr("=+-@", name.text[0]);
}

static bool say_names(struct run_plan *plan)
{
	struct draft draft = { .len = 0 };

	for (size_t i = 0; i < plan->treatment_count; i++) {
		if (!changes_in_spreadsheet(plan->treatments[i]))
			continue;
		add(&draft,
		    "A spreadsheet program may take the treatment \"%s\" for a formula, a date or a number and change it; "
		    "a name that begins with a letter stays as it is.",
		    name_of(plan, i).text);
		return say(plan, SEVERITY_WARNING, &draft);
	}
	return true;
}

bool plan_notes_write(struct run_plan *plan)
{
	return say_design(plan) && say_strangers(plan) && say_parts(plan) && say_alone(plan) && say_positions(plan) &&
	       say_following(plan) && say_spare(plan) && say_single(plan) && say_names(plan);
}
