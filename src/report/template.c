/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "template.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "text.h"

enum { DEPTH_MOST = 8, NAME_SHOWN = 60, NAMES_SHOWN = 400 };

#define OPENS      "{{"
#define CLOSES     "}}"
#define MARKUP_KEY "\x01markup" /* no name of a fact has such a character */

enum word { WORD_NAME, WORD_IF, WORD_ELSE, WORD_EACH, WORD_END, WORD_REMARK, WORD_TEXT_END, WORD_FAULT };

struct tag {
	enum word word;
	struct slice name;
	size_t at, end; /* in the template */
};

struct filling {
	const struct template_text *from;
	struct phrase *out;
	struct error *error;
	enum status status;
	size_t at;
	const json_t *scopes[DEPTH_MOST];
	size_t depth;
	size_t nesting;
};

json_t *template_markup(struct slice text)
{
	json_t *object = json_object();

	json_object_set_new(object, MARKUP_KEY, json_stringn_nocheck(text.text ? text.text : "", text.len));
	if (json_object_size(object) == 1)
		return object;
	json_decref(object);
	return NULL;
}

/* -- faults ---------------------------------------------------------------------------- */

static enum word fault(struct filling *filling, size_t at, const char *what, struct slice name)
{
	struct slice before = slice_part(filling->from->text, 0, at);
	size_t line = 1, begin = 0;

	for (size_t i = 0; i < before.len; i++)
		if (before.text[i] == '\n') {
			line++;
			begin = i + 1;
		}
	if (filling->status == STATUS_OK)
		filling->status = error_set(filling->error, STATUS_INVALID, "%s:%zu:%zu: %.*s%s", filling->from->name,
		                            line, utf8_count(slice_part(before, begin, before.len)) + 1,
		                            (int)(name.len < NAME_SHOWN ? name.len : NAME_SHOWN),
		                            name.text ? name.text : "", what);
	return WORD_FAULT;
}

/* The names that are known at this place, as far as there is room. */
static void say_names(const struct filling *filling, char *room, size_t size)
{
	const char *name;
	json_t *value;
	size_t used = 0;

	room[0] = '\0';
	for (size_t i = filling->depth; i-- > 0;)
		json_object_foreach((json_t *)(uintptr_t)filling->scopes[i], name, value)
		{
			size_t len = strlen(name);

			if (used + len + 3 > size)
				return;
			memcpy(room + used, ", ", used > 0 ? 2 : 0);
			used += used > 0 ? 2 : 0;
			memcpy(room + used, name, len + 1);
			used += len;
		}
}

static enum word unknown(struct filling *filling, const struct tag *tag)
{
	char names[NAMES_SHOWN], what[NAMES_SHOWN + 80];

	say_names(filling, names, sizeof(names));
	snprintf(what, sizeof(what), " is no placeholder; expected one of %s", names);
	return fault(filling, tag->at, what, tag->name);
}

/* -- reading tags ---------------------------------------------------------------------- */

static enum word word_of(struct slice *inner)
{
	static const struct {
		const char *word;
		enum word is;
		bool named;
	} words[] = {
		{ "if", WORD_IF, true },    { "each", WORD_EACH, true },      { "else", WORD_ELSE, false },
		{ "end", WORD_END, false }, { "remark", WORD_REMARK, false },
	};
	size_t len = 0;

	while (len < inner->len && inner->text[len] != ' ' && inner->text[len] != '\n' && inner->text[len] != '\t')
		len++;
	for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++)
		if (slice_equal(slice_part(*inner, 0, len), slice_from(words[i].word))) {
			*inner = words[i].named ? slice_trim(slice_part(*inner, len, inner->len)) : *inner;
			return words[i].is;
		}
	return WORD_NAME;
}

/* The next tag at or behind filling->at; its word is WORD_TEXT_END where there is none. */
static struct tag next_tag(struct filling *filling)
{
	struct slice text = filling->from->text;
	const char *open = memmem(text.text + filling->at, text.len - filling->at, OPENS, strlen(OPENS));
	struct tag tag = { .word = WORD_TEXT_END, .at = text.len, .end = text.len };
	const char *close;

	if (!open)
		return tag;
	tag.at = (size_t)(open - text.text);
	close = memmem(open, text.len - tag.at, CLOSES, strlen(CLOSES));
	if (!close) {
		tag.word = fault(filling, tag.at, OPENS " has no " CLOSES " behind it", (struct slice){ NULL, 0 });
		return tag;
	}
	tag.end = (size_t)(close - text.text) + strlen(CLOSES);
	tag.name = slice_trim(slice_part(text, tag.at + strlen(OPENS), tag.end - strlen(CLOSES)));
	tag.word = word_of(&tag.name);
	return tag;
}

/* Does it stand alone on its line? Then *from and *to are the whole of that line. */
static bool alone(const struct filling *filling, const struct tag *tag, size_t *from, size_t *to)
{
	struct slice text = filling->from->text;

	*from = tag->at;
	*to = tag->end;
	if (tag->word == WORD_NAME || tag->word == WORD_TEXT_END)
		return false;
	while (*from > 0 && (text.text[*from - 1] == ' ' || text.text[*from - 1] == '\t'))
		(*from)--;
	while (*to < text.len && (text.text[*to] == ' ' || text.text[*to] == '\t' || text.text[*to] == '\r'))
		(*to)++;
	if ((*from > 0 && text.text[*from - 1] != '\n') || (*to < text.len && text.text[*to] != '\n'))
		return false;
	*to += *to < text.len;
	return true;
}

/* -- filling in --------------------------------------------------------------------------- */

static const json_t *fact(const struct filling *filling, struct slice name)
{
	char key[NAME_SHOWN + 1];

	if (name.len == 0 || name.len > NAME_SHOWN)
		return NULL;
	memcpy(key, name.text, name.len);
	key[name.len] = '\0';
	for (size_t i = filling->depth; i-- > 0;) {
		const json_t *value = json_object_get(filling->scopes[i], key);

		if (value)
			return value;
	}
	return NULL;
}

static bool is_there(const json_t *value)
{
	if (json_is_string(value))
		return json_string_length(value) > 0;
	if (json_is_array(value))
		return json_array_size(value) > 0;
	return json_is_true(value) || json_is_object(value);
}

static void put_fact(struct filling *filling, const struct tag *tag)
{
	const json_t *value = fact(filling, tag->name);
	const json_t *markup = json_is_object(value) ? json_object_get(value, MARKUP_KEY) : NULL;

	if (json_is_string(value))
		markup_add(filling->out, filling->from->markup,
		           (struct slice){ json_string_value(value), json_string_length(value) });
	else if (json_is_string(markup))
		phrase_add(filling->out, (struct slice){ json_string_value(markup), json_string_length(markup) });
	else if (!value)
		unknown(filling, tag);
	else
		fault(filling, tag->at, " is no text; it goes with if or each", tag->name);
}

static struct tag fill_part(struct filling *filling, bool active);

static enum word skip_to_end(struct filling *filling, const struct tag *from, const struct tag *end)
{
	if (end->word == WORD_END || end->word == WORD_FAULT)
		return end->word;
	return fault(filling, from->at, " has no " OPENS "end" CLOSES, from->name);
}

static enum word fill_if(struct filling *filling, const struct tag *tag, bool active)
{
	const json_t *value = active ? fact(filling, tag->name) : NULL;
	struct tag end;

	if (active && !value)
		return unknown(filling, tag);
	end = fill_part(filling, active && is_there(value));
	if (end.word == WORD_ELSE)
		end = fill_part(filling, active && !is_there(value));
	return skip_to_end(filling, tag, &end);
}

static enum word fill_each(struct filling *filling, const struct tag *tag, bool active)
{
	const json_t *list = active ? fact(filling, tag->name) : NULL;
	size_t body = filling->at, count = json_array_size(list);
	struct tag end = { .word = WORD_END };

	if (active && !list)
		return unknown(filling, tag);
	if (active && !json_is_array(list))
		return fault(filling, tag->at, " is no list", tag->name);
	if (count == 0)
		end = fill_part(filling, false);
	for (size_t i = 0; i < count && end.word == WORD_END; i++) {
		filling->at = body;
		filling->scopes[filling->depth++] = json_array_get(list, i);
		end = fill_part(filling, true);
		filling->depth--;
	}
	return skip_to_end(filling, tag, &end);
}

/* One tag inside a part; false where it ends the part. */
static bool fill_tag(struct filling *filling, struct tag *tag, bool active)
{
	switch (tag->word) {
	case WORD_NAME:
		if (active)
			put_fact(filling, tag);
		return true;
	case WORD_IF:
		tag->word = fill_if(filling, tag, active);
		return tag->word != WORD_FAULT;
	case WORD_EACH:
		tag->word = fill_each(filling, tag, active);
		return tag->word != WORD_FAULT;
	case WORD_REMARK:
		return true;
	case WORD_ELSE:
	case WORD_END:
	case WORD_TEXT_END:
	case WORD_FAULT:
		break;
	}
	return false;
}

/* Goes on to the tag that ends this part, and returns it; puts out what is on the way if active. */
static struct tag fill_part(struct filling *filling, bool active)
{
	struct tag tag = { .word = WORD_FAULT, .at = filling->at };
	bool more = ++filling->nesting < DEPTH_MOST;

	if (!more)
		fault(filling, filling->at, "too many parts within parts", (struct slice){ NULL, 0 });
	while (more) {
		size_t from, to;

		tag = next_tag(filling);
		if (!alone(filling, &tag, &from, &to)) {
			from = tag.at;
			to = tag.end;
		}
		if (active && from > filling->at)
			phrase_add(filling->out, slice_part(filling->from->text, filling->at, from));
		filling->at = to;
		more = fill_tag(filling, &tag, active) && filling->status == STATUS_OK;
	}
	filling->nesting--;
	if (filling->status != STATUS_OK)
		tag.word = WORD_FAULT;
	return tag;
}

enum status template_fill(struct phrase *out, const struct template_text *from, const json_t *facts,
                          struct error *error)
{
	struct filling filling = { .from = from, .out = out, .error = error, .scopes = { facts }, .depth = 1 };
	struct tag end = fill_part(&filling, true);

	if (filling.status == STATUS_OK && end.word != WORD_TEXT_END)
		fault(&filling, end.at, " ends or divides nothing", end.name);
	if (filling.status == STATUS_OK && out->failed)
		return error_set(error, STATUS_MEMORY, "no memory for the write-up");
	return filling.status;
}
