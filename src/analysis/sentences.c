/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sentences.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "number.h"

/* Room for 1, 2, 4, 8, … : full whenever the count is a power of two. */
static bool sentences_grow(struct analysis *analysis)
{
	size_t count = analysis->sentence_count;
	struct sentence *more;

	if (count > 0 && (count & (count - 1)) != 0)
		return true;
	more = arena_take(&analysis->memory, (count > 0 ? 2 * count : 1) * sizeof(*more));
	if (!more)
		return false;
	if (count > 0)
		memcpy(more, analysis->sentences, count * sizeof(*more));
	analysis->sentences = more;
	return true;
}

/* A response without a unit leaves "30.00  higher", "by 30.00 ." and "(30.00 )". */
static void close_gaps(char *text)
{
	size_t to = 0;

	for (size_t from = 0; text[from] != '\0'; from++)
		if (text[from] != ' ' || text[from + 1] == '\0' || !strchr(" .,;:)", text[from + 1]))
			text[to++] = text[from];
	text[to] = '\0';
}

bool sentence_say(struct analysis *analysis, enum topic topic, enum severity severity, double size, const char *format,
                  ...)
{
	va_list args, again;
	char *text;
	int len;

	va_start(args, format);
	va_copy(again, args);
	len = vsnprintf(NULL, 0, format, args);
	va_end(args);
	text = len < 0 ? NULL : arena_take(&analysis->memory, (size_t)len + 1);
	if (text)
		vsnprintf(text, (size_t)len + 1, format, again);
	va_end(again);
	if (text && analysis->comparison.response.difference_unit &&
	    analysis->comparison.response.difference_unit[0] == '\0')
		close_gaps(text);
	if (!text || !sentences_grow(analysis))
		return false;
	analysis->sentences[analysis->sentence_count++] = (struct sentence){ topic, severity, text, size };
	return true;
}

struct words words_number(double value, int decimals)
{
	struct words words = { .text = "" };

	number_print(words.text, sizeof(words.text), value, decimals);
	return words;
}

struct words words_signed(double value, int decimals)
{
	struct words number = words_number(value, decimals);
	struct words words = { .text = "" };

	if (!isfinite(value) || number.text[0] == '-')
		return number;
	snprintf(words.text, sizeof(words.text), "+%.40s", number.text);
	return words;
}

struct words words_spread(double value)
{
	int decimals = 2;

	if (isfinite(value) && value != 0)
		decimals = 1 - (int)floor(log10(fabs(value)));
	if (decimals < 0)
		decimals = 0;
	return words_number(value, decimals > 9 ? 9 : decimals);
}

struct words words_p(double p)
{
	struct words words = { .text = "" };

	if (!isfinite(p))
		snprintf(words.text, sizeof(words.text), "p not determined");
	else if (p < 0.001)
		snprintf(words.text, sizeof(words.text), "p < 0.001");
	else
		snprintf(words.text, sizeof(words.text), "p = %.*f", p < 0.1 ? 3 : 2, p);
	return words;
}

struct words words_df(double df)
{
	struct words number = words_number(df, 0);
	struct words words = { .text = "" };

	snprintf(words.text, sizeof(words.text), "%.20s degree%s of freedom", number.text,
	         strcmp(number.text, "1") == 0 ? "" : "s");
	return words;
}

struct words words_count(size_t count, const char *one, const char *more)
{
	struct words words = { .text = "" };

	snprintf(words.text, sizeof(words.text), "%zu %s", count, count == 1 ? one : more);
	return words;
}

struct slice treatment_name(const struct analysis *analysis, size_t treatment)
{
	return analysis->run->treatments[treatment].name;
}
