/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sheet.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "correction.h"
#include "precision.h"
#include "text.h"
#include "yield.h"

static const struct column_head widths[] = {
	{ NULL, NULL, 30, .words = true },
	{ NULL, NULL, 26, .words = false },
	{ NULL, NULL, 84, .words = true },
};

enum { SHEET_COLUMNS = sizeof(widths) / sizeof(widths[0]) };

struct step {
	const char *name;
	const char *formula;
	const char *words;
};

/* From the display to the verdict, in the order in which it is computed. */
static const struct step steps[] = {
	{ "Unit", "°Bx = TDS shown / TDS per °Bx",
	  "What the display says is taken back to the sugar scale with the meter's own factor, and to a refractive index at "
	  "the temperature that its scale holds for." },
	{ "Zero", "index - zero offset",
	  "The offset is what a reading of distilled water shows less the index that water has; between two checks it is "
	  "interpolated. Without a check it is 0, and Meter says so." },
	{ "Temperature", "index → °Bx",
	  "The strength of the sugar solution that has this index: at the sample's temperature where the meter does not "
	  "compensate, else at the temperature that its scale holds for." },
	{ "Kind of sample", "TDS = °Bx × TDS per °Bx", "The factor stands in the table of sample types below." },
	{ "Dilution", "TDS × (sample + diluent) / sample", "Where a sample was diluted before it was read." },
	{ "Brew", "TDS = mean of its readings",
	  "The brew is the unit: readings of one cup never count as several brews." },
	{ "Yield, percolation", "beverage × TDS / dose",
	  "Drip, pour-over, espresso: the solids in the cup over the dose." },
	{ "Yield, immersion", "water / dose × TDS / (100 % - TDS)",
	  "All the liquid, in cup and grounds, has the same strength; with bypass, the strength before it." },
	{ "Dry yield", "yield / (1 - moisture)",
	  "Where the moisture of the dose is given. What is compared is as weighed." },
	{ "Retained water", "(water + bypass - beverage × (1 - TDS)) / dose",
	  "A brew whose grounds seem to keep less than nothing, or far from the others, is marked: a slip of scale, tare or "
	  "typing." },
	{ "Repeatability", "s = √(Σ df × s² / Σ df); limit 2.77 × s",
	  "Readings of one cup about their mean, pooled. Where s is smaller than the display's step, what rounding hides "
	  "(step / √12) is the spread that can be claimed." },
	{ "Interval of a mean", "mean ± t × s of brews / √brews",
	  "s is the spread between brews of one treatment, pooled over the treatments (analysis of variance on one value a "
	  "brew)." },
	{ "Differ", "interval of the difference leaves out 0",
	  "Simultaneous for all pairs (Tukey–Kramer), or for all against the control (Dunnett): the chance that any pair of "
	  "equal treatments is called different is 1 - confidence." },
	{ "Practically the same", "interval lies inside ± margin",
	  "Two one-sided tests against the margin, for all pairs together." },
	{ "Can't tell", "neither",
	  "Not \"equal\": more brews are needed, and the table says about how many if difference and spread stay as they are." },
	{ "Letters", "", "Treatments that share a letter were not found to differ." },
	{ "Uncertainty of one yield", "√Σ (sensitivity × u)²",
	  "Meter and scales, first order, and by simulation. What all brews of a run share falls out of their differences." },
};

/* What sheet_name_range() was called with. */
static const struct step names[] = {
	{ "Summary",
	  "treatment_name, treatment_brews, treatment_mean, treatment_lower, treatment_upper, treatment_difference, "
	  "treatment_tds",
	  "Columns of its table, as far as it has them." },
	{ "Brews",
	  "brew_label, brew_treatment, brew_dose, brew_water, brew_beverage, brew_tds, brew_yield, brew_retained, brew_ratio",
	  "Columns, to be used as in =AVERAGE(brew_tds)." },
	{ "Readings", "reading_brew, reading_used, reading_tds", "Columns." },
	{ "Comparisons", "spread_between_brews, confidence", "Single cells." },
	{ "Meter", "spread_of_readings", "The standard deviation of single readings of a cup." },
};

static const struct step sources[] = {
	{ "Refractive index of water", "", "IAPWS R9-97, Release on the Refractive Index of Ordinary Water Substance" },
	{ "Refractive index of sucrose", "",
	  "ICUMSA scale at 20 °C, 1974, as a fitted polynomial; the term for other temperatures is this program's own, fitted "
	  "to the published corrections" },
	{ "Mass balances of brewing", "", "Liang, Chan and Ristenpart, Scientific Reports 11 (2021) 6904" },
	{ "Repeatability, Cochran, Grubbs, Mandel", "", "ISO 5725-2:1994; the limit: ISO 5725-6:1994" },
	{ "Uncertainty", "", "JCGM 100:2008; by simulation: JCGM 101:2008" },
	{ "All pairs", "", "Tukey 1953; for unequal numbers Kramer, Biometrics 12 (1956) 307-310" },
	{ "Against a control", "", "Dunnett, Journal of the American Statistical Association 50 (1955) 1096-1121" },
	{ "Unequal spreads", "",
	  "Games and Howell, Journal of Educational Statistics 1 (1976) 113-125; Welch, Biometrika 38 (1951) 330-336; Brown "
	  "and Forsythe, Journal of the American Statistical Association 69 (1974) 364-367" },
	{ "The same within a margin", "",
	  "Schuirmann, Journal of Pharmacokinetics and Biopharmaceutics 15 (1987) 657-680" },
	{ "Letters", "", "Piepho, Journal of Computational and Graphical Statistics 13 (2004) 456-466" },
	{ "Several columns tried", "", "Holm, Scandinavian Journal of Statistics 6 (1979) 65-70" },
};

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static void write_steps(struct pen *pen, const char *heading, const struct step *list, size_t count)
{
	sheet_heading(pen, heading);
	for (size_t i = 0; i < count; i++) {
		pen_words(pen, list[i].name, STYLE_STRONG);
		pen_words(pen, list[i].formula, STYLE_WRAP);
		pen_words(pen, list[i].words, STYLE_WRAP);
		pen_down(pen);
	}
}

static void constant(struct pen *pen, const char *name, double value, const char *words)
{
	pen_words(pen, name, STYLE_WRAP);
	pen_number(pen, value, STYLE_SIGNIFICANT);
	pen_words(pen, words, STYLE_WRAP);
	pen_down(pen);
}

static void write_constants(struct pen *pen)
{
	sheet_heading(pen, "Constants");
	constant(pen, "TDS per °Bx of coffee", COFFEE_TDS_PER_BRIX,
	         "common practice, no source; published data disagree with it and with each other");
	constant(pen, "Sugar scale holds at, °C", STANDARD_CAL_TEMP_C, "ICUMSA");
	constant(pen, "Retained water, lowest usual, g/g", RETENTION_LOW, "common practice, no source");
	constant(pen, "Retained water, highest usual, g/g", RETENTION_HIGH, "common practice, no source");
	constant(pen, "Repeatability limit over s", PRECISION_LIMIT_EXACT, "1.96 × √2: ISO 5725-6");
	constant(pen, "Lowest TDS taken as real, %", TDS_PERCENT_LOW,
	         "below it a reading is kept, marked and not used");
	constant(pen, "Highest TDS taken as real, %", TDS_PERCENT_HIGH, "above it likewise");
}

/* -- settings ------------------------------------------------------------------- */

static void write_setting(struct book *book, struct pen *pen, const struct option_def *def)
{
	const char *field = (const char *)book->analysis->settings + def->offset;
	double value;

	pen_text(pen, slice_from(def->name), STYLE_TEXT);
	if (def->type == OPTION_WORD) {
		pen_words(pen, field[0] ? field : "none", STYLE_TEXT_RIGHT);
	} else {
		memcpy(&value, field, sizeof(value));
		if (strcmp(def->name, "margin") == 0)
			value = book->analysis->comparison.response
			                .margin; /* that of a yield holds without being set */
		if (isfinite(value))
			pen_number(pen, value, STYLE_SIGNIFICANT);
		else
			pen_words(pen, "not set", STYLE_MISSING);
	}
	phrase_clear(&book->phrase);
	phrase_label(&book->phrase, def->text);
	if (def->unit) {
		phrase_words(&book->phrase, " ");
		phrase_fill(&book->phrase, "Unit: {unit}.",
		            &(struct phrase_part){ "unit", labels_find(book->request->labels, slice_from(def->unit)) },
		            1);
	}
	pen_text(pen, phrase_slice(&book->phrase), STYLE_WRAP);
	pen_down(pen);
}

static void write_settings(struct book *book, struct pen *pen)
{
	const struct settings *settings = book->analysis->settings;
	size_t count;
	const struct option_def *defs = option_defs(&count);

	sheet_heading(pen, "Settings");
	for (size_t i = 0; i < count; i++)
		write_setting(book, pen, &defs[i]);
	sheet_heading(pen, "Sample types: TDS per °Bx");
	for (size_t i = 0; i < settings->type_count; i++)
		constant(pen, settings->types[i].name, settings->types[i].factor, settings->types[i].source);
}

/* -- where it came from -------------------------------------------------------------- */

static void fact(struct pen *pen, const char *name, const char *words)
{
	pen_words(pen, name, STYLE_WRAP);
	pen_words_across(pen, words, SHEET_COLUMNS - 1, STYLE_WRAP);
	pen_down(pen);
}

static void write_origin(struct book *book, struct pen *pen)
{
	const struct run *run = book->analysis->run;
	char seed[32];

	sheet_heading(pen, "To make this report again");
	snprintf(seed, sizeof(seed), "%.0f", book->analysis->settings->seed);
	fact(pen, "Program", "brewspread");
	fact(pen, "Version", book->request->version);
	fact(pen, "Command", book->request->command);
	fact(pen, "Seed", seed);
	fact(pen, "Cells that follow from others",
	     book->layout.formulas ? "are formulas, with the values that this program computed" :
	                             "hold values: with so many readings formulas would be slow");
	sheet_heading(pen, "Files that were read");
	for (size_t i = 0; i < run->input_count; i++) {
		const struct input *input = &run->inputs[i];

		pen_text(pen, slice_from(file_base(input->name)), STYLE_TEXT);
		pen_count(pen, input->bytes, STYLE_COUNT);
		phrase_clear(&book->phrase);
		phrase_fill(&book->phrase, "bytes; SHA-256 {digest}",
		            &(struct phrase_part){ "digest", slice_from(input->digest) }, 1);
		pen_text(pen, phrase_slice(&book->phrase), STYLE_WRAP);
		pen_down(pen);
	}
}

static void write_method(struct book *book, struct pen *pen)
{
	sheet_widths(pen, widths, SHEET_COLUMNS);
	sheet_title(pen, formula_words[sheet_method.tab], sheet_method.about);
	write_steps(pen, "From the display to the verdict", steps, COUNT(steps));
	write_constants(pen);
	write_settings(book, pen);
	write_origin(book, pen);
	write_steps(pen, "Names for formulas of your own", names, COUNT(names));
	write_steps(pen, "Sources", sources, COUNT(sources));
}

const struct sheet sheet_method = {
	.tab = TAB_METHOD,
	.about = "How the numbers were made: formulas, constants, settings, sources, and what was read.",
	.write = write_method,
};
