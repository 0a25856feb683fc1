/* SPDX-License-Identifier: GPL-3.0-or-later */
/* test_file_writer.c: every file is there and whole, in order, and the first that is not is told; aside or not. */
#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "file_writer.h"

enum { FILES = 25, PATH_ROOM = 96, TEXT_ROOM = 32 };

static char folder[] = "/tmp/file_writer.XXXXXX";
static bool here = false, aside = true;

static const char *path_of(char room[PATH_ROOM], int i)
{
	snprintf(room, PATH_ROOM, "%s/%d", folder, i);
	return room;
}

static enum status hand_over(struct file_writer *writer, const char *path, const char *words, struct error *error)
{
	struct phrase text = PHRASE_INIT;
	enum status status;

	phrase_words(&text, words);
	status = file_writer_text(writer, path, &text, error);
	assert_null(text.text);
	return status;
}

/* What the file says; "" if there is none. */
static void read_back(const char *path, char *room, size_t size)
{
	FILE *file = fopen(path, "r");
	size_t len = file ? fread(room, 1, size - 1, file) : 0;

	room[len] = '\0';
	if (file)
		fclose(file);
}

static void files_are_all_there(void **state)
{
	struct file_writer *writer = file_writer_new(*(bool *)*state);
	struct png_image *image = png_image_new(2, 1, NULL, 0);
	char path[PATH_ROOM], words[TEXT_ROOM], got[TEXT_ROOM];

	assert_non_null(writer);
	for (int i = 0; i < FILES; i++) {
		snprintf(words, sizeof(words), "file %d", i);
		assert_int_equal(hand_over(writer, path_of(path, i), words, NULL), STATUS_OK);
	}
	png_image_add(image, (const uint32_t[]){ 0xFFFFFF, 0 }, 2, 1);
	assert_int_equal(file_writer_image(writer, path_of(path, FILES), image, NULL), STATUS_OK);
	/* the same once more: what comes later stays */
	assert_int_equal(hand_over(writer, path_of(path, 0), "the last", NULL), STATUS_OK);
	assert_int_equal(file_writer_finish(writer, NULL), STATUS_OK);
	for (int i = 0; i < FILES; i++) {
		snprintf(words, sizeof(words), "file %d", i);
		read_back(path_of(path, i), got, sizeof(got));
		assert_string_equal(got, i == 0 ? "the last" : words);
		unlink(path);
	}
	read_back(path_of(path, FILES), got, sizeof(got));
	assert_memory_equal(got, "\x89PNG", 4);
	unlink(path);
}

static void the_first_failure_is_told_and_nothing_written_after_it(void **state)
{
	struct file_writer *writer = file_writer_new(*(bool *)*state);
	struct error error = ERROR_INIT, again = ERROR_INIT;
	char path[PATH_ROOM], got[TEXT_ROOM];
	enum status status;

	assert_non_null(writer);
	assert_int_equal(hand_over(writer, path_of(path, 0), "first", NULL), STATUS_OK);
	status = hand_over(writer, "/nowhere/at/all", "second", &error);
	for (int i = 1; i < FILES; i++)
		status = hand_over(writer, path_of(path, i), "later", &error);
	assert_int_equal(status, STATUS_IO);
	assert_int_equal(file_writer_finish(writer, &again), STATUS_IO);
	assert_string_equal(error.text, "/nowhere/at/all: not written: No such file or directory");
	assert_string_equal(again.text, error.text);
	read_back(path_of(path, 0), got, sizeof(got));
	assert_string_equal(got, "first");
	unlink(path);
	for (int i = 1; i < FILES; i++)
		assert_int_not_equal(access(path_of(path, i), F_OK), 0);
}

static int folder_make(void **state)
{
	(void)state;
	return mkdtemp(folder) ? 0 : -1;
}

/* Fails unless nothing was left in it. */
static int folder_remove(void **state)
{
	(void)state;
	return rmdir(folder);
}

int main(void)
{
	const struct CMUnitTest tests[] = {
		cmocka_unit_test_prestate(files_are_all_there, &here),
		cmocka_unit_test_prestate(files_are_all_there, &aside),
		cmocka_unit_test_prestate(the_first_failure_is_told_and_nothing_written_after_it, &here),
		cmocka_unit_test_prestate(the_first_failure_is_told_and_nothing_written_after_it, &aside),
	};

	return cmocka_run_group_tests_name("file writer", tests, folder_make, folder_remove);
}
