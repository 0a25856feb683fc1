/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sheets on repeatability and zero, and what all sheets of an audit share. */
#include <math.h>
#include <stdio.h>

#include "audit_sheet.h"
#include "audit_words.h"
#include "reading.h"

void audit_page(struct audit_book *book, const struct pen *pen)
{
	if (pen->row > TABLE_HEAD_ROW && book->page_count < AUDIT_PAGES)
		book->pages[book->page_count++] = pen->row + 1; /* below the empty row that comes before a headline */
}

void audit_heading(struct audit_book *book, struct pen *pen, const struct audit_meter *meter, const char *what)
{
	phrase_clear(&book->phrase);
	phrase_add(&book->phrase, meter->name);
	if (what) {
		phrase_words(&book->phrase, ": ");
		phrase_words(&book->phrase, what);
	}
	pen_down(pen);
	pen_height(pen, 20.0);
	pen_text(pen, phrase_slice(&book->phrase), STYLE_HEADING);
	pen_down(pen);
}

void audit_moment(struct pen *pen, int64_t us)
{
	if (us == READING_NO_TIME)
		pen_words(pen, "not told", STYLE_MISSING);
	else
		pen_words(pen, when_moment(us).text, STYLE_TEXT);
}

void audit_fact(struct pen *pen, const char *words, double value, enum style style, const char *unit)
{
	pen_words(pen, words, STYLE_TEXT);
	pen_skip(pen, 3);
	pen_number(pen, value, style);
	pen_words(pen, unit, STYLE_FAINT);
	pen_down(pen);
}

/* -- repeatability --------------------------------------------------------------------- */

static const struct column_head month_heads[] = {
	{ "Month", "UTC", 0, .words = true },
	{ "Sessions", NULL, 0, .words = false },
	{ "Readings", NULL, 0, .words = false },
	{ "Excluded", "by hand", 0, .words = false },
	{ "Cups", "read twice or more", 0, .words = false },
	{ "s, % TDS", "within cups", 0, .words = false },
	{ "From", "interval of s", 0, .words = false },
	{ "To", "interval of s", 0, .words = false },
	{ "Limit", "2.77 s, % TDS", 0, .words = false },
	{ "Zero", "mean, % TDS", 0, .words = false },
	{ "Coldest", "°C", 0, .words = false },
	{ "Warmest", "°C", 0, .words = false },
	{ "Display", "s below its step", 0, .words = false },
};

#define HEADS(heads) heads, sizeof(heads) / sizeof((heads)[0])

static void temperatures(struct pen *pen, const struct moments *temp)
{
	pen_number(pen, temp->n > 0 ? temp->min : NAN, style_decimals(STYLE_DECIMALS, 1));
	pen_number(pen, temp->n > 0 ? temp->max : NAN, style_decimals(STYLE_DECIMALS, 1));
}

static void month_row(struct pen *pen, const struct audit_month *month)
{
	enum style style = style_decimals(STYLE_DECIMALS, 4);

	pen_words(pen, when_month(month->from_us).text, STYLE_TEXT);
	pen_count(pen, month->sessions, STYLE_COUNT);
	pen_count(pen, month->counts.readings, STYLE_COUNT);
	pen_count(pen, month->counts.excluded, STYLE_COUNT);
	pen_count(pen, month->spread.cups, STYLE_COUNT);
	pen_number(pen, month->s_r, style);
	pen_number(pen, month->lower, style);
	pen_number(pen, month->upper, style);
	pen_number(pen, PRECISION_LIMIT_EXACT * month->s_r, style);
	pen_number(pen, moments_mean(&month->zero), style_decimals(STYLE_SIGNED, 4));
	temperatures(pen, &month->temp);
	pen_words(pen, month->step_limited ? "yes" : "no", STYLE_TEXT_RIGHT);
	pen_down(pen);
}

static void write_facts(struct pen *pen, const struct audit_meter *meter)
{
	enum style style = style_decimals(STYLE_DECIMALS, 4);

	audit_fact(pen, "Spread s of readings of one cup", meter->s_r, style, "% TDS");
	audit_fact(pen, "… degrees of freedom", meter->df, STYLE_COUNT, "");
	audit_fact(pen, "… interval, from", meter->lower, style, "% TDS");
	audit_fact(pen, "… to", meter->upper, style, "% TDS");
	audit_fact(pen, "Step of the display", meter->step, style, "% TDS");
	audit_fact(pen, "Spread that can be claimed", meter->claim.sd, style, "% TDS");
	audit_fact(pen, "Repeatability limit", meter->limit, style, "% TDS");
	audit_fact(pen, "… in yield points", meter->limit * meter->effort.yield_per_tds,
	           style_decimals(STYLE_DECIMALS, 2), "points");
}

static const struct audit_chart *chart_of(const struct audit_meter *meter, enum audit_subject subject)
{
	for (size_t i = 0; i < meter->chart_count; i++)
		if (meter->charts[i].subject == subject)
			return &meter->charts[i];
	return NULL;
}

static void write_spread(struct audit_book *book, struct pen *pen)
{
	audit_control_widths(pen);
	for (size_t i = 0; i < book->audit->meter_count; i++) {
		const struct audit_meter *meter = &book->audit->meters[i];
		const struct audit_chart *chart = chart_of(meter, AUDIT_REPEATABILITY);

		audit_page(book, pen);
		audit_heading(book, pen, meter, NULL);
		write_facts(pen, meter);
		audit_heading(book, pen, meter, "month by month");
		sheet_heads(pen, HEADS(month_heads));
		for (size_t m = 0; m < meter->month_count; m++)
			month_row(pen, &meter->months[m]);
		if (!chart)
			continue;
		audit_heading(book, pen, meter, "session by session");
		audit_control(book, pen, chart);
	}
}

static bool has_audit(const struct audit_book *book)
{
	return book->audit != NULL;
}

const struct audit_sheet audit_sheet_spread = {
	.title = "Repeatability",
	.about = "How far readings of one cup lie apart, month by month and session by session.",
	.wanted = has_audit,
	.write = write_spread,
};

/* -- zero ------------------------------------------------------------------------------------ */

static void write_drift(struct pen *pen, const struct audit_zero *zero)
{
	enum style style = style_decimals(STYLE_SIGNED, 5);

	audit_fact(pen, "Mean offset over the checks", moments_mean(&zero->offset), style, "% TDS");
	audit_fact(pen, "… spread of the checks", moments_sd(&zero->offset), style_decimals(STYLE_DECIMALS, 5),
	           "% TDS");
	audit_fact(pen, "Drift within a session", zero->hourly.slope, style, "% TDS per hour");
	audit_fact(pen, "… interval, from", zero->hourly.lower, style, "% TDS per hour");
	audit_fact(pen, "… to", zero->hourly.upper, style, "% TDS per hour");
	audit_fact(pen, "Drift from month to month", zero->monthly.slope, style, "% TDS per month");
	audit_fact(pen, "… interval, from", zero->monthly.lower, style, "% TDS per month");
	audit_fact(pen, "… to", zero->monthly.upper, style, "% TDS per month");
}

static bool has_zero(const struct audit_book *book)
{
	for (size_t i = 0; book->audit && i < book->audit->meter_count; i++)
		if (book->audit->meters[i].zero.checks > 0)
			return true;
	return false;
}

static void write_zero(struct audit_book *book, struct pen *pen)
{
	audit_control_widths(pen);
	for (size_t i = 0; i < book->audit->meter_count; i++) {
		const struct audit_meter *meter = &book->audit->meters[i];
		const struct audit_chart *chart = chart_of(meter, AUDIT_ZERO);

		if (meter->zero.checks == 0)
			continue;
		audit_page(book, pen);
		audit_heading(book, pen, meter, NULL);
		write_drift(pen, &meter->zero);
		if (!chart)
			continue;
		audit_heading(book, pen, meter, "check by check");
		audit_control(book, pen, chart);
	}
}

const struct audit_sheet audit_sheet_zero = {
	.title = "Zero",
	.about = "What distilled water showed, how it drifts, and when it stood out.",
	.wanted = has_zero,
	.write = write_zero,
};
