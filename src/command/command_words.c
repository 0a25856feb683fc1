/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "command_words.h"

#include <limits.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "text.h"

/* A treatment may be called "half/half", which is no path: no folder is called half. */
static bool is_path(const char *word)
{
	const char *slash = strrchr(word, '/');
	char folder[PATH_MAX];

	if (!slash)
		return false;
	if (word[0] == '/' || word[0] == '~')
		return true;
	if ((size_t)(slash - word) >= sizeof(folder))
		return true;
	snprintf(folder, sizeof(folder), "%.*s", (int)(slash - word), word);
	return access(folder, F_OK) == 0;
}

/* Where the value of an option stands in its word; 0: it is no option, or its value is another word. */
static size_t value_at(const char *word)
{
	const char *sign = strchr(word, '=');

	if (word[0] != '-')
		return 0;
	if (word[1] != '-')
		return word[1] != '\0' ? 2 : 0;
	return sign ? (size_t)(sign - word) + 1 : 0;
}

const char *command_words(const struct invocation *invocation, struct arena *memory)
{
	const char *words = "brewspread";

	for (int i = 0; words && i < invocation->argc; i++) {
		const char *word = invocation->argv[i];
		size_t at = value_at(word);

		words = is_path(word + at) ?
		                arena_print(memory, "%s %.*s%s", words, (int)at, word, file_base(word + at)) :
		                arena_print(memory, "%s %s", words, word);
	}
	return words ? words : "";
}
