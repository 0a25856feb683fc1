/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static struct text text_from(const char *bytes, size_t len)
{
	struct text text = { .bytes = malloc(len + 1), .len = len };

	assert_non_null(text.bytes);
	memcpy(text.bytes, bytes, len);
	text.bytes[len] = '\0';
	return text;
}

struct decode_case {
	const char *name;
	struct slice bytes;
	const char *utf8;
	enum encoding encoding;
	bool mark;
	size_t first_bad;
};

#define B(literal)                             \
	{                                      \
		(literal), sizeof(literal) - 1 \
	}

/* Code points and their encodings are Unicode's; Windows-1252 as the registry of IANA has it. */
static const struct decode_case decode_cases[] = {
	{ "nothing", B(""), "", ENCODING_UTF8, false, 0 },
	{ "ASCII", B("brew,dose\n"), "brew,dose\n", ENCODING_UTF8, false, 0 },
	{ "UTF-8 with a mark",
	  B("\xef\xbb\xbf"
	    "a\xc2\xb0"),
	  "a\xc2\xb0", ENCODING_UTF8, true, 0 },
	{ "a mark in the middle stays",
	  B("a\xef\xbb\xbf"
	    "b"),
	  "a\xef\xbb\xbf"
	  "b",
	  ENCODING_UTF8, false, 0 },
	{ "UTF-16LE with a mark",
	  B("\xff\xfe"
	    "2\0\xb0\0"
	    "C\0"),
	  "2\xc2\xb0"
	  "C",
	  ENCODING_UTF16LE, true, 0 },
	{ "UTF-16BE with a mark",
	  B("\xfe\xff\0"
	    "2\0\xb0\0"
	    "C"),
	  "2\xc2\xb0"
	  "C",
	  ENCODING_UTF16BE, true, 0 },
	{ "UTF-16LE without", B("b\0r\0e\0w\0"), "brew", ENCODING_UTF16LE, false, 0 },
	{ "UTF-16BE without", B("\0b\0r\0e\0w"), "brew", ENCODING_UTF16BE, false, 0 },
	{ "two units are enough", B("a\0b\0"), "ab", ENCODING_UTF16LE, false, 0 },
	{ "beyond 16 bits", B("\xff\xfe\x3d\xd8\x00\xde"), "\xf0\x9f\x98\x80", ENCODING_UTF16LE, true, 0 },
	{ "half of a pair",
	  B("\xff\xfe\x3d\xd8"
	    "a\0"),
	  "\xef\xbf\xbd"
	  "a",
	  ENCODING_UTF16LE, true, 0 },
	{ "half of a unit",
	  B("\xff\xfe"
	    "a\0b"),
	  "a\xef\xbf\xbd", ENCODING_UTF16LE, true, 0 },
	{ "Windows-1252",
	  B("22 \xb0"
	    "C \x96 5 \xb5m"),
	  "22 \xc2\xb0"
	  "C \xe2\x80\x93 5 \xc2\xb5m",
	  ENCODING_WINDOWS_1252, false, 3 },
	{ "a byte that it has not", B("a\x81z"), "a\xef\xbf\xbdz", ENCODING_WINDOWS_1252, false, 1 },
	{ "first byte", B("\xe9t\xe9"), "\xc3\xa9t\xc3\xa9", ENCODING_WINDOWS_1252, false, 0 },
	{ "behind a mark",
	  B("\xef\xbb\xbf"
	    "ab\xb0"),
	  "ab\xc2\xb0", ENCODING_WINDOWS_1252, true, 5 },
	{ "cut short", B("12345678\xc2"), "12345678\xc3\x82", ENCODING_WINDOWS_1252, false, 8 },
};

static void decodes_as_told(void **state)
{
	const struct decode_case *c = *state;
	struct text text = text_from(c->bytes.text, c->bytes.len);
	struct error error = ERROR_INIT;

	assert_int_equal(text_decode(&text, &error), STATUS_OK);
	assert_int_equal(text.len, strlen(c->utf8));
	assert_memory_equal(text.bytes, c->utf8, text.len + 1);
	assert_int_equal(text.encoding, c->encoding);
	assert_int_equal(text.mark, c->mark);
	assert_int_equal(text.first_bad, c->first_bad);
	text_release(&text);
	assert_null(text.bytes);
}

static void nul_stays(void **state)
{
	struct text text = text_from("a\0b,c", 5);
	struct error error = ERROR_INIT;

	(void)state;
	assert_int_equal(text_decode(&text, &error), STATUS_OK);
	assert_int_equal(text.len, 5);
	assert_memory_equal(text.bytes, "a\0b,c", 6);
	text_release(&text);
}

/* Text that is valid is not even copied. */
static void valid_text_is_left_where_it_is(void **state)
{
	struct text text = text_from("plain", 5);
	const char *before = text.bytes;
	struct error error = ERROR_INIT;

	(void)state;
	assert_int_equal(text_decode(&text, &error), STATUS_OK);
	assert_ptr_equal(text.bytes, before);
	text_release(&text);
}

struct valid_case {
	const char *name;
	struct slice text;
	size_t valid;
	size_t count;
};

/* RFC 3629, sections 3 and 4. */
static const struct valid_case valid_cases[] = {
	{ "empty", B(""), 0, 0 },
	{ "ASCII", B("abcdefghijklmnopq"), 17, 17 },
	{ "two, three and four bytes", B("\xc2\xb0\xe2\x82\xac\xf0\x9f\x98\x80"), 9, 3 },
	{ "overlong", B("abc\xc0\xaf"), 3, 3 },
	{ "surrogate", B("\xed\xa0\x80"), 0, 0 },
	{ "beyond Unicode", B("12345678\xf4\x90\x80\x80"), 8, 8 },
	{ "lone continuation", B("\x80"), 0, 0 },
	{ "cut short", B("\xc2\xb0\xe2\x82"), 2, 1 },
};

static void valid_part_is_found(void **state)
{
	const struct valid_case *c = *state;

	assert_int_equal(utf8_valid_part(c->text), c->valid);
	assert_int_equal(utf8_count(slice_part(c->text, 0, c->valid)), c->count);
}

static void encodings_have_names(void **state)
{
	(void)state;
	assert_string_equal(encoding_name(ENCODING_UTF8), "UTF-8");
	assert_string_equal(encoding_name(ENCODING_UTF16LE), "UTF-16LE");
	assert_string_equal(encoding_name(ENCODING_UTF16BE), "UTF-16BE");
	assert_string_equal(encoding_name(ENCODING_WINDOWS_1252), "Windows-1252");
}

/* -- loading -------------------------------------------------------------------------- */

static char folder[64];

static int folder_make(void **state)
{
	(void)state;
	snprintf(folder, sizeof(folder), "%s/text-XXXXXX", getenv("TMPDIR") ? getenv("TMPDIR") : "/tmp");
	return mkdtemp(folder) ? 0 : -1;
}

static int folder_drop(void **state)
{
	(void)state;
	return rmdir(folder);
}

static const char *path_in(char out[128], const char *name)
{
	snprintf(out, 128, "%s/%s", folder, name);
	return out;
}

static void file_is_loaded_whole(void **state)
{
	enum { LEN = 300000 };
	char *bytes = calloc(1, LEN);
	struct error error = ERROR_INIT;
	struct text text;
	char path[128];
	FILE *file = fopen(path_in(path, "long"), "wb");

	(void)state;
	assert_non_null(file);
	assert_non_null(bytes);
	memset(bytes, 'x', LEN / 2);
	assert_int_equal(fwrite(bytes, 1, LEN, file), LEN);
	fclose(file);
	assert_int_equal(text_load(&text, path, &error), STATUS_OK);
	assert_int_equal(text.len, LEN);
	assert_memory_equal(text.bytes, bytes, LEN);
	assert_int_equal(text.bytes[LEN], '\0');
	text_release(&text);
	unlink(path);
	free(bytes);
}

static void empty_file_is_an_empty_text(void **state)
{
	struct error error = ERROR_INIT;
	struct text text;
	char path[128];

	(void)state;
	close(open(path_in(path, "empty"), O_CREAT | O_WRONLY | O_CLOEXEC, 0600));
	assert_int_equal(text_load(&text, path, &error), STATUS_OK);
	assert_int_equal(text.len, 0);
	assert_string_equal(text.bytes, "");
	text_release(&text);
	unlink(path);
}

/* A file of the kernel's says 0 bytes and has more; a pipe has no size at all. */
static void size_need_not_be_known(void **state)
{
	struct error error = ERROR_INIT;
	struct text text;

	(void)state;
	assert_int_equal(text_load(&text, "/proc/self/status", &error), STATUS_OK);
	assert_true(text.len > 0);
	assert_int_equal(strlen(text.bytes), text.len);
	text_release(&text);
}

static void standard_input_is_read(void **state)
{
	enum { LEN = 200000 };
	static char bytes[1000];
	struct error error = ERROR_INIT;
	int kept = dup(STDIN_FILENO);
	struct text text;
	int ends[2];

	(void)state;
	memset(bytes, 'y', sizeof(bytes));
	assert_int_equal(pipe(ends), 0);
	if (fork() == 0) {
		for (size_t i = 0; i < LEN / sizeof(bytes); i++)
			if (write(ends[1], bytes, sizeof(bytes)) < 0)
				_exit(1);
		_exit(0);
	}
	close(ends[1]);
	dup2(ends[0], STDIN_FILENO);
	close(ends[0]);
	assert_int_equal(text_load(&text, "-", &error), STATUS_OK);
	dup2(kept, STDIN_FILENO);
	close(kept);
	assert_int_equal(text.len, LEN);
	assert_int_equal(text.bytes[LEN - 1], 'y');
	text_release(&text);
}

static void what_cannot_be_read_is_told(void **state)
{
	struct error error = ERROR_INIT;
	struct text text;
	char path[128], expected[256];

	(void)state;
	assert_int_equal(text_load(&text, path_in(path, "none"), &error), STATUS_IO);
	snprintf(expected, sizeof(expected), "%s: No such file or directory", path);
	assert_string_equal(error.text, expected);
	assert_null(text.bytes);
	assert_int_equal(text_load(&text, folder, &error), STATUS_IO);
	snprintf(expected, sizeof(expected), "%s: Is a directory", folder);
	assert_string_equal(error.text, expected);
	assert_null(text.bytes);
	assert_int_equal(text_load(&text, folder, NULL), STATUS_IO);
}

int main(void)
{
	static const struct CMUnitTest others[] = {
		cmocka_unit_test(nul_stays),
		cmocka_unit_test(valid_text_is_left_where_it_is),
		cmocka_unit_test(encodings_have_names),
		cmocka_unit_test(file_is_loaded_whole),
		cmocka_unit_test(empty_file_is_an_empty_text),
		cmocka_unit_test(size_need_not_be_known),
		cmocka_unit_test(standard_input_is_read),
		cmocka_unit_test(what_cannot_be_read_is_told),
	};
	struct CMUnitTest tests[COUNT(decode_cases) + COUNT(valid_cases) + COUNT(others)];
	size_t count = 0;

	for (size_t i = 0; i < COUNT(decode_cases); i++)
		tests[count++] = (struct CMUnitTest){ .name = decode_cases[i].name,
			                              .test_func = decodes_as_told,
			                              .initial_state = (void *)(uintptr_t)&decode_cases[i] };
	for (size_t i = 0; i < COUNT(valid_cases); i++)
		tests[count++] = (struct CMUnitTest){ .name = valid_cases[i].name,
			                              .test_func = valid_part_is_found,
			                              .initial_state = (void *)(uintptr_t)&valid_cases[i] };
	memcpy(&tests[count], others, sizeof(others));
	return cmocka_run_group_tests(tests, folder_make, folder_drop);
}
