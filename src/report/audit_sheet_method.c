/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "audit_sheet.h"

struct step {
	const char *name;
	const char *words;
};

static const struct step steps[] = {
	{ "Session",
	  "Readings of one meter in one run from one source without a gap of more than four hours (a judgement)." },
	{ "Check",
	  "Readings of distilled water, or of one standard, that follow each other within ten minutes: one check, its "
	  "mean." },
	{ "Repeatability",
	  "Spread of readings about the mean of their cup, pooled over cups: ISO 5725-2:1994, 7.4. Its interval is "
	  "from "
	  "chi-square. The limit is 2.77 s: ISO 5725-6:1994." },
	{ "Rounding",
	  "Where s is below one step of the display the step sets it; step / √12 is the least that can be claimed "
	  "(JCGM 100:2008, F.2.2.1)." },
	{ "Zero",
	  "Offset of distilled water as a refractive index, shown as TDS. Drift within sessions: one slope over all of "
	  "them, each with its own level. From month to month: a line through the sessions' means." },
	{ "Standards",
	  "Reading less strength as made up, on the sucrose scale (ICUMSA, 1974), with the zero of its session taken "
	  "off. The "
	  "interval holds the spread of the checks and the uncertainty of the standard from its weighing (JCGM "
	  "100:2008, "
	  "4.3.7, 5.1.2, G.2)." },
	{ "Scale",
	  "A straight line through the biases, each weighted by the spread of its checks and the uncertainty of its standard; "
	  "lack of fit by the F test against both (JCGM 100:2008, G.2). A standard whose newest check is beyond its limits is "
	  "left out." },
	{ "Individuals",
	  "Centre ± 3 sigma, sigma from the mean moving range over 1.128: ISO 7870-2:2013. The base is the first "
	  "20 points; from 40 on the first half, from 200 on the first 100." },
	{ "Weighted mean", "EWMA with weight 0.2 and limits at 3 sigma: ISO 7870-6:2016." },
	{ "Runs of points", "The tests for special causes of ISO 7870-2:2013, clause 8." },
	{ "False alarms",
	  "A meter that did not change rings now and then. In 10,000 simulated runs with limits from 100 checks: one point "
	  "beyond its limits in 358 checks, the weighted mean in 415, any sign at all in 60; with limits from 20 checks one in "
	  "113, 129 and 37. An offset of 3 s was found after 2.1 checks on average, of 1 s after 11.5 (docs/audit.md)." },
	{ "Spread of a session",
	  "Compared with the pooled one by the F distribution (NIST/SEMATECH e-Handbook 2.2.3); of one that did not grow one "
	  "session in 401 rings by chance. For the weighted mean as a normal score." },
	{ "Two "
	  "meters",
	  "Difference over mean, bias ± t s / √n, limits of agreement bias ± 1.96 s: Bland and Altman, Lancet 327 "
	  "(1986) 307-310. In one run only where the bias lies inside the margin by two one-sided "
	  "tests." },
	{ "Study",
	  "Variance components by restricted maximum likelihood, all effects random (Searle, Casella and McCulloch "
	  "1992). Kinds of sample told apart: √2 × s of samples / s of the meter, cut; 5 or more are wanted "
	  "(common "
	  "practice). Levels: NIST/SEMATECH e-Handbook 2.4.4." },
	{ "What to try first", "Common practice, no source." },
};

static const struct column_head widths[] = {
	{ NULL, NULL, 24, .words = true },
	{ NULL, NULL, 110, .words = true },
};

static void write_setting(struct audit_book *book, struct pen *pen, const char *name, double value, const char *unit)
{
	pen_words(pen, name, STYLE_TEXT);
	phrase_clear(&book->phrase);
	phrase_print(&book->phrase, "%.6g%s%s", value, unit[0] ? " " : "", unit);
	pen_text(pen, phrase_slice(&book->phrase), STYLE_WRAP);
	pen_down(pen);
}

static void write_settings(struct audit_book *book, struct pen *pen)
{
	const struct audit_query *query = book->audit ? &book->audit->query : NULL;

	sheet_heading(pen, "Made by");
	pen_words(pen, "Program", STYLE_TEXT);
	phrase_clear(&book->phrase);
	phrase_words(&book->phrase, "brewspread ");
	phrase_words(&book->phrase, book->request->version);
	pen_text(pen, phrase_slice(&book->phrase), STYLE_WRAP);
	pen_down(pen);
	pen_words(pen, "Command", STYLE_TEXT);
	pen_words(pen, book->request->command, STYLE_WRAP);
	pen_down(pen);
	if (!query)
		return;
	write_setting(book, pen, "Confidence", query->confidence, "");
	write_setting(book, pen, "Dose", query->dose_g, "g");
	write_setting(book, pen, "Beverage", query->beverage_g, "g");
	write_setting(book, pen, "Standards made up to", query->standard_total_g, "g");
	write_setting(book, pen, "Step of the scales", query->scale_step_g, "g");
}

static void write_method(struct audit_book *book, struct pen *pen)
{
	sheet_widths(pen, widths, sizeof(widths) / sizeof(widths[0]));
	for (size_t i = 0; i < sizeof(steps) / sizeof(steps[0]); i++) {
		pen_words(pen, steps[i].name, STYLE_STRONG);
		pen_words(pen, steps[i].words, STYLE_WRAP);
		pen_down(pen);
	}
	write_settings(book, pen);
}

const struct audit_sheet audit_sheet_method = {
	.title = "Method",
	.about = "How it is reckoned, and where that comes from.",
	.write = write_method,
};
