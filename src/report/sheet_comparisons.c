/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sheet.h"

#include <math.h>

#include "chart.h"
#include "sentences.h"
#include "verdict_words.h"

/* Above so many treatments the table of brews apart would be a book of its own; Fairness names the brews that are marked. */
enum { APART_LISTED = 60 };

enum { SHEET_COLUMNS = 10, DIFFERENCE_COLUMN = 2, HALF_COLUMN };

static const struct column_head widths[SHEET_COLUMNS] = {
	{ NULL, NULL, 26, .words = true },  { NULL, NULL, 26, .words = true },  { NULL, NULL, 13, .words = false },
	{ NULL, NULL, 11, .words = false }, { NULL, NULL, 11, .words = false }, { NULL, NULL, 11, .words = false },
	{ NULL, NULL, 11, .words = false }, { NULL, NULL, 30, .words = true },  { NULL, NULL, 14, .words = false },
	{ NULL, NULL, 14, .words = false },
};

static const struct column_head pair_heads[SHEET_COLUMNS] = {
	{ "Treatment", NULL, 0, .words = true },
	{ "against", NULL, 0, .words = true },
	{ "Difference", "first less second", 0, .words = false },
	{ "±", "half of the interval", 0, .words = false },
	{ "from", NULL, 0, .words = false },
	{ "to", NULL, 0, .words = false },
	{ "p", "for all of these together", 0, .words = false },
	{ "Verdict", "differ, practically the same, or can't tell", 0, .words = true },
	{ "Brews to settle", "of each treatment, where it can't be told", 0, .words = false },
	{ "± for the same", "difference ± this inside the margin: the same", 0, .words = false },
};

static const struct column_head anova_heads[] = {
	{ "Spread", NULL, 0, .words = true },
	{ "", NULL, 0, .words = true },
	{ "Sum of squares", NULL, 0, .words = false },
	{ "df", NULL, 0, .words = false },
	{ "Mean square", NULL, 0, .words = false },
	{ "F", NULL, 0, .words = false },
	{ "p", NULL, 0, .words = false },
};

static const struct column_head apart_heads[] = {
	{ "Treatment", NULL, 0, .words = true },  { "Test", NULL, 0, .words = true },
	{ "Statistic", NULL, 0, .words = false }, { "5 %", "limit", 0, .words = false },
	{ "1 %", "limit", 0, .words = false },    { "Brews", NULL, 0, .words = false },
	{ "", NULL, 0, .words = false },          { "Finding", "marked, never removed", 0, .words = true },
};

static const struct column_head covariate_heads[SHEET_COLUMNS] = {
	{ "Column", "of the manifest, mean of each treatment", 0, .words = true },
	{ "Unit", NULL, 0, .words = true },
	{ "Treatments", "with both", 0, .words = false },
	{ "Kendall's τ", NULL, 0, .words = false },
	{ "p", NULL, 0, .words = false },
	{ "p, adjusted", "for the columns tried (Holm)", 0, .words = false },
	{ "Smallest p", "that so few treatments can give", 0, .words = false },
	{ "Response per unit of the column (Theil–Sen)", NULL, 0, .words = false },
	{ "Spearman's ρ", NULL, 0, .words = false },
	{ "Pearson's r", NULL, 0, .words = false },
};

static const struct column_head component_heads[] = {
	{ "Part", NULL, 0, .words = true },
	{ "", NULL, 0, .words = true },
	{ "Standard deviation", NULL, 0, .words = false },
	{ "from", "its interval", 0, .words = false },
	{ "to", NULL, 0, .words = false },
	{ "Share, %", "of the variance", 0, .words = false },
	{ "df", NULL, 0, .words = false },
	{ "Share of a brew's value, the mean of its readings, %", NULL, 0, .words = false },
};

static const struct column_head chart_heads[] = {
	{ "Treatment", NULL, 0, .words = true },       { "", NULL, 0, .words = true },
	{ "Interval", "its ends", 0, .words = false }, { "Height", "in the chart", 0, .words = false },
	{ "Mean", NULL, 0, .words = false },           { "Height", "in the chart", 0, .words = false },
	{ "Name at", NULL, 0, .words = false },        { "Height", "in the chart", 0, .words = false },
};

#define HEADS(heads) heads, sizeof(heads) / sizeof((heads)[0])

static struct slice name_of(const struct book *book, size_t treatment)
{
	return book->analysis->run->treatments[treatment].name;
}

/* -- pairs --------------------------------------------------------------------------- */

static void write_verdict(struct book *book, struct pen *pen, const struct pair_result *pair)
{
	const struct comparison *comparison = &book->analysis->comparison;

	phrase_clear(&book->phrase);
	if (comparison->source == SPREAD_NONE) {
		phrase_label(&book->phrase, "no spread known; explained by one of at least");
		phrase_print(&book->phrase, " %s", words_spread(spread_that_explains(pair->difference, 2)).text);
	} else {
		phrase_label(&book->phrase, verdict_word(pair->verdict));
	}
	if (pair->verdict == VERDICT_DIFFER && pair->small)
		phrase_label(&book->phrase, ", by less than the margin");
	if (comparison->source == SPREAD_HISTORY) {
		phrase_words(&book->phrase, " ");
		phrase_label(&book->phrase, "(provisional)");
	}
	pen_text(pen, phrase_slice(&book->phrase), pair->verdict == VERDICT_DIFFER ? STYLE_STRONG : STYLE_WRAP);
}

static void write_settle(struct pen *pen, const struct pair_result *pair, size_t brews)
{
	if (brews > 0)
		pen_count(pen, brews, STYLE_COUNT);
	else
		pen_words(pen, pair->verdict == VERDICT_OPEN ? "not known" : "", STYLE_MISSING);
}

static void write_pair(struct book *book, struct pen *pen, const struct pair_result *pair, size_t settle)
{
	int decimals = book->analysis->comparison.response.decimals;
	enum style plain = style_decimals(STYLE_DECIMALS, decimals);
	enum style with_sign = style_decimals(STYLE_SIGNED, decimals);
	struct cell_name difference = cell_name(DIFFERENCE_COLUMN, pen->row);
	struct cell_name half = cell_name(HALF_COLUMN, pen->row);
	const char *summary = book->layout.word[TAB_SUMMARY];

	pen_text(pen, name_of(book, pair->a), STYLE_WRAP);
	pen_text(pen, name_of(book, pair->b), STYLE_WRAP);
	pen_formula(pen, pair->difference, with_sign, "'%s'!%s-'%s'!%s", summary,
	            cell_name(summary_difference_column(book), summary_row(book, pair->a)).text, summary,
	            cell_name(summary_difference_column(book), summary_row(book, pair->b)).text);
	pen_number(pen, pair->half_width, plain);
	pen_formula(pen, pair->lower, with_sign, "%s-%s", difference.text, half.text);
	pen_formula(pen, pair->upper, with_sign, "%s+%s", difference.text, half.text);
	pen_number(pen, pair->p, STYLE_PROBABILITY);
	write_verdict(book, pen, pair);
	write_settle(pen, pair, settle);
	pen_number(pen, pair->same_half_width, plain);
	pen_down(pen);
}

static void write_pairs(struct book *book, struct pen *pen, const char *heading, const struct pair_result *pairs,
                        const size_t *settle, size_t count)
{
	if (count == 0)
		return;
	sheet_heading(pen, heading);
	sheet_heads(pen, HEADS(pair_heads));
	for (size_t i = 0; i < count; i++)
		write_pair(book, pen, &pairs[i], settle ? settle[i] : 0);
}

static void write_control(struct book *book, struct pen *pen)
{
	const struct comparison *comparison = &book->analysis->comparison;

	if (comparison->control == SIZE_MAX)
		return;
	write_pairs(book, pen, "Each treatment against the control (Dunnett)", comparison->against,
	            comparison->against_settle, comparison->against_count);
}

static void write_all_pairs(struct book *book, struct pen *pen)
{
	const struct comparison *comparison = &book->analysis->comparison;

	write_pairs(book, pen,
	            comparison->pairs_limited ? "Neighbours in rank (Tukey–Kramer): too many treatments for all pairs" :
	                                        "All pairs (Tukey–Kramer)",
	            comparison->pairs, comparison->settle, comparison->pair_count);
	if (comparison->unequal)
		write_pairs(book, pen, "The same pairs, not taking the spreads as equal (Games–Howell)",
		            comparison->unequal, NULL, comparison->pair_count);
}

/* -- what the verdicts rest on --------------------------------------------------------- */

static const char *source_words(enum spread_source source)
{
	switch (source) {
	case SPREAD_NONE:
		return "not known: one brew each, and nothing known from before";
	case SPREAD_RUN:
		return "brews of one treatment in this run";
	case SPREAD_HISTORY:
		return "earlier runs: the verdicts are provisional";
	}
	return "";
}

static void line(struct pen *pen, const char *words, double value, enum style style)
{
	pen_words_across(pen, words, SPREAD_COLUMN, STYLE_WRAP);
	pen_number(pen, value, style);
	pen_down(pen);
}

static void write_spread(struct book *book, struct pen *pen)
{
	const struct comparison *comparison = &book->analysis->comparison;
	enum style style = style_decimals(STYLE_DECIMALS, comparison->response.decimals + 1);

	sheet_heading(pen, "What the verdicts rest on");
	book->spread_row = pen->row;
	line(pen,
	     comparison->blocked ? "Spread between brews of one treatment, within rounds" :
	                           "Spread between brews of one treatment (standard deviation)",
	     comparison->s_brew, style);
	sheet_name_range(book, pen, &sheet_comparisons, "spread_between_brews", SPREAD_COLUMN, book->spread_row,
	                 book->spread_row);
	sheet_name_range(book, pen, &sheet_comparisons, "confidence", SPREAD_COLUMN, book->spread_row + 2,
	                 book->spread_row + 2);
	line(pen, "… its degrees of freedom", comparison->s_brew_df, STYLE_SIGNIFICANT);
	line(pen, "Confidence of intervals and verdicts", book->analysis->settings->confidence, STYLE_SIGNIFICANT);
	line(pen, "The spread's own interval, from", comparison->s_brew_lower, style);
	line(pen, "… to", comparison->s_brew_upper, style);
	pen_words(pen, "Where it was taken from", STYLE_TEXT);
	pen_skip(pen, 1);
	pen_words(pen, source_words(comparison->source), STYLE_TEXT);
	pen_down(pen);
	line(pen, "Margin: a difference inside it counts as practically the same", comparison->response.margin,
	     STYLE_SIGNIFICANT);
	line(pen, "Smallest difference that this design finds with the wanted power", comparison->smallest_seen, style);
	if (comparison->source == SPREAD_NONE)
		line(pen, "Differences beyond this exceed the meter's own repeatability", comparison->meter_limit,
		     style);
	book->step_row = pen->row;
	if (comparison->step_u > 0)
		line(pen, "What the display's step may move a treatment's mean by (standard uncertainty)",
		     comparison->step_u, style);
	if (comparison->scale_u > 0)
		line(pen, "What one scale's stated accuracy moves a yield by (standard uncertainty)",
		     comparison->scale_u, style);
	line(pen, "Do the treatments' spreads differ? p (Brown–Forsythe)", comparison->levene_p, STYLE_PROBABILITY);
	line(pen, "Do the means differ, not taking the spreads as equal? p (Welch)", comparison->welch_p,
	     STYLE_PROBABILITY);
}

static void component_line(struct pen *pen, const char *words, const struct component *part, double whole,
                           enum style style)
{
	pen_words_across(pen, words, SPREAD_COLUMN, STYLE_WRAP);
	pen_number(pen, sqrt(part->variance), style);
	pen_number(pen, sqrt(part->lower), style);
	pen_number(pen, sqrt(part->upper), style);
	pen_number(pen, 100 * part->variance / whole, style_decimals(STYLE_DECIMALS, 0));
	pen_number(pen, part->df, style_decimals(STYLE_DECIMALS, 1));
	pen_number(pen, part->share, style_decimals(STYLE_DECIMALS, 0));
	pen_down(pen);
}

static void write_components(struct book *book, struct pen *pen)
{
	const struct components *parts = &book->analysis->components;
	enum style style = style_decimals(STYLE_DECIMALS, book->analysis->comparison.response.decimals + 1);
	double whole = parts->brew.variance + parts->reading.variance;

	if (!parts->known)
		return;
	sheet_heading(pen, parts->by_reml ?
	                           "What the scatter of single readings is made of (restricted maximum likelihood)" :
	                           "What the scatter of single readings is made of (analysis of variance)");
	sheet_heads(pen, HEADS(component_heads));
	component_line(pen,
	               parts->brew_zero ? "between brews of one treatment: not distinguishable from 0" :
	                                  "between brews of one treatment",
	               &parts->brew, whole, style);
	component_line(pen, "between readings of one cup", &parts->reading, whole, style);
	line(pen, "Brewing's share of a brew's value, %: interval, from", parts->share_lower,
	     style_decimals(STYLE_DECIMALS, 0));
	line(pen, "… to", parts->share_upper, style_decimals(STYLE_DECIMALS, 0));
}

/* A part of the spread: its row, with F and p where it is set against the rest, in the row rest. */
struct part {
	const char *words;
	double squares, df, mean_square, f, p;
};

static void write_part(struct pen *pen, const struct part *part, lxw_row_t rest)
{
	pen_words(pen, part->words, STYLE_TEXT);
	pen_skip(pen, 1);
	pen_number(pen, part->squares, style_decimals(STYLE_DECIMALS, 4));
	pen_number(pen, part->df, STYLE_COUNT);
	pen_formula(pen, part->mean_square, style_decimals(STYLE_DECIMALS, 4), "%s/%s", cell_name(2, pen->row).text,
	            cell_name(3, pen->row).text);
	if (pen->row != rest) {
		pen_formula(pen, part->f, style_decimals(STYLE_DECIMALS, 3), "%s/%s", cell_name(4, pen->row).text,
		            cell_name(4, rest).text);
		pen_number(pen, part->p, STYLE_PROBABILITY);
	}
	pen_down(pen);
}

static void write_parts(struct pen *pen, const struct part *parts, size_t count)
{
	lxw_row_t first = pen->row;
	double squares = 0, df = 0;

	for (size_t i = 0; i < count; i++) {
		write_part(pen, &parts[i], first + (lxw_row_t)count - 1);
		squares += parts[i].squares;
		df += parts[i].df;
	}
	pen_words(pen, "all", STYLE_TEXT);
	pen_skip(pen, 1);
	pen_formula(pen, squares, style_decimals(STYLE_DECIMALS, 4), "SUM(%s:%s)", cell_name(2, first).text,
	            cell_name(2, pen->row - 1).text);
	pen_formula(pen, df, STYLE_COUNT, "SUM(%s:%s)", cell_name(3, first).text, cell_name(3, pen->row - 1).text);
	pen_down(pen);
}

static struct part part_of(const char *words, const struct blocks_row *row)
{
	return (struct part){ words, row->ss, row->df, row->ms, row->f, row->p };
}

static void write_anova(struct book *book, struct pen *pen)
{
	const struct comparison *comparison = &book->analysis->comparison;
	const struct oneway *oneway = &comparison->oneway;

	if (!(oneway->df_between > 0))
		return;
	sheet_heading(pen, "Analysis of variance, on one value a brew");
	sheet_heads(pen, HEADS(anova_heads));
	if (comparison->blocked) {
		const struct part parts[] = {
			part_of("between rounds", &comparison->block_row),
			part_of("between treatments, rounds taken out", &comparison->treatment_row),
			part_of("the rest: brews of one treatment", &comparison->residual_row),
		};

		write_parts(pen, parts, sizeof(parts) / sizeof(parts[0]));
	} else {
		const struct part parts[] = {
			{ "between treatments", oneway->ss_between, oneway->df_between, oneway->ms_between, oneway->f,
			  oneway->p },
			{ "within: brews of one treatment", oneway->ss_within, oneway->df_within, oneway->ms_within,
			  NAN, NAN },
		};

		write_parts(pen, parts, sizeof(parts) / sizeof(parts[0]));
	}
}

/* -- brews apart ---------------------------------------------------------------------------- */

/* A test of one treatment's brews; far: +1 where values above the limits are apart, -1 where those below are. */
struct apart_test {
	const char *name;
	double statistic, at_5, at_1;
	int far;
	int decimals;
};

static const char *apart_words(const struct apart_test *test)
{
	if (!isfinite(test->statistic) || !isfinite(test->at_5))
		return "too few brews to tell";
	if (test->far * test->statistic > test->far * test->at_1)
		return "beyond the 1 % limit (outlier)";
	if (test->far * test->statistic > test->far * test->at_5)
		return "beyond the 5 % limit (straggler)";
	return "none lies apart";
}

static void write_apart_test(struct book *book, struct pen *pen, size_t treatment, const struct apart_test *test)
{
	enum style style = style_decimals(STYLE_DECIMALS, test->decimals);

	pen_text(pen, name_of(book, treatment), STYLE_WRAP);
	pen_words(pen, test->name, STYLE_WRAP);
	pen_number(pen, test->statistic, style);
	pen_number(pen, test->at_5, style);
	pen_number(pen, test->at_1, style);
	pen_count(pen, book->analysis->treatments[treatment].brews, STYLE_COUNT);
	pen_skip(pen, 1);
	pen_words(pen, apart_words(test), STYLE_WRAP);
	pen_down(pen);
}

static void write_apart(struct book *book, struct pen *pen)
{
	const struct analysis *analysis = book->analysis;
	size_t written = 0;

	for (size_t i = 0; i < analysis->run->treatment_count && written < APART_LISTED; i++) {
		size_t treatment = analysis->ranked[i];
		const struct apart *apart = &analysis->treatments[treatment].apart;
		const struct apart_test tests[] = {
			{ "one brew (Grubbs)", apart->grubbs, apart->grubbs_5, apart->grubbs_1, 1, 3 },
			{ "two brews (Grubbs)", apart->pair, apart->pair_5, apart->pair_1, -1, 4 },
			{ "largest h (Mandel)", apart->h_most, apart->h_5, apart->h_1, 1, 3 },
		};

		if (!isfinite(apart->grubbs))
			continue;
		if (written++ == 0) {
			sheet_heading(pen, "Does a brew lie apart from the others of its treatment?");
			sheet_heads(pen, HEADS(apart_heads));
		}
		for (size_t test = 0; test < sizeof(tests) / sizeof(tests[0]); test++)
			if (isfinite(tests[test].statistic))
				write_apart_test(book, pen, treatment, &tests[test]);
	}
}

/* -- columns of the manifest ------------------------------------------------------------ */

static void write_covariates(struct book *book, struct pen *pen)
{
	const struct analysis *analysis = book->analysis;

	if (analysis->covariate_count == 0)
		return;
	sheet_heading(pen, "What else goes with it");
	sheet_topic(book, pen, TOPIC_COVARIATE, SHEET_COLUMNS);
	sheet_heads(pen, HEADS(covariate_heads));
	for (size_t i = 0; i < analysis->covariate_count; i++) {
		const struct covariate *covariate = &analysis->covariates[i];
		const struct column *column = &analysis->run->columns[covariate->column];

		pen_text(pen, column->header, STYLE_WRAP);
		pen_text(pen, column_unit(column), STYLE_TEXT);
		pen_count(pen, covariate->n, STYLE_COUNT);
		pen_number(pen, covariate->kendall, style_decimals(STYLE_SIGNED, 2));
		pen_number(pen, covariate->kendall_p, STYLE_PROBABILITY);
		pen_number(pen, covariate->holm_p, STYLE_PROBABILITY);
		pen_number(pen, covariate->smallest_p, STYLE_PROBABILITY);
		pen_number(pen, covariate->slope, style_decimals(STYLE_SIGNED, 4));
		pen_number(pen, covariate->spearman, style_decimals(STYLE_SIGNED, 2));
		pen_number(pen, covariate->pearson, style_decimals(STYLE_SIGNED, 2));
		pen_down(pen);
	}
}

/* -- the chart's numbers ------------------------------------------------------------------ */

static void write_end(struct book *book, struct pen *pen, const struct cell_name *cell, double value, double height)
{
	if (!isfinite(value)) {
		pen_skip(pen, 2);
		return;
	}
	pen_formula(pen, value, style_decimals(STYLE_DECIMALS, 3), "'%s'!%s", book->layout.word[TAB_SUMMARY],
	            cell->text);
	pen_number(pen, height + CHART_INTERVAL_RISE, style_decimals(STYLE_DECIMALS, 2));
}

/* Two rows, lower and upper end, then a free one: the chart's line has a gap there. */
static void write_chart_rows(struct book *book, struct pen *pen, size_t treatment)
{
	const struct treatment_result *result = &book->analysis->treatments[treatment];
	lxw_row_t row = summary_row(book, treatment);
	double height = chart_height(book, treatment);
	struct cell_name lower = cell_name(SUMMARY_LOWER_COLUMN, row);
	struct cell_name upper = cell_name(SUMMARY_UPPER_COLUMN, row);
	struct cell_name mean = cell_name(SUMMARY_MEAN_COLUMN, row);

	pen_text(pen, name_of(book, treatment), STYLE_TEXT);
	pen_skip(pen, 1);
	write_end(book, pen, &lower, result->lower, height);
	write_end(book, pen, &mean, result->mean, height);
	pen_number(pen, chart_left_edge(book), STYLE_SIGNIFICANT);
	pen_number(pen, height, style_decimals(STYLE_DECIMALS, 2));
	pen_down(pen);
	pen_words(pen, "", STYLE_TEXT);
	pen_skip(pen, 1);
	write_end(book, pen, &upper, result->upper, height);
	pen_down(pen);
	pen_down(pen);
}

static void write_chart_numbers(struct book *book, struct pen *pen)
{
	size_t treatments = book->analysis->run->treatment_count;

	sheet_heading(pen, "Numbers behind the chart on Summary");
	sheet_heads(pen, HEADS(chart_heads));
	book->chart_row = pen->row;
	for (size_t i = 0; i < treatments && i < CHART_TREATMENTS; i++)
		write_chart_rows(book, pen, book->analysis->ranked[i]);
	book->chart_rows = pen->row - book->chart_row;
}

static void write_comparisons(struct book *book, struct pen *pen)
{
	sheet_widths(pen, HEADS(widths));
	sheet_title(pen, formula_words[sheet_comparisons.tab], sheet_comparisons.about);
	sheet_topic(book, pen, TOPIC_RESULT, SHEET_COLUMNS);
	write_control(book, pen);
	write_all_pairs(book, pen);
	write_spread(book, pen);
	write_components(book, pen);
	write_anova(book, pen);
	write_apart(book, pen);
	write_covariates(book, pen);
	write_chart_numbers(book, pen);
}

const struct sheet sheet_comparisons = {
	.tab = TAB_COMPARISONS,
	.about =
		"Which treatments differ, which are practically the same, which can't be told apart, and what that rests on.",
	.write = write_comparisons,
};
