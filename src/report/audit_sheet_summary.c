/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_sheet.h"

#include <math.h>

#include "audit_words.h"
#include "reading.h"

static const struct column_head heads[] = {
	{ "Meter", NULL, 30, .words = true },
	{ "Readings", NULL, 11, .words = false },
	{ "Sessions", NULL, 11, .words = false },
	{ "From", "UTC", 17, .words = true },
	{ "To", "UTC", 17, .words = true },
	{ "s, % TDS", "within cups", 12, .words = false },
	{ "Limit", "two readings, % TDS", 16, .words = false },
	{ "Zero", "mean, % TDS", 12, .words = false },
	{ "Standards", "largest bias, %", 12, .words = false },
	{ "Signals", "in all charts", 12, .words = false },
};

enum { COLUMNS = sizeof(heads) / sizeof(heads[0]) };

static double largest_bias(const struct audit_meter *meter)
{
	double most = NAN;

	for (size_t i = 0; i < meter->standard_count; i++) {
		double bias = moments_mean(&meter->standards[i].bias);

		if (isnan(most) || fabs(bias) > fabs(most))
			most = bias;
	}
	return most;
}

static void meter_row(struct pen *pen, const struct audit_meter *meter)
{
	uint64_t signals = 0;

	for (size_t i = 0; i < meter->chart_count; i++)
		signals += meter->charts[i].told;
	pen_text(pen, meter->name, STYLE_STRONG);
	pen_count(pen, meter->counts.readings, STYLE_COUNT);
	pen_count(pen, meter->sessions_seen, STYLE_COUNT);
	audit_moment(pen, meter->first_us);
	audit_moment(pen, meter->last_us);
	pen_number(pen, meter->s_r, style_decimals(STYLE_DECIMALS, 4));
	pen_number(pen, meter->limit, style_decimals(STYLE_DECIMALS, 3));
	pen_number(pen, moments_mean(&meter->zero.offset), style_decimals(STYLE_SIGNED, 3));
	pen_number(pen, largest_bias(meter), style_decimals(STYLE_SIGNED, 3));
	pen_count(pen, signals, STYLE_COUNT);
	pen_down(pen);
}

static void notes_of(struct pen *pen, const struct audit_note *notes, size_t count, size_t meter,
                     enum audit_topic topic)
{
	for (size_t i = 0; i < count; i++)
		if (notes[i].meter == meter && notes[i].topic == topic)
			sheet_sentence(pen, slice_from(notes[i].text), COLUMNS,
			               notes[i].severity == SEVERITY_NOTE ? STYLE_SENTENCE : STYLE_CAUTION);
}

static bool any_note(const struct audit *audit, size_t meter, enum audit_topic topic)
{
	for (size_t i = 0; i < audit->note_count; i++)
		if (audit->notes[i].meter == meter && audit->notes[i].topic == topic)
			return true;
	return false;
}

static void write_meter(struct audit_book *book, struct pen *pen, size_t index)
{
	static const char *const parts[AUDIT_TOPICS] = {
		[AUDIT_TOPIC_METER] = "what it can and can't tell apart",
		[AUDIT_TOPIC_SIGNAL] = "what stands out",
		[AUDIT_TOPIC_DATA] = "what to know about its readings",
	};
	const struct audit *audit = book->audit;

	for (size_t topic = 0; topic < AUDIT_TOPICS; topic++) {
		if (!any_note(audit, index, (enum audit_topic)topic))
			continue;
		if (index < audit->meter_count)
			audit_heading(book, pen, &audit->meters[index], parts[topic]);
		notes_of(pen, audit->notes, audit->note_count, index, (enum audit_topic)topic);
	}
}

static void write_faults(struct audit_book *book, struct pen *pen)
{
	const struct faults *faults = book->faults;

	if (!faults || faults->count == 0)
		return;
	sheet_heading(pen, "What was wrong or doubtful in the data");
	for (size_t i = 0; i < faults->count; i++) {
		const struct fault *fault = &faults->items[i];

		phrase_clear(&book->phrase);
		phrase_words(&book->phrase, fault->place.file ? fault->place.file : "");
		if (fault->place.line > 0)
			phrase_print(&book->phrase, ":%u", fault->place.line);
		phrase_between(&book->phrase, ": ");
		phrase_words(&book->phrase, fault->text);
		sheet_sentence(pen, phrase_slice(&book->phrase), COLUMNS, STYLE_SENTENCE);
	}
}

static void write_summary(struct audit_book *book, struct pen *pen)
{
	const struct audit *audit = book->audit;

	sheet_widths(pen, heads, COLUMNS);
	if (!audit) {
		notes_of(pen, book->gauge->notes, book->gauge->note_count, SIZE_MAX, AUDIT_TOPIC_METER);
		write_faults(book, pen);
		return;
	}
	sheet_heads(pen, heads, COLUMNS);
	for (size_t i = 0; i < audit->meter_count; i++)
		meter_row(pen, &audit->meters[i]);
	for (size_t i = 0; i < audit->meter_count; i++)
		write_meter(book, pen, i);
	if (any_note(audit, SIZE_MAX, AUDIT_TOPIC_METER) || any_note(audit, SIZE_MAX, AUDIT_TOPIC_DATA))
		sheet_heading(pen, "All meters");
	write_meter(book, pen, SIZE_MAX);
	write_faults(book, pen);
}

const struct audit_sheet audit_sheet_summary = {
	.title = "Audit",
	.about = "What the instruments can and can't tell apart, and what to do about it.",
	.write = write_summary,
};
