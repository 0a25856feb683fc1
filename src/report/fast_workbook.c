/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "fast_workbook.h"

#include <dlfcn.h>
#include <malloc.h>
#include <string.h>
#include <zlib.h>

#define FAST_LEVEL 3

static int default_level = Z_DEFAULT_COMPRESSION;

typedef int init_fn(z_streamp, int, int, int, int, int, const char *, int);

/* The dynamic linker finds this before zlib's own, which it calls. */
int deflateInit2_(z_streamp stream, int level, int method, int window_bits, int memory, int strategy,
                  const char *version, int size)
{
	void *found = dlsym(RTLD_NEXT, "deflateInit2_");
	init_fn *init;

	if (!found)
		return Z_VERSION_ERROR;
	memcpy(&init, &found, sizeof(init));
	if (level == Z_DEFAULT_COMPRESSION && window_bits < 0)
		level = default_level;
	return init(stream, level, method, window_bits, memory, strategy, version, size);
}

lxw_workbook *fast_workbook_new(const char *path, lxw_workbook_options *options)
{
	default_level = FAST_LEVEL;
	/* each part takes and gives back some 300 KB: left alone, the heap's end would go up and down with every one */
	mallopt(M_TRIM_THRESHOLD, 64 << 20);
	mallopt(M_MMAP_THRESHOLD, 32 << 20);
	mallopt(M_TOP_PAD, 1 << 20);
	return workbook_new_opt(path, options);
}
