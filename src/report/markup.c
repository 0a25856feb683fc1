/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "markup.h"

#include <string.h>
#include <strings.h>

static const char *html_entity(char c)
{
	switch (c) {
	case '&':
		return "&amp;";
	case '<':
		return "&lt;";
	case '>':
		return "&gt;";
	case '"':
		return "&quot;";
	case '\'':
		return "&#39;";
	default:
		return NULL;
	}
}

static void add_html(struct phrase *phrase, struct slice text)
{
	size_t from = 0;

	for (size_t i = 0; i < text.len; i++) {
		const char *entity = html_entity(text.text[i]);

		if (!entity)
			continue;
		phrase_add(phrase, slice_part(text, from, i));
		phrase_words(phrase, entity);
		from = i + 1;
	}
	phrase_add(phrase, slice_part(text, from, text.len));
}

static bool at_line_start(const struct phrase *phrase)
{
	size_t len = phrase->len;

	while (len > 0 && phrase->text[len - 1] == ' ')
		len--;
	return len == 0 || phrase->text[len - 1] == '\n';
}

static bool is_digit(char c)
{
	return c >= '0' && c <= '9';
}

/* "1." and "1)" begin a list where they begin a line: how long the number is, 0 if there is none. */
static size_t list_number(struct slice text)
{
	size_t i = 0;

	while (i < text.len && is_digit(text.text[i]))
		i++;
	return i > 0 && i < text.len && (text.text[i] == '.' || text.text[i] == ')') ? i : 0;
}

/* Is the colon or point at i part of what would become a link? */
static bool part_of_address(struct slice text, size_t i)
{
	if (text.text[i] == ':')
		return i + 1 < text.len && text.text[i + 1] == '/';
	return text.text[i] == '.' && i >= 3 && strncasecmp(text.text + i - 3, "www", 3) == 0;
}

static void add_markdown(struct phrase *phrase, struct slice text)
{
	bool first = at_line_start(phrase);
	size_t number = first ? list_number(text) : 0;

	for (size_t i = 0; i < text.len; i++) {
		char c = text.text[i];

		if (c == '<' || c == '>' || c == '&') {
			phrase_words(phrase, html_entity(c));
			continue;
		}
		if (strchr("\\`*_[]|~#!$@^{}", c) || (first && i == 0 && strchr("+-=:%", c)) ||
		    (number > 0 && i == number) || ((c == ':' || c == '.') && part_of_address(text, i)))
			phrase_words(phrase, "\\");
		phrase_add(phrase, slice_part(text, i, i + 1));
	}
}

void markup_add(struct phrase *phrase, enum markup markup, struct slice text)
{
	switch (markup) {
	case MARKUP_HTML:
		add_html(phrase, text);
		break;
	case MARKUP_MARKDOWN:
		add_markdown(phrase, text);
		break;
	}
}
