/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "drawing.h"

#include <dlfcn.h>
#include <stddef.h>
#include <string.h>

/* Needs all the others, which are found through it. */
#define OUTERMOST "libpangocairo-1.0.so.0"

struct drawing drawing;

struct call {
	const char *name;
	size_t at; /* of the pointer, in struct drawing */
};

#define NAMED(name) { #name, offsetof(struct drawing, name) },

static const struct call calls[] = { DRAWING_CALLS(NAMED) };

bool drawing_load(const char **reason)
{
	static bool loaded;
	void *library = loaded ? NULL : dlopen(OUTERMOST, RTLD_NOW);

	for (size_t i = 0; i < sizeof(calls) / sizeof(calls[0]) && library; i++) {
		void *found = dlsym(library, calls[i].name);

		if (!found)
			library = NULL;
		else
			memcpy((char *)&drawing + calls[i].at, &found, sizeof(found));
	}
	loaded = loaded || library;
	if (!loaded && reason)
		*reason = dlerror();
	return loaded;
}
