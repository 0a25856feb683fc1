/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "workbook_text.h"

#include <dirent.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

static char *read_stream(FILE *stream, size_t *len)
{
	size_t room = 1 << 16, used = 0, got;
	char *text = malloc(room);

	while (text && (got = fread(text + used, 1, room - used - 1, stream)) > 0) {
		used += got;
		if (room - used < 2) {
			room *= 2;
			text = realloc(text, room);
		}
	}
	if (!text)
		abort();
	text[used] = '\0';
	if (len)
		*len = used;
	return text;
}

char *workbook_part(const char *path, const char *part)
{
	char command[512];
	FILE *stream;
	char *text;

	snprintf(command, sizeof(command), "unzip -p '%s' '%s'", path, part);
	stream = popen(command, "r");
	if (!stream)
		abort();
	text = read_stream(stream, NULL);
	pclose(stream);
	return text;
}

char *file_bytes(const char *path, size_t *len)
{
	FILE *stream = fopen(path, "rb");
	char *bytes;

	if (!stream)
		return NULL;
	bytes = read_stream(stream, len);
	fclose(stream);
	return bytes;
}

size_t count_text(const char *text, const char *word)
{
	const char *end = text + strlen(text);
	size_t len = strlen(word), count = 0;

	/* not strstr(): under the address sanitizer each of its calls looks at the whole of the text */
	for (const char *at = text; (at = memmem(at, (size_t)(end - at), word, len)); at += len)
		count++;
	return count;
}

size_t count_files(void)
{
	DIR *dir = opendir(".");
	size_t count = 0;

	if (!dir)
		abort();
	while (readdir(dir))
		count++;
	closedir(dir);
	return count - 2;
}

static char folder[4096];

int workbook_folder_make(void **state)
{
	const char *temporary = getenv("TMPDIR");

	(void)state;
	snprintf(folder, sizeof(folder), "%s/workbook-XXXXXX", temporary ? temporary : "/tmp");
	return mkdtemp(folder) && chdir(folder) == 0 ? 0 : -1;
}

int workbook_folder_remove(void **state)
{
	DIR *dir = opendir(".");
	const struct dirent *entry;

	(void)state;
	while (dir && (entry = readdir(dir)))
		if (strcmp(entry->d_name, ".") != 0 && strcmp(entry->d_name, "..") != 0)
			remove(entry->d_name);
	if (dir)
		closedir(dir);
	return chdir("/") == 0 && rmdir(folder) == 0 ? 0 : -1;
}
