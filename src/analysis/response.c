/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "response.h"

#include <math.h>
#include <string.h>
#include <strings.h>

#define YIELD_MARGIN 0.5 /* points; common practice, no source */

enum response_kind { RESPONSE_YIELD, RESPONSE_TDS, RESPONSE_RETENTION, RESPONSE_COLUMN };

static enum response_kind kind_of(const char *name)
{
	if (strcasecmp(name, "yield") == 0 || name[0] == '\0')
		return RESPONSE_YIELD;
	if (strcasecmp(name, "tds") == 0)
		return RESPONSE_TDS;
	if (strcasecmp(name, "retention") == 0)
		return RESPONSE_RETENTION;
	return RESPONSE_COLUMN;
}

bool response_names_yield(const char *name)
{
	return kind_of(name) == RESPONSE_YIELD;
}

/* The column of that name or header, letter case, blanks and underscores aside; NULL: none. */
static const struct column *column_called(const struct run *run, const char *name)
{
	for (size_t c = 0; c < run->column_count; c++) {
		const struct column *column = &run->columns[c];

		if (slice_equal_nocase(column->name, slice_from(name)) ||
		    slice_equal_nocase(column->header, slice_from(name)))
			return column;
	}
	for (size_t c = 0; c < run->column_count; c++) {
		struct slice own = run->columns[c].name;
		bool same = own.len == strlen(name);

		for (size_t i = 0; same && i < own.len; i++)
			same = own.text[i] == name[i] || (own.text[i] == ' ' && (name[i] == '_' || name[i] == '-'));
		if (same)
			return &run->columns[c];
	}
	return NULL;
}

static enum status refuse_response(const struct analysis *analysis, struct error *error)
{
	char list[300] = "";
	size_t used = 0;

	for (size_t c = 0; c < analysis->run->column_count; c++) {
		const struct column *column = &analysis->run->columns[c];

		if (column->numeric && !column->empty && used + column->name.len + 3 < sizeof(list)) {
			list[used++] = ',';
			list[used++] = ' ';
			memcpy(list + used, column->name.text, column->name.len);
			used += column->name.len;
			list[used] = '\0';
		}
	}
	return error_set(error, STATUS_INVALID, "there is no response \"%s\"; expected yield, tds, retention%s",
	                 analysis->settings->response, list);
}

static double response_of(const struct analysis *analysis, size_t b, enum response_kind kind,
                          const struct column *column)
{
	switch (kind) {
	case RESPONSE_YIELD:
		return analysis->brews[b].yield.yield_percent;
	case RESPONSE_TDS:
		return analysis->brews[b].tds_percent;
	case RESPONSE_RETENTION:
		return analysis->brews[b].yield.retained_water_per_g;
	case RESPONSE_COLUMN:
		return column_value(analysis->run, column, b);
	}
	return NAN;
}

static const char *why_not(const struct analysis *analysis, size_t b, enum response_kind kind)
{
	const struct brew *brew = &analysis->run->brews[b];

	if (kind == RESPONSE_COLUMN)
		return "its cell is empty";
	if (analysis->brews[b].count == 0)
		return "it has no readings";
	if (analysis->brews[b].used == 0)
		return "none of its readings can be used";
	if (!brew->usable)
		return "its row lacks what a yield needs";
	if (kind == RESPONSE_RETENTION)
		return "water and beverage were not both weighed";
	return "its masses allow no yield";
}

static void describe_response(struct analysis *analysis, enum response_kind kind, const struct column *column)
{
	struct response *response = &analysis->comparison.response;

	response->margin = analysis->settings->margin;
	response->is_yield = kind == RESPONSE_YIELD;
	switch (kind) {
	case RESPONSE_YIELD:
		response->name = "yield";
		response->unit = "%";
		response->difference_unit = "points";
		if (isnan(response->margin))
			response->margin = YIELD_MARGIN;
		break;
	case RESPONSE_TDS:
		response->name = "TDS";
		response->unit = "%";
		response->difference_unit = "% TDS";
		break;
	case RESPONSE_RETENTION:
		response->name = "retained water";
		response->unit = response->difference_unit = "g/g";
		break;
	case RESPONSE_COLUMN:
		response->name = arena_copy(&analysis->memory, column->name).text;
		response->unit = response->difference_unit = arena_copy(&analysis->memory, column_unit(column)).text;
		break;
	}
}

bool response_from_readings(const struct response *response)
{
	return response->is_yield || strcmp(response->name, "TDS") == 0;
}

enum status response_choose(struct analysis *analysis, struct error *error)
{
	enum response_kind kind = kind_of(analysis->settings->response);
	const struct column *column = NULL;

	if (kind == RESPONSE_COLUMN) {
		column = column_called(analysis->run, analysis->settings->response);
		if (!column || !column->numeric || column->empty)
			return refuse_response(analysis, error);
	}
	describe_response(analysis, kind, column);
	if (!analysis->comparison.response.name || !analysis->comparison.response.unit)
		return error_set(error, STATUS_MEMORY, "no memory for the response's name");
	for (size_t b = 0; b < analysis->run->brew_count; b++) {
		analysis->brews[b].response = response_of(analysis, b, kind, column);
		if (!isfinite(analysis->brews[b].response)) {
			analysis->brews[b].response = NAN;
			analysis->brews[b].why = why_not(analysis, b, kind);
		}
	}
	return STATUS_OK;
}
