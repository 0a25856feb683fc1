/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "table_csv.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "clean_text.h"
#include "correct.h"
#include "digits.h"
#include "number.h"
#include "remarks.h"
#include "timestamp.h"
#include "verdict_words.h"

/* A table on its way. */
struct csv {
	struct phrase *out;
	struct phrase words;
	bool begun; /* this line has a cell */
};

static void cell_begin(struct csv *csv)
{
	if (csv->begun)
		phrase_words(csv->out, ",");
	csv->begun = true;
}

static void line_end(struct csv *csv)
{
	phrase_words(csv->out, "\r\n");
	csv->begun = false;
}

static bool needs_quotes(struct slice text)
{
	return memchr(text.text, ',', text.len) || memchr(text.text, '"', text.len);
}

static void put_words(struct csv *csv, const char *words)
{
	cell_begin(csv);
	phrase_words(csv->out, words);
}

/* What stands in csv->words. */
static void put_phrase(struct csv *csv)
{
	struct slice text = phrase_slice(&csv->words);
	bool formula = text.len > 0 && strchr("=+-@", text.text[0]) != NULL && text.text[0] != '\0';
	bool quotes = text.len > 0 && needs_quotes(text);

	cell_begin(csv);
	phrase_words(csv->out, quotes ? "\"" : "");
	phrase_words(csv->out, formula ? "'" : "");
	for (size_t i = 0; i < text.len; i++) {
		phrase_words(csv->out, text.text[i] == '"' ? "\"" : "");
		phrase_add(csv->out, slice_part(text, i, i + 1));
	}
	phrase_words(csv->out, quotes ? "\"" : "");
	csv->out->failed = csv->out->failed || csv->words.failed;
}

static void put_text(struct csv *csv, struct slice text)
{
	phrase_clear(&csv->words);
	clean_text_add(&csv->words, text);
	put_phrase(csv);
}

/* number, or nothing where value can't be had. */
static void put_number(struct csv *csv, double value, struct words number)
{
	put_words(csv, isfinite(value) ? number.text : "");
}

static void put_count(struct csv *csv, size_t count)
{
	char words[24];

	snprintf(words, sizeof(words), "%zu", count);
	put_words(csv, words);
}

static void put_heads(struct csv *csv, const char *const *heads, size_t count)
{
	for (size_t i = 0; i < count; i++)
		put_words(csv, heads[i]);
}

/* "value_%", "difference_points": a head with a unit that the run decides. */
static void put_head(struct csv *csv, const char *name, const char *unit)
{
	phrase_clear(&csv->words);
	clean_text_add(&csv->words, slice_from(name));
	if (unit[0] != '\0') {
		phrase_words(&csv->words, " (");
		clean_text_add(&csv->words, slice_from(unit));
		phrase_words(&csv->words, ")");
	}
	put_phrase(csv);
}

#define HEADS(heads) heads, sizeof(heads) / sizeof((heads)[0])

static void csv_end(struct csv *csv)
{
	phrase_release(&csv->words);
}

/* -- tables -------------------------------------------------------------------------------- */

void table_csv_treatments(struct phrase *out, const struct analysis *analysis)
{
	static const char *const more[] = {
		"half interval", "from", "to", "letters", "TDS (%)", "retained water (g/g)"
	};
	struct csv csv = { .out = out };

	put_words(&csv, "treatment");
	put_words(&csv, "brews");
	put_head(&csv, analysis->comparison.response.name, analysis->comparison.response.unit);
	put_heads(&csv, HEADS(more));
	line_end(&csv);
	for (size_t i = 0; i < analysis->run->treatment_count; i++) {
		size_t t = analysis->ranked[i];
		const struct treatment_result *result = &analysis->treatments[t];
		double half = result->upper - result->mean;

		put_text(&csv, analysis->run->treatments[t].name);
		put_count(&csv, result->brews);
		put_number(&csv, result->mean, digits_response(analysis, result->mean));
		put_number(&csv, half, digits_response(analysis, half));
		put_number(&csv, result->lower, digits_response(analysis, result->lower));
		put_number(&csv, result->upper, digits_response(analysis, result->upper));
		put_words(&csv, result->letters);
		put_number(&csv, result->tds_percent, digits_tds(analysis, result->tds_percent));
		put_number(&csv, result->retained_per_g, digits_retained(result->retained_per_g));
		line_end(&csv);
	}
	csv_end(&csv);
}

static void put_shortest(struct csv *csv, double value)
{
	char words[NUMBER_TEXT];

	put_words(csv, isfinite(value) ? number_print_exact(words, sizeof(words), value) : "");
}

static void put_brew(struct csv *csv, const struct analysis *analysis, size_t b)
{
	const struct brew *brew = &analysis->run->brews[b];
	const struct brew_result *result = &analysis->brews[b];
	const struct yield *yield = &result->yield;

	put_text(csv, brew->label);
	put_text(csv, analysis->run->treatments[brew->treatment].name);
	put_text(csv, brew->word[BREW_BLOCK]);
	put_words(csv, brew->method == METHOD_IMMERSION ? "immersion" : "percolation");
	put_shortest(csv, brew->number[BREW_DOSE_G]);
	put_shortest(csv, brew->number[BREW_WATER_G]);
	put_number(csv, yield->beverage_used_g, words_number(yield->beverage_used_g, 1));
	put_count(csv, result->used);
	put_number(csv, result->tds_percent, digits_tds(analysis, result->tds_percent));
	put_number(csv, yield->yield_percent, digits_yield(analysis, yield->yield_percent));
	put_number(csv, result->budget.expanded, words_number(result->budget.expanded, 2));
	put_number(csv, yield->retained_water_per_g, digits_retained(yield->retained_water_per_g));
	put_number(csv, result->response, digits_response(analysis, result->response));
	remarks_brew(&csv->words, analysis, b);
	put_phrase(csv);
	put_text(csv, brew->word[BREW_NOTES]);
}

void table_csv_brews(struct phrase *out, const struct analysis *analysis)
{
	static const char *const heads[] = {
		"brew",         "treatment",     "round",   "brewing",   "dose (g)",         "water (g)",
		"beverage (g)", "readings used", "TDS (%)", "yield (%)", "± yield (points)", "retained water (g/g)",
		"compared",     "remarks",       "notes",
	};
	struct csv csv = { .out = out };

	put_heads(&csv, HEADS(heads));
	line_end(&csv);
	for (size_t b = 0; b < analysis->run->brew_count; b++) {
		put_brew(&csv, analysis, b);
		line_end(&csv);
	}
	csv_end(&csv);
}

static void put_reading(struct csv *csv, const struct analysis *analysis, size_t i)
{
	const struct reading *reading = &analysis->run->readings[i];
	static const char *const roles[] = { "sample", "zero", "standard" };
	char moment[TIMESTAMP_TEXT] = "";
	struct correction correction;

	correct_steps(&correction, analysis, i);
	put_text(csv,
	         reading->brew == READING_NO_BREW ? reading->line->label : analysis->run->brews[reading->brew].label);
	put_words(csv, roles[reading->role]);
	put_words(csv, reading_used(reading) && isfinite(correction.tds_percent) ? "yes" : "no");
	put_number(csv, reading->value, words_number(reading->value, reading->decimals));
	put_words(csv, unit_name(correction.unit));
	put_shortest(csv, reading->line->temp_c);
	put_number(csv, correction.delta_n, words_number(correction.delta_n, 6));
	put_number(csv, correction.brix, words_number(correction.brix, 3));
	put_number(csv, correction.tds_percent, words_number(correction.tds_percent, 3));
	if (reading->line->taken_us != READING_NO_TIME)
		moment_print(moment, sizeof(moment), reading->line->taken_us, 3);
	put_words(csv, moment);
	remarks_reading(&csv->words, reading, &correction);
	put_phrase(csv);
	put_text(csv, reading->line->raw);
}

void table_csv_readings(struct phrase *out, const struct analysis *analysis)
{
	static const char *const heads[] = {
		"cup",
		"role",
		"used",
		"shown",
		"unit",
		"temperature (°C)",
		"zero offset (index)",
		"Brix (%)",
		"TDS corrected (%)",
		"taken",
		"remarks",
		"line",
	};
	struct csv csv = { .out = out };

	put_heads(&csv, HEADS(heads));
	line_end(&csv);
	for (size_t i = 0; i < analysis->run->reading_count; i++) {
		put_reading(&csv, analysis, i);
		line_end(&csv);
	}
	csv_end(&csv);
}

static void put_pairs(struct csv *csv, const struct analysis *analysis, const char *family,
                      const struct pair_result *pairs, const size_t *settle, size_t count)
{
	bool judged = analysis->comparison.source != SPREAD_NONE;

	for (size_t i = 0; i < count; i++) {
		const struct pair_result *pair = &pairs[i];

		put_words(csv, family);
		put_text(csv, analysis->run->treatments[pair->a].name);
		put_text(csv, analysis->run->treatments[pair->b].name);
		put_number(csv, pair->difference,
		           words_number(pair->difference, analysis->comparison.response.decimals));
		put_number(csv, pair->half_width, digits_response(analysis, pair->half_width));
		put_number(csv, pair->lower, digits_response(analysis, pair->lower));
		put_number(csv, pair->upper, digits_response(analysis, pair->upper));
		put_words(csv, isfinite(pair->p) ? digits_p(pair->p).text : "");
		put_words(csv, judged ? verdict_word(pair->verdict) : "no spread known");
		if (pair->verdict == VERDICT_OPEN && settle[i] > 0)
			put_count(csv, settle[i]);
		else
			put_words(csv, "");
		line_end(csv);
	}
}

void table_csv_comparisons(struct phrase *out, const struct analysis *analysis)
{
	static const char *const more[] = { "half interval", "from", "to", "p", "verdict", "brews of each to settle" };
	const struct comparison *c = &analysis->comparison;
	struct csv csv = { .out = out };

	put_words(&csv, "comparison");
	put_words(&csv, "first");
	put_words(&csv, "second");
	put_head(&csv, "difference", c->response.difference_unit);
	put_heads(&csv, HEADS(more));
	line_end(&csv);
	put_pairs(&csv, analysis, "with the control", c->against, c->against_settle, c->against_count);
	put_pairs(&csv, analysis, "all pairs", c->pairs, c->settle, c->pair_count);
	csv_end(&csv);
}
