/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "header.h"

#include <stdlib.h>
#include <string.h>
#include <unicase.h>
#include <uninorm.h>

#include "run.h"

/* Spellings are those of the trade's log sheets; common practice, no source. */
static const struct known_column known[] = {
	{ .name = "brew",
	  .kind = KNOWN_LABEL,
	  .expected = "a label, such as A3",
	  .spellings = { "brew",   "brew label", "brew id",   "brew no",   "brew number",  "brew nr",
	                 "brew #", "brew code",  "brew name", "cup",       "cup label",    "cup id",
	                 "cup no", "cup number", "cup #",     "cup code",  "label",        "id",
	                 "name",   "code",       "sample",    "sample id", "sample label", "sample no" } },
	{ .name = "treatment",
	  .kind = KNOWN_TREATMENT,
	  .expected = "what is compared, such as paper A",
	  .spellings = { "treatment", "treatment name", "treatments", "condition", "variant", "arm", "group",
	                 "compared" } },
	{ .name = "dose",
	  .kind = KNOWN_NUMBER,
	  .which = BREW_DOSE_G,
	  .measure = MEASURE_MASS,
	  .expected = "grams, such as 18.5",
	  .spellings = { "dose", "coffee dose", "coffee mass", "coffee weight", "coffee in", "dry coffee", "dose mass",
	                 "dose weight", "dose in", "=coffee", "=ground coffee", "=grounds", "=in" } },
	{ .name = "water",
	  .kind = KNOWN_NUMBER,
	  .which = BREW_WATER_G,
	  .measure = MEASURE_MASS,
	  .volume = true,
	  .expected = "grams, such as 300",
	  .spellings = { "water", "water mass", "water weight", "water in", "water used", "water poured", "brew water",
	                 "brewing water" } },
	{ .name = "beverage",
	  .kind = KNOWN_NUMBER,
	  .which = BREW_BEVERAGE_G,
	  .measure = MEASURE_MASS,
	  .volume = true,
	  .expected = "grams, such as 264.0",
	  .spellings = { "beverage", "beverage mass", "beverage weight", "beverage out", "bev", "drink", "drink mass",
	                 "drink weight", "brewed coffee", "brew mass", "brew weight", "cup mass", "cup weight",
	                 "coffee out", "liquid out", "output", "=yield", "=out" } },
	{ .name = "bypass",
	  .kind = KNOWN_NUMBER,
	  .which = BREW_BYPASS_G,
	  .measure = MEASURE_MASS,
	  .volume = true,
	  .expected = "grams, such as 50",
	  .spellings = { "bypass", "bypass water", "bypass mass", "bypass weight" } },
	{ .name = "moisture",
	  .kind = KNOWN_NUMBER,
	  .which = BREW_MOISTURE_PERCENT,
	  .measure = MEASURE_PERCENT,
	  .expected = "per cent of the dose, such as 1.5",
	  .spellings = { "moisture", "moisture content", "coffee moisture", "bean moisture", "ground moisture" } },
	{ .name = "sample mass",
	  .kind = KNOWN_NUMBER,
	  .which = BREW_SAMPLE_G,
	  .measure = MEASURE_MASS,
	  .volume = true,
	  .expected = "grams, such as 2.00",
	  .spellings = { "sample mass", "sample weight", "=sample" } },
	{ .name = "diluent mass",
	  .kind = KNOWN_NUMBER,
	  .which = BREW_DILUENT_G,
	  .measure = MEASURE_MASS,
	  .volume = true,
	  .expected = "grams, such as 8.00",
	  .spellings = { "diluent mass", "diluent", "diluent weight", "diluent water", "dilution water" } },
	{ .name = "order",
	  .kind = KNOWN_NUMBER,
	  .which = BREW_ORDER,
	  .measure = MEASURE_NONE,
	  .expected = "a whole number, such as 3",
	  .spellings = { "order", "brew order", "brewing order", "run order", "sequence", "position" } },
	{ .name = "water temp",
	  .kind = KNOWN_NUMBER,
	  .which = BREW_TEMP_C,
	  .measure = MEASURE_TEMPERATURE,
	  .expected = "\xc2\xb0"
	              "C, such as 93",
	  .spellings = { "water temp", "water temperature", "brew temp", "brew temperature", "brewing temperature",
	                 "kettle temp", "kettle temperature" } },
	{ .name = "bloom",
	  .kind = KNOWN_NUMBER,
	  .which = BREW_BLOOM_G,
	  .measure = MEASURE_MASS,
	  .volume = true,
	  .expected = "grams of water, such as 45",
	  .spellings = { "bloom", "bloom water", "bloom mass", "bloom weight" } },
	{ .name = "brew time",
	  .kind = KNOWN_NUMBER,
	  .which = BREW_TIME_S,
	  .measure = MEASURE_TIME,
	  .expected = "seconds or min:s, such as 210 or 3:30",
	  .spellings = { "brew time", "brewing time", "brew duration", "duration", "total time", "total brew time",
	                 "contact time", "steep time", "shot time", "=time" } },
	{ .name = "block",
	  .kind = KNOWN_WORD,
	  .which = BREW_BLOCK,
	  .spellings = { "block", "blocks", "block no", "block number", "round" } },
	{ .name = "sample type",
	  .kind = KNOWN_WORD,
	  .which = BREW_TYPE,
	  .spellings = { "sample type", "type", "sample kind", "beverage type", "drink type" } },
	{ .name = "grind",
	  .kind = KNOWN_WORD,
	  .which = BREW_GRIND,
	  .spellings = { "grind", "grind size", "grind setting", "grinder setting" } },
	{ .name = "scale", .kind = KNOWN_WORD, .which = BREW_SCALE, .spellings = { "scale", "scales", "balance" } },
	{ .name = "server", .kind = KNOWN_WORD, .which = BREW_SERVER, .spellings = { "server", "carafe", "vessel" } },
	{ .name = "operator",
	  .kind = KNOWN_WORD,
	  .which = BREW_OPERATOR,
	  .spellings = { "operator", "barista", "person", "brewed by", "made by" } },
	{ .name = "notes",
	  .kind = KNOWN_WORD,
	  .which = BREW_NOTES,
	  .spellings = { "notes", "note", "remarks", "remark", "comments", "comment" } },
	{ .name = "method",
	  .kind = KNOWN_METHOD,
	  .expected = "percolation or immersion",
	  .spellings = { "method", "brew method", "brewing method" } },
	{ .name = "brewed at",
	  .kind = KNOWN_MOMENT,
	  .which = MOMENT_BREWED,
	  .expected = "a moment, such as 2026-03-01 10:15",
	  .spellings = { "brewed at", "brewed", "date time", "datetime", "timestamp", "made at", "time of brewing" } },
	{ .name = "read from",
	  .kind = KNOWN_MOMENT,
	  .which = MOMENT_READ_FROM,
	  .expected = "a moment, such as 2026-03-01 10:30",
	  .spellings = { "read from", "reading from", "readings from" } },
	{ .name = "read to",
	  .kind = KNOWN_MOMENT,
	  .which = MOMENT_READ_TO,
	  .expected = "a moment, such as 2026-03-01 10:32",
	  .spellings = { "read to", "reading to", "readings to", "read until" } },
};

/* Units of columns that are not ours, split off a name that ends in them. */
static const char *const other_units[] = { "mm",  "cm",  "um",  "\xc2\xb5m", "\xce\xbcm", "nm",   "bar",
	                                   "kpa", "ppm", "rpm", "ml/s",      "g/s",       "g/min" };

const struct known_column *known_columns(size_t *count)
{
	*count = sizeof(known) / sizeof(known[0]);
	return known;
}

int known_code(const struct known_column *column)
{
	if (!column)
		return -1;
	switch (column->kind) {
	case KNOWN_NUMBER:
		return COLUMN_NUMBER + column->which;
	case KNOWN_WORD:
		return COLUMN_WORD + column->which;
	case KNOWN_LABEL:
		return COLUMN_BREW;
	case KNOWN_TREATMENT:
		return COLUMN_TREATMENT;
	case KNOWN_METHOD:
		return COLUMN_METHOD;
	case KNOWN_MOMENT:
		return COLUMN_TIME;
	}
	return -1;
}

static bool is_joint(const char *at, size_t len)
{
	return (len == 1 && strchr("_-.", *at) && *at) || slice_blank((struct slice){ at, len });
}

/* Lower case in all of Unicode, composed; NULL when there is no memory. */
static char *lowered(struct arena *arena, struct slice text)
{
	size_t len = 0;
	uint8_t *lower = u8_tolower((const uint8_t *)text.text, text.len, NULL, UNINORM_NFC, NULL, &len);
	struct slice copy = arena_copy(arena, lower ? (struct slice){ (const char *)lower, len } : text);

	free(lower);
	return (char *)copy.text;
}

/* Joints become one blank, none at the ends; text is written over. */
static struct slice joints_fold(char *text)
{
	size_t filled = 0;
	size_t len;

	for (const char *at = text; *at; at += len) {
		len = 1;
		while (((unsigned char)at[len] & 0xc0) == 0x80)
			len++;
		if (!is_joint(at, len)) {
			memmove(text + filled, at, len);
			filled += len;
		} else if (filled > 0 && text[filled - 1] != ' ') {
			text[filled++] = ' ';
		}
	}
	while (filled > 0 && text[filled - 1] == ' ')
		filled--;
	return (struct slice){ text, filled };
}

static bool fold(struct slice *out, struct arena *arena, struct slice text)
{
	char *copy = lowered(arena, text);

	if (!copy)
		return false;
	*out = joints_fold(copy);
	return true;
}

/* "Dose (g)", "dose [g]": the name before the bracket and what is in it. */
static bool bracket_split(struct slice *name, struct slice *unit, struct slice text)
{
	char close = text.len > 0 ? text.text[text.len - 1] : '\0';
	char open = close == ')' ? '(' : '[';
	const char *at = close == ')' || close == ']' ? memrchr(text.text, open, text.len) : NULL;

	if (!at)
		return false;
	*name = slice_trim(slice_part(text, 0, (size_t)(at - text.text)));
	*unit = slice_trim(slice_part(text, (size_t)(at - text.text) + 1, text.len - 1));
	return name->len > 0;
}

/* Is this the spelling of a unit, "_" being a blank? */
static bool is_unit(const struct measure **measure, struct slice text)
{
	char copy[16];

	*measure = NULL;
	if (text.len == 0 || text.len >= sizeof(copy))
		return false;
	for (size_t i = 0; i < text.len; i++)
		copy[i] = text.text[i] == '_' ? ' ' : text.text[i];
	text.text = copy;
	*measure = measure_find(text);
	for (size_t i = 0; !*measure && i < sizeof(other_units) / sizeof(other_units[0]); i++)
		if (slice_equal_nocase(slice_from(other_units[i]), text))
			return true;
	return *measure != NULL;
}

static bool is_break(char c)
{
	return c == '_' || c == '-' || c == ' ' || c == ',' || c == '/';
}

/* Where the last words words of text begin; 0: they are all of it. */
static size_t last_words(struct slice text, int words)
{
	size_t at = text.len;

	for (; words > 0; words--) {
		while (at > 0 && is_break(text.text[at - 1]))
			at--;
		while (at > 0 && !is_break(text.text[at - 1]))
			at--;
	}
	return at;
}

/*
 * "dose_g", "dose, g", "dose / g", "dose in g": split before the last two words ("deg C", "fl oz") or the last one,
 * where that is a unit.
 */
static bool word_split(struct slice *name, struct slice *unit, const struct measure **measure, struct slice text)
{
	for (int words = 2; words > 0; words--) {
		size_t at = last_words(text, words);

		*unit = slice_trim(slice_part(text, at, text.len));
		if (at == 0 || !is_unit(measure, *unit))
			continue;
		while (at > 0 && is_break(text.text[at - 1]))
			at--;
		*name = slice_part(text, 0, at);
		if (at > 3 && slice_equal_nocase(slice_part(*name, at - 3, at), SLICE_OF(" in")))
			*name = slice_trim(slice_part(*name, 0, at - 3));
		return name->len > 0;
	}
	return false;
}

bool known_takes(const struct known_column *column, const struct measure *measure)
{
	return measure && (measure->kind == column->measure || (column->volume && measure->kind == MEASURE_VOLUME));
}

static const struct known_column *spelling_find(size_t *spelling, struct slice folded, const struct measure *measure)
{
	for (size_t i = 0; i < sizeof(known) / sizeof(known[0]); i++)
		for (size_t j = 0; j < KNOWN_SPELLINGS && known[i].spellings[j]; j++) {
			const char *own = known[i].spellings[j];
			bool needs_unit = *own == '=';

			if (!slice_equal(slice_from(own + needs_unit), folded))
				continue;
			if ((needs_unit && !known_takes(&known[i], measure)) ||
			    (measure && known[i].kind == KNOWN_LABEL))
				continue;
			*spelling = j;
			return &known[i];
		}
	return NULL;
}

/* In a name that is not ours, a letter at the end is part of it: "lot c", "paper_s". */
static bool keeps_unit(const struct header *header)
{
	return header->known || header->unit.len > 1 || strchr("g%", header->unit.text[0]);
}

bool header_read(struct header *out, struct arena *arena, struct slice text)
{
	struct slice name;

	text = slice_trim(text);
	*out = (struct header){ .text = text };
	if (text.len > HEADER_LONGEST) {
		out->name = text;
		return true;
	}
	if (!fold(&out->name, arena, text))
		return false;
	out->known = spelling_find(&out->spelling, out->name, NULL);
	if (out->known)
		return true;
	out->marked = bracket_split(&name, &out->unit, text);
	if (!out->marked && !word_split(&name, &out->unit, &out->measure, text)) {
		out->unit = (struct slice){ NULL, 0 };
		out->measure = NULL;
		return true;
	}
	if (out->marked)
		is_unit(&out->measure, out->unit);
	if (!fold(&name, arena, name))
		return false;
	out->known = spelling_find(&out->spelling, name, out->measure);
	if (out->marked || keeps_unit(out))
		out->name = name;
	else
		out->unit = (struct slice){ NULL, 0 };
	if (out->unit.len == 0)
		out->measure = NULL;
	return true;
}
