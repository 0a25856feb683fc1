/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "clean_text.h"
#include "digits.h"
#include "figure_parts.h"
#include "remarks.h"
#include "text.h"
#include "timestamp.h"
#include "verdict_words.h"
#include "write_up.h"

enum {
	NAMES_MOST = 240,  /* bytes of treatments' names in the question */
	VALUES_MOST = 6,   /* words of a column in the method table */
	PAIRS_TOLD = 40,   /* differences in the table; the workbook has all */
	BREWS_SHOWN = 400, /* brews in the table; likewise */
};

struct facts {
	const struct analysis *analysis;
	const struct write_up_request *request;
	struct phrase words; /* room */
	bool failed;
};

/* -- putting ------------------------------------------------------------------------------- */

static void put(struct facts *facts, json_t *object, const char *name, json_t *value)
{
	if (json_object_set_new(object, name, value) != 0)
		facts->failed = true;
}

static void put_words(struct facts *facts, json_t *object, const char *name, const char *words)
{
	put(facts, object, name, json_string(words));
}

static void put_clean(struct facts *facts, json_t *object, const char *name, struct slice text)
{
	phrase_clear(&facts->words);
	clean_text_add(&facts->words, text);
	put(facts, object, name, json_stringn(facts->words.text ? facts->words.text : "", facts->words.len));
	facts->failed = facts->failed || facts->words.failed;
}

/* What phrase says so far. */
static void put_phrase(struct facts *facts, json_t *object, const char *name, const struct phrase *phrase)
{
	put(facts, object, name, json_stringn(phrase->text ? phrase->text : "", phrase->len));
	facts->failed = facts->failed || phrase->failed;
}

static void put_number(struct facts *facts, json_t *object, const char *name, struct words number)
{
	put_words(facts, object, name, digits_typeset(number).text);
}

static void put_count(struct facts *facts, json_t *object, const char *name, size_t count)
{
	char words[24];

	snprintf(words, sizeof(words), "%zu", count);
	put_words(facts, object, name, words);
}

static void put_flag(struct facts *facts, json_t *object, const char *name, bool flag)
{
	put(facts, object, name, json_boolean(flag));
}

static void add_item(struct facts *facts, json_t *list, json_t *item)
{
	if (json_array_append_new(list, item) != 0)
		facts->failed = true;
}

/* -- question and findings ------------------------------------------------------------------- */

static void say_names(struct phrase *phrase, const struct run *run)
{
	size_t begin = phrase->len, t = 0;

	for (; t < run->treatment_count && phrase->len - begin < NAMES_MOST; t++) {
		if (t > 0)
			phrase_words(phrase, ", ");
		clean_text_add(phrase, run->treatments[t].name);
	}
	if (t < run->treatment_count)
		phrase_print(phrase, " and %zu more", run->treatment_count - t);
}

static void put_question(struct facts *facts, json_t *root)
{
	const struct analysis *analysis = facts->analysis;
	const struct comparison *c = &analysis->comparison;
	struct phrase question = PHRASE_INIT;

	phrase_words(&question, "Does the ");
	clean_text_add(&question, slice_from(c->response.name));
	phrase_words(&question, " differ between ");
	figure_say_count(&question, analysis->run->treatment_count, "treatment", "treatments");
	phrase_words(&question, ": ");
	say_names(&question, analysis->run);
	if (c->control != SIZE_MAX) {
		phrase_words(&question, ", with ");
		clean_text_add(&question, analysis->run->treatments[c->control].name);
		phrase_words(&question, " as the control");
	}
	phrase_words(&question, "?");
	put_phrase(facts, root, "question", &question);
	phrase_release(&question);
}

static json_t *sentences_on(struct facts *facts, enum topic topic)
{
	json_t *list = json_array();
	struct phrase clean = PHRASE_INIT;

	for (size_t i = 0; i < facts->analysis->sentence_count; i++) {
		const struct sentence *sentence = &facts->analysis->sentences[i];
		json_t *item;

		if (sentence->topic != topic)
			continue;
		item = json_object();
		phrase_clear(&clean);
		clean_text_add(&clean, slice_from(sentence->text));
		phrase_clear(&facts->words);
		clean_sentence_add(&facts->words, phrase_slice(&clean));
		facts->failed = facts->failed || clean.failed;
		put_phrase(facts, item, "text", &facts->words);
		put_flag(facts, item, "caution", sentence->severity != SEVERITY_NOTE);
		add_item(facts, list, item);
	}
	phrase_release(&clean);
	return list;
}

static void put_sentences(struct facts *facts, json_t *root)
{
	static const char *const names[TOPICS] = { "findings", "meter_notes", "fairness_notes", "data_notes",
		                                   "covariate_notes" };

	for (int topic = 0; topic < TOPICS; topic++)
		put(facts, root, names[topic], sentences_on(facts, (enum topic)topic));
}

static void put_run(struct facts *facts, json_t *root)
{
	const struct analysis *analysis = facts->analysis;
	const struct comparison *c = &analysis->comparison;
	char moment[TIMESTAMP_TEXT];
	int64_t newest = figures_moment(analysis);
	size_t brews = 0;

	for (size_t b = 0; b < analysis->run->brew_count; b++)
		brews += analysis->brews[b].why == NULL;
	put_clean(facts, root, "title", analysis->run->name);
	timestamp_print(moment, sizeof(moment), newest, 0);
	moment[strcspn(moment, "T")] = '\0';
	put_words(facts, root, "date", moment_undated(newest) ? "" : moment);
	put_count(facts, root, "treatment_count", analysis->run->treatment_count);
	put_count(facts, root, "brew_count", analysis->run->brew_count);
	put_count(facts, root, "brews_compared", brews);
	put_count(facts, root, "readings_used", analysis->readings_used);
	phrase_clear(&facts->words);
	phrase_print(&facts->words, "%.4g", 100 * analysis->settings->confidence);
	put_phrase(facts, root, "confidence", &facts->words);
	put_clean(facts, root, "response", slice_from(c->response.name));
	put_clean(facts, root, "response_unit", slice_from(c->response.unit));
	phrase_clear(&facts->words);
	figure_say_response(&facts->words, &c->response);
	put_phrase(facts, root, "response_title", &facts->words);
	put_clean(facts, root, "difference_unit", slice_from(c->response.difference_unit));
	put_number(facts, root, "margin", digits_response(analysis, c->response.margin));
	put_flag(facts, root, "has_margin", isfinite(c->response.margin));
	put_flag(facts, root, "one_brew_each", c->source == SPREAD_NONE);
	put_flag(facts, root, "provisional", c->source == SPREAD_HISTORY);
	put_flag(facts, root, "within_rounds", c->blocked);
	put_flag(facts, root, "has_letters", c->letters);
	put_number(facts, root, "spread", words_spread(c->s_brew));
	put_flag(facts, root, "has_spread", isfinite(c->s_brew));
	phrase_clear(&facts->words);
	phrase_print(&facts->words, "%.4g", c->s_brew_df);
	put_phrase(facts, root, "spread_df", &facts->words);
	put_clean(facts, root, "control",
	          c->control == SIZE_MAX ? (struct slice){ NULL, 0 } : analysis->run->treatments[c->control].name);
}

/* -- treatments ------------------------------------------------------------------------------ */

static json_t *notes_of(struct facts *facts, size_t treatment)
{
	const struct run *run = facts->analysis->run;
	json_t *list = json_array();

	for (size_t b = 0; b < run->brew_count; b++) {
		json_t *item;

		if (run->brews[b].treatment != treatment || slice_blank(run->brews[b].word[BREW_NOTES]))
			continue;
		item = json_object();
		put_clean(facts, item, "brew", run->brews[b].label);
		put_clean(facts, item, "note", run->brews[b].word[BREW_NOTES]);
		add_item(facts, list, item);
	}
	return list;
}

static const struct pair_result *against(const struct comparison *c, size_t treatment)
{
	for (size_t i = 0; i < c->against_count; i++)
		if (c->against[i].a == treatment)
			return &c->against[i];
	return NULL;
}

static void put_verdict(struct facts *facts, json_t *object, const struct pair_result *pair)
{
	phrase_clear(&facts->words);
	if (pair && facts->analysis->comparison.source == SPREAD_NONE)
		phrase_words(&facts->words, "no spread known");
	else if (pair)
		phrase_words(&facts->words, verdict_word(pair->verdict));
	if (pair && pair->verdict == VERDICT_DIFFER && pair->small)
		phrase_words(&facts->words, ", by less than the margin");
	put_phrase(facts, object, "verdict", &facts->words);
}

static json_t *treatment_of(struct facts *facts, size_t t)
{
	const struct analysis *analysis = facts->analysis;
	const struct treatment_result *result = &analysis->treatments[t];
	const struct pair_result *pair = against(&analysis->comparison, t);
	json_t *item = json_object();

	put_clean(facts, item, "name", analysis->run->treatments[t].name);
	put_count(facts, item, "brews", result->brews);
	put_number(facts, item, "mean", digits_response(analysis, result->mean));
	put_number(facts, item, "half", digits_response(analysis, result->upper - result->mean));
	put_number(facts, item, "lower", digits_response(analysis, result->lower));
	put_number(facts, item, "upper", digits_response(analysis, result->upper));
	put_words(facts, item, "letters", result->letters);
	put_flag(facts, item, "is_control", t == analysis->comparison.control);
	put_number(facts, item, "difference", digits_difference(analysis, pair ? pair->difference : NAN));
	put_verdict(facts, item, pair);
	put_number(facts, item, "tds", digits_tds(analysis, result->tds_percent));
	put_number(facts, item, "retained", digits_retained(result->retained_per_g));
	put(facts, item, "notes", notes_of(facts, t));
	return item;
}

static void put_treatments(struct facts *facts, json_t *root)
{
	const struct analysis *analysis = facts->analysis;
	json_t *list = json_array();
	bool interval = false, retained = false, notes = false;

	for (size_t i = 0; i < analysis->run->treatment_count; i++) {
		size_t t = analysis->ranked[i];

		interval = interval || isfinite(analysis->treatments[t].upper);
		retained = retained || isfinite(analysis->treatments[t].retained_per_g);
		add_item(facts, list, treatment_of(facts, t));
	}
	for (size_t b = 0; b < analysis->run->brew_count; b++)
		notes = notes || !slice_blank(analysis->run->brews[b].word[BREW_NOTES]);
	put(facts, root, "treatments", list);
	put_flag(facts, root, "has_interval", interval);
	put_flag(facts, root, "has_retained", retained);
	put_flag(facts, root, "has_notes", notes);
	put_flag(facts, root, "has_tds", strcmp(analysis->comparison.response.name, "TDS") != 0);
	put_flag(facts, root, "has_control", analysis->comparison.against_count > 0);
}

/* -- differences -------------------------------------------------------------------------------- */

static json_t *pair_of(struct facts *facts, const struct pair_result *pair, size_t settle)
{
	const struct analysis *analysis = facts->analysis;
	json_t *item = json_object();

	put_clean(facts, item, "first", analysis->run->treatments[pair->a].name);
	put_clean(facts, item, "second", analysis->run->treatments[pair->b].name);
	put_number(facts, item, "difference", digits_difference(analysis, pair->difference));
	put_number(facts, item, "half", digits_response(analysis, pair->half_width));
	put_number(facts, item, "lower", digits_difference(analysis, pair->lower));
	put_number(facts, item, "upper", digits_difference(analysis, pair->upper));
	put_words(facts, item, "p", digits_p(pair->p).text);
	put_verdict(facts, item, pair);
	put_count(facts, item, "brews_to_settle", settle);
	put_flag(facts, item, "can_settle", pair->verdict == VERDICT_OPEN && settle > 0);
	return item;
}

static void put_pairs(struct facts *facts, json_t *root)
{
	const struct comparison *c = &facts->analysis->comparison;
	bool control = c->against_count > 0;
	size_t count = control ? c->against_count : c->pair_count;
	json_t *list = json_array();

	for (size_t i = 0; i < count && i < PAIRS_TOLD; i++)
		add_item(facts, list,
		         pair_of(facts, control ? &c->against[i] : &c->pairs[i],
		                 control ? c->against_settle[i] : c->settle[i]));
	put(facts, root, "differences", list);
	put_count(facts, root, "difference_count", count);
	put_flag(facts, root, "differences_cut", count > PAIRS_TOLD || (!control && c->pairs_limited));
}

/* -- method: what was done, and how equal it was ------------------------------------------------- */

/* The cell of a numeric column, in the unit of column_unit(). */
static double number_of(const struct facts *facts, const struct column *column, size_t brew)
{
	return column->known >= 0 && column->known < BREW_NUMBERS ?
	               facts->analysis->run->brews[brew].number[column->known] :
	               column->number[brew];
}

static bool is_number(const struct column *column)
{
	return (column->known >= 0 && column->known < BREW_NUMBERS) || (column->known < 0 && column->numeric);
}

/* Is this a matter of how the brews were made? */
static bool is_method(const struct column *column)
{
	return !column->empty && column->known != COLUMN_BREW && column->known != COLUMN_TREATMENT &&
	       column->known != COLUMN_TIME && column->known != COLUMN_METHOD &&
	       column->known != COLUMN_NUMBER + BREW_ORDER && column->known != COLUMN_WORD + BREW_NOTES;
}

struct spread {
	double sum, low, high;
	size_t n;
	bool by_treatment; /* the same in all brews of a treatment, another in another */
};

static struct spread spread_of(const struct facts *facts, const struct column *column)
{
	const struct run *run = facts->analysis->run;
	struct spread spread = { 0, INFINITY, -INFINITY, 0, true };

	for (size_t b = 0; b < run->brew_count; b++) {
		double value = number_of(facts, column, b);

		if (!isfinite(value))
			continue;
		spread.sum += value;
		spread.low = fmin(spread.low, value);
		spread.high = fmax(spread.high, value);
		spread.n++;
		for (size_t a = b; spread.by_treatment && a-- > 0;)
			if (run->brews[a].treatment == run->brews[b].treatment) {
				spread.by_treatment = !(number_of(facts, column, a) != value);
				break;
			}
	}
	spread.by_treatment = spread.by_treatment && spread.n > run->treatment_count;
	return spread;
}

static void put_numbers(struct facts *facts, json_t *item, const struct column *column)
{
	struct spread spread = spread_of(facts, column);
	struct slice unit = column_unit(column);

	phrase_clear(&facts->words);
	phrase_words(&facts->words, digits_typeset(digits_column(column, spread.sum / (double)spread.n)).text);
	phrase_words(&facts->words, unit.len > 0 ? " " : "");
	clean_text_add(&facts->words, unit);
	if (spread.low < spread.high)
		phrase_words(&facts->words, " on average");
	put_phrase(facts, item, "value", &facts->words);
	phrase_clear(&facts->words);
	if (!(spread.low < spread.high)) {
		phrase_words(&facts->words, "the same");
	} else {
		phrase_print(&facts->words, "from %s", digits_typeset(digits_column(column, spread.low)).text);
		phrase_print(&facts->words, " to %s", digits_typeset(digits_column(column, spread.high)).text);
		if (spread.by_treatment)
			phrase_words(&facts->words, ", one value a treatment");
	}
	if (spread.n < facts->analysis->run->brew_count)
		phrase_print(&facts->words, "; given for %zu of %zu brews", spread.n, facts->analysis->run->brew_count);
	put_phrase(facts, item, "equal", &facts->words);
}

static struct slice word_of(const struct facts *facts, const struct column *column, size_t brew)
{
	if (column->known >= COLUMN_WORD && column->known < COLUMN_WORD + BREW_WORDS)
		return facts->analysis->run->brews[brew].word[column->known - COLUMN_WORD];
	return column->text ? column->text[brew] : (struct slice){ NULL, 0 };
}

static void put_texts(struct facts *facts, json_t *item, const struct column *column)
{
	struct slice seen[VALUES_MOST + 1];
	size_t count = 0, given = 0;

	for (size_t b = 0; b < facts->analysis->run->brew_count; b++) {
		struct slice word = word_of(facts, column, b);
		size_t i = 0;

		if (slice_blank(word))
			continue;
		given++;
		while (i < count && !slice_equal(seen[i], word))
			i++;
		if (i == count && count <= VALUES_MOST)
			seen[count++] = word;
	}
	phrase_clear(&facts->words);
	for (size_t i = 0; i < count && i < VALUES_MOST; i++) {
		phrase_between(&facts->words, ", ");
		clean_text_add(&facts->words, seen[i]);
	}
	if (count > VALUES_MOST)
		phrase_words(&facts->words, ", …");
	put_phrase(facts, item, "value", &facts->words);
	phrase_clear(&facts->words);
	if (count > VALUES_MOST)
		phrase_print(&facts->words, "more than %d kinds", VALUES_MOST);
	else if (count > 1)
		phrase_print(&facts->words, "%zu kinds", count);
	else
		phrase_words(&facts->words, "the same");
	if (given < facts->analysis->run->brew_count)
		phrase_print(&facts->words, "; given for %zu of %zu brews", given, facts->analysis->run->brew_count);
	put_phrase(facts, item, "equal", &facts->words);
}

static void add_way_of_brewing(struct facts *facts, json_t *list)
{
	const struct run *run = facts->analysis->run;
	json_t *item = json_object();
	size_t immersed = 0;

	for (size_t b = 0; b < run->brew_count; b++)
		immersed += run->brews[b].method == METHOD_IMMERSION;
	put_words(facts, item, "what", "brewing");
	put_words(facts, item, "value",
	          immersed == 0               ? "percolation" :
	          immersed == run->brew_count ? "immersion" :
	                                        "percolation and immersion");
	put_words(facts, item, "equal", immersed > 0 && immersed < run->brew_count ? "2 kinds" : "the same");
	add_item(facts, list, item);
}

static void put_method(struct facts *facts, json_t *root)
{
	const struct run *run = facts->analysis->run;
	json_t *list = json_array();

	add_way_of_brewing(facts, list);
	for (size_t c = 0; c < run->column_count; c++) {
		const struct column *column = &run->columns[c];
		json_t *item;

		if (!is_method(column))
			continue;
		item = json_object();
		put_clean(facts, item, "what", column->name);
		if (is_number(column))
			put_numbers(facts, item, column);
		else
			put_texts(facts, item, column);
		add_item(facts, list, item);
	}
	put(facts, root, "method", list);
}

/* -- meter ----------------------------------------------------------------------------------------- */

static void put_meter(struct facts *facts, json_t *root)
{
	const struct repeatability *r = &facts->analysis->repeatability;

	put_flag(facts, root, "has_repeatability", isfinite(r->s_r));
	put_number(facts, root, "s_r", words_spread(r->s_r));
	phrase_clear(&facts->words);
	phrase_print(&facts->words, "%.4g", r->df);
	put_phrase(facts, root, "s_r_df", &facts->words);
	put_number(facts, root, "s_r_lower", words_spread(r->lower));
	put_number(facts, root, "s_r_upper", words_spread(r->upper));
	put_number(facts, root, "repeatability_limit", words_spread(r->limit));
	put_number(facts, root, "repeatability_limit_yield", words_spread(r->yield_limit));
	put_flag(facts, root, "has_yield_limit", isfinite(r->yield_limit));
	put_flag(facts, root, "step_limited", r->step_limited);
	put_number(facts, root, "claimed", words_spread(r->claimed));
	put_count(facts, root, "cups_repeated", r->cups);
	put_count(facts, root, "zero_check_count", facts->analysis->zero_count);
}

/* -- brews ----------------------------------------------------------------------------------------- */

static json_t *brew_of(struct facts *facts, size_t b)
{
	const struct analysis *analysis = facts->analysis;
	const struct brew *brew = &analysis->run->brews[b];
	const struct brew_result *result = &analysis->brews[b];
	json_t *item = json_object();

	put_clean(facts, item, "label", brew->label);
	put_clean(facts, item, "treatment", analysis->run->treatments[brew->treatment].name);
	put_count(facts, item, "readings", result->used);
	put_number(facts, item, "tds", digits_tds(analysis, result->tds_percent));
	put_number(facts, item, "yield", digits_yield(analysis, result->yield.yield_percent));
	put_number(facts, item, "value", digits_response(analysis, result->response));
	put_number(facts, item, "uncertainty", words_number(result->budget.expanded, 2));
	remarks_brew(&facts->words, analysis, b);
	put_phrase(facts, item, "remarks", &facts->words);
	put_clean(facts, item, "note", brew->word[BREW_NOTES]);
	return item;
}

static void put_brews(struct facts *facts, json_t *root)
{
	size_t count = facts->analysis->run->brew_count;
	json_t *list = json_array();

	for (size_t b = 0; b < count && b < BREWS_SHOWN; b++)
		add_item(facts, list, brew_of(facts, b));
	put(facts, root, "brews", list);
	put_flag(facts, root, "brews_cut", count > BREWS_SHOWN);
	put_flag(facts, root, "has_other_response",
	         !facts->analysis->comparison.response.is_yield &&
	                 strcmp(facts->analysis->comparison.response.name, "TDS") != 0);
}

/* -- figures --------------------------------------------------------------------------------------- */

static void put_drawing(struct facts *facts, json_t *item, const struct figure *figure)
{
	struct phrase drawing = PHRASE_INIT;

	if (facts->request->markup == MARKUP_HTML && figure_svg_inline(figure, &drawing, NULL) != STATUS_OK)
		facts->failed = true;
	put(facts, item, "svg", template_markup(phrase_slice(&drawing)));
	phrase_release(&drawing);
}

static json_t *figure_of(struct facts *facts, struct figure *figure)
{
	const struct write_up_request *request = facts->request;
	json_t *item = json_object();

	put_words(facts, item, "id", figure_name(figure));
	put_phrase(facts, item, "figure_title", figure_title(figure));
	put_phrase(facts, item, "alt", figure_alt(figure));
	put_phrase(facts, item, "caption", figure_caption(figure));
	phrase_clear(&facts->words);
	if (request->figure_ending) {
		phrase_words(&facts->words, request->figure_folder);
		phrase_words(&facts->words, figure_name(figure));
		phrase_words(&facts->words, request->figure_ending);
	}
	put(facts, item, "file", template_markup(phrase_slice(&facts->words)));
	put_drawing(facts, item, figure);
	return item;
}

/* A list for each kind of figure, of one or none, so that a template can put each where it belongs. */
static void put_figures(struct facts *facts, json_t *root)
{
	const struct figures *figures = facts->request->figures;
	bool shown = facts->request->markup == MARKUP_HTML || facts->request->figure_ending;
	json_t *covariates = json_array();
	char room[FIGURE_NAME], name[FIGURE_NAME + 8];

	for (size_t i = 0; figures_possible_name(i, room); i++) {
		const char *possible = figures_possible_name(i, room);
		bool covariate = strncmp(possible, "covariate-", 10) == 0;
		json_t *list = covariate ? json_incref(covariates) : json_array();

		for (size_t f = 0; shown && figures && f < figures->count; f++)
			if (strcmp(figure_name(figures->items[f]), possible) == 0)
				add_item(facts, list, figure_of(facts, figures->items[f]));
		snprintf(name, sizeof(name), "%s_figure", covariate ? "covariate" : possible);
		put(facts, root, name, list);
	}
	json_decref(covariates);
}

/* Style rules for the figures' classes, and variables of the same colours for the rest of the page. */
static void put_colours(struct facts *facts, json_t *root)
{
	static const char *const begins[SCHEMES] = { ":root{color-scheme:light dark",
		                                     "@media screen and (prefers-color-scheme:dark){:root{--dark:1" };
	static const char *const ends[SCHEMES] = { "}\n", "}}\n" };

	phrase_clear(&facts->words);
	for (int scheme = 0; scheme < SCHEMES; scheme++) {
		phrase_words(&facts->words, begins[scheme]);
		for (int tint = TINT_NONE + 1; tint < TINTS; tint++)
			phrase_print(&facts->words, ";--%s:#%06X", palette_word((enum tint)tint),
			             (unsigned)palette_colour((enum tint)tint, (enum scheme)scheme));
		phrase_words(&facts->words, ends[scheme]);
	}
	phrase_words(&facts->words, ".f-none{fill:none}.e-none{stroke:none}\n");
	for (int tint = TINT_NONE + 1; tint < TINTS; tint++) {
		const char *word = palette_word((enum tint)tint);

		phrase_print(&facts->words, ".f-%s{fill:var(--%s)}.e-%s{stroke:var(--%s)}\n", word, word, word, word);
	}
	put(facts, root, "colours", template_markup(phrase_slice(&facts->words)));
}

/* -- to make it again -------------------------------------------------------------------------------- */

static void put_settings(struct facts *facts, json_t *root)
{
	size_t count;
	const struct option_def *defs = option_defs(&count);
	json_t *list = json_array();

	for (size_t i = 0; i < count; i++) {
		const char *field = (const char *)facts->analysis->settings + defs[i].offset;
		json_t *item = json_object();
		double value;

		put_words(facts, item, "setting", defs[i].name);
		if (defs[i].type == OPTION_WORD) {
			put_clean(facts, item, "value", slice_from(field[0] ? field : "none"));
		} else {
			memcpy(&value, field, sizeof(value));
			phrase_clear(&facts->words);
			if (isfinite(value))
				phrase_print(&facts->words, "%.15g", value);
			else
				phrase_words(&facts->words, "not set");
			put_phrase(facts, item, "value", &facts->words);
		}
		put_words(facts, item, "unit", defs[i].unit ? defs[i].unit : "");
		add_item(facts, list, item);
	}
	put(facts, root, "settings", list);
}

static void put_origin(struct facts *facts, json_t *root)
{
	const struct run *run = facts->analysis->run;
	json_t *list = json_array();

	put_clean(facts, root, "version", slice_from(facts->request->version));
	put_clean(facts, root, "command", slice_from(facts->request->command));
	phrase_clear(&facts->words);
	phrase_print(&facts->words, "%.0f", facts->analysis->settings->seed);
	put_phrase(facts, root, "seed", &facts->words);
	for (size_t i = 0; i < run->input_count; i++) {
		json_t *item = json_object();

		put_clean(facts, item, "file_name", slice_from(file_base(run->inputs[i].name)));
		put_count(facts, item, "bytes", run->inputs[i].bytes);
		put_words(facts, item, "digest", run->inputs[i].digest);
		add_item(facts, list, item);
	}
	put(facts, root, "inputs", list);
}

json_t *write_up_facts(const struct analysis *analysis, const struct write_up_request *request)
{
	struct facts facts = { .analysis = analysis, .request = request };
	json_t *root = json_object();

	put_question(&facts, root);
	put_run(&facts, root);
	put_sentences(&facts, root);
	put_treatments(&facts, root);
	put_pairs(&facts, root);
	put_method(&facts, root);
	put_meter(&facts, root);
	put_brews(&facts, root);
	put_figures(&facts, root);
	put_colours(&facts, root);
	put_settings(&facts, root);
	put_origin(&facts, root);
	phrase_release(&facts.words);
	if (!facts.failed)
		return root;
	json_decref(root);
	return NULL;
}
