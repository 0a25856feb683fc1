/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "builtin_profiles.h"

#define READS(text, number, places) .line = text, .value = number, .decimals = places
#define READS_NOTHING(text)         .line = text, .value = NO_READING

static const struct profile_def defs[] = {
	{
		.name = "bare-number",
		.about = "one number a line, with or without its unit",
		.ini = "[line]\n"
		       "pattern = \\s*(?<value>[-+]?\\d{1,3}[.,]\\d{1,5})\\s*\n"
		       "  (?<unit>%(?:\\s?TDS)?|(?:\\xc2?\\xb0)?B(?:x|rix)|n[Dd])?\\s*\n"
		       "no-reading = Lo, LO, Low, LOW, Hi, HI, High, HIGH, Err, ERR, ---, --.--\n",
		.proof = {
			{ READS("  1.38", 1.38, 2) },
			{ READS("1,410", 1.410, 3) },
			{ READS("-0.02 %", -0.02, 2) },
			{ READS("1.33299 nD", 1.33299, 5) },
			{ READS_NOTHING("Lo") },
			{ READS_NOTHING("1.38 1.39") },
			{ READS_NOTHING("138") },
		},
	},
	{
		.name = "labelled-line",
		.about = "a word before each number: TDS 1.38 % T 22.4 C",
		.ini = "[line]\n"
		       "pattern = \\s*(?:(?:No|Nr|R|#)\\.?\\s*(?<seq>\\d+)\\s*[,;:]?\\s+)?\n"
		       "  (?i:(?<unit>TDS|Brix|Bx|nD))\\s*[:=]?\\s*\n"
		       "  (?<value>[-+]?\\d{1,3}[.,]\\d{1,5})\\s*(?:%|(?:\\xc2?\\xb0)?B(?:x|rix)|n[Dd])?\\s*[,;]?\\s*\n"
		       "  (?:(?i:T|Temp|Temperature)\\.?\\s*[:=]?\\s*(?<temp>-?\\d{1,3}(?:[.,]\\d{1,2})?)\\s*\n"
		       "  (?:\\xc2?\\xb0)?\\s*C?)?\\s*\n",
		.proof = {
			{ READS("TDS 1.38 % T 22.4 C", 1.38, 2), .temp_c = 22.4 },
			{ READS("TDS=1,40%; Temp=22,5\xb0" "C", 1.40, 2), .temp_c = 22.5 },
			{ READS("No. 0012 Brix: 1.6", 1.6, 1) },
			{ READS("nD 1.33525 T=20.0\xc2\xb0" "C", 1.33525, 5), .temp_c = 20.0 },
			{ READS_NOTHING("TDS Lo") },
			{ READS_NOTHING("TDS 1.3TDS 1.41 % T 22.4 C") },
		},
	},
	{
		.name = "delimited-line",
		.about = "label, number, unit and temperature with ; tab or comma between them",
		.ini = "[line]\n"
		       "pattern = \\s*(?:(?<time>\\d{4}-\\d\\d-\\d\\d[T ]\\d\\d:\\d\\d(?::\\d\\d(?:\\.\\d+)?)?Z?|\n"
		       "  \\d\\d:\\d\\d:\\d\\d)\\s*[;\\t,]\\s*)?\n"
		       "  (?:(?![-+]?\\d{1,3}[.,]\\d)(?<label>[^;,\\t\\s][^;,\\t]{0,60}?)\n"
		       "  (?:\\s*[;\\t]\\s*|\\s*,\\s*(?=[-+]?\\d{1,3}\\.)))?\n"
		       "  (?<value>[-+]?\\d{1,3}[.,]\\d{1,5})\\s*[;\\t,]?\\s*\n"
		       "  (?<unit>%(?:\\s?TDS)?|TDS|(?:\\xc2?\\xb0)?B(?:x|rix)|n[Dd])?\\s*\n"
		       "  (?:[;\\t,]\\s*(?<temp>-?\\d{1,3}(?:[.,]\\d{1,2})?)\\s*(?:\\xc2?\\xb0)?\\s*C?\\s*)?[;\\t,]?\\s*\n",
		.proof = {
			{ READS("A1;1,38;%;22,4", 1.38, 2), .temp_c = 22.4, .label = "A1" },
			{ READS("A1\t1.38\t22.4", 1.38, 2), .temp_c = 22.4, .label = "A1" },
			{ READS("2026-03-01T10:15:22;A1;1.40;% TDS;22.4", 1.40, 2), .temp_c = 22.4, .label = "A1" },
			{ READS("fine 1, 1.38, %, 22.4", 1.38, 2), .temp_c = 22.4, .label = "fine 1" },
			{ READS("1.38;22.4", 1.38, 2), .temp_c = 22.4 },
			{ READS_NOTHING("A1,1,38") },
			{ READS_NOTHING("A1;;22.4 C;") },
			{ READS_NOTHING("A1;Lo;22,4") },
		},
	},
};

const struct profile_def *builtin_profiles(size_t *count)
{
	*count = sizeof(defs) / sizeof(defs[0]);
	return defs;
}

const struct profile_def *builtin_profile_find(struct slice name)
{
	for (size_t i = 0; i < sizeof(defs) / sizeof(defs[0]); i++)
		if (slice_equal(name, slice_from(defs[i].name)))
			return &defs[i];
	return NULL;
}
