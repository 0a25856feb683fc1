/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "book_file.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "fast_workbook.h"
#include "xlsx_check.h"

enum status book_file_open(struct book_file *out, const char *path, struct error *error)
{
	const char *temporary = getenv("TMPDIR");
	enum status status;

	*out = (struct book_file){ .part = PART_FILE_INIT, .path = path };
	status = part_file_open(&out->part, path, error);
	if (status != STATUS_OK)
		return status;
	out->scratch = strdup(temporary && temporary[0] ? temporary : out->part.folder);
	if (out->scratch) {
		lxw_workbook_options options = { .constant_memory = LXW_FALSE, .tmpdir = out->scratch };

		out->workbook = fast_workbook_new(out->part.part, &options);
	}
	return out->workbook ? STATUS_OK : error_set(error, STATUS_MEMORY, "no memory for the workbook");
}

const char *book_file_close(lxw_workbook *workbook)
{
	int nowhere = open("/dev/null", O_WRONLY | O_CLOEXEC);
	int kept = nowhere >= 0 ? fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 3) : -1;
	lxw_error result;
	int why;

	if (kept >= 0)
		dup2(nowhere, STDERR_FILENO);
	errno = 0;
	result = workbook_close(workbook);
	why = errno;
	if (kept >= 0) {
		dup2(kept, STDERR_FILENO);
		close(kept);
	}
	if (nowhere >= 0)
		close(nowhere);
	if (result == LXW_NO_ERROR)
		return NULL;
	/* the library's own words for a file that fails are "Zip generic error ZIP_ERRNO" and their like */
	return why != 0 ? strerror(why) : lxw_strerror(result);
}

static enum status check(const struct book_file *file, const struct pen *pens, size_t count, struct error *error)
{
	struct sheet_size *sizes = calloc(count, sizeof(*sizes));
	struct error reason = ERROR_INIT;
	enum status status;

	if (!sizes)
		return error_set(error, STATUS_MEMORY, "no memory to check %zu sheets", count);
	for (size_t i = 0; i < count; i++)
		sizes[i] = (struct sheet_size){ .rows = pens[i].rows, .cells = pens[i].cells };
	status = xlsx_check(file->part.part, sizes, count, &reason);
	free(sizes);
	return status == STATUS_OK ? STATUS_OK :
	                             error_set(error, status, "%s: not written; %s", file->path, reason.text);
}

enum status book_file_finish(struct book_file *file, const struct pen *pens, size_t count, struct error *error)
{
	const char *reason = book_file_close(file->workbook);
	enum status status;

	file->workbook = NULL;
	if (reason)
		return error_set(error, STATUS_IO, "%s: not written; %s", file->path, reason);
	status = check(file, pens, count, error);
	return status == STATUS_OK ? part_file_finish(&file->part, file->path, true, error) : status;
}

void book_file_release(struct book_file *file)
{
	if (file->workbook)
		lxw_workbook_free(file->workbook);
	part_file_release(&file->part);
	free(file->scratch);
	file->scratch = NULL;
	file->workbook = NULL;
}
