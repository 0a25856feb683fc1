/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "report_files.h"

#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "analysis_json.h"
#include "book.h"
#include "figures.h"
#include "file_writer.h"
#include "table_csv.h"
#include "text.h"
#include "write_up.h"

#define FIGURE_FOLDER "figures/"
#define BIT(format)   (1u << (format))

enum { FIGURE_FORMATS = BIT(FORMAT_SVG) | BIT(FORMAT_PNG) | BIT(FORMAT_PDF) };

static const struct {
	const char *name;
	const char *file; /* in a folder; NULL: several */
} formats[REPORT_FORMATS] = {
	[FORMAT_XLSX] = { "xlsx", "comparison.xlsx" },
	[FORMAT_MD] = { "md", "write-up.md" },
	[FORMAT_HTML] = { "html", "write-up.html" },
	[FORMAT_SVG] = { "svg", NULL },
	[FORMAT_PNG] = { "png", NULL },
	[FORMAT_PDF] = { "pdf", NULL },
	[FORMAT_JSON] = { "json", "analysis.json" },
	[FORMAT_CSV] = { "csv", NULL },
};

const char *report_format_name(enum report_format format)
{
	return formats[format].name;
}

static bool take_format(unsigned *mask, struct slice word)
{
	for (unsigned i = 0; i < REPORT_FORMATS; i++)
		if (slice_equal_nocase(word, slice_from(formats[i].name))) {
			*mask |= BIT(i);
			return true;
		}
	return false;
}

enum status report_formats_parse(unsigned *out, struct slice list, struct error *error)
{
	unsigned mask = 0;

	for (size_t at = 0; at <= list.len;) {
		const char *comma = at < list.len ? memchr(list.text + at, ',', list.len - at) : NULL;
		size_t end = comma ? (size_t)(comma - list.text) : list.len;
		struct slice word = slice_trim(slice_part(list, at, end));

		if (!take_format(&mask, word))
			return error_set(error, STATUS_INVALID,
			                 "there is no format \"%.*s\"; expected some of xlsx, md, html, svg, png, pdf, "
			                 "json, csv, with commas between them",
			                 SLICE_ARG(word));
		at = end + 1;
	}
	*out = mask;
	return STATUS_OK;
}

bool report_formats_folder(unsigned mask)
{
	for (unsigned i = 0; i < REPORT_FORMATS; i++)
		if (mask == BIT(i))
			return formats[i].file == NULL;
	return true;
}

/* -- files -------------------------------------------------------------------------------------- */

struct job {
	const struct analysis *analysis;
	const struct faults *faults;
	const struct report_request *request;
	struct error *error;
	struct file_writer *writer;
	struct figures figures;
	struct phrase path;
	struct phrase text;
	bool folder;
};

static bool wanted(const struct job *job, enum report_format format)
{
	return (job->request->formats & BIT(format)) != 0;
}

/* The path of a file of the report, until the next call; NULL without memory. */
static const char *path_of(struct job *job, const char *folder, const char *name, const char *ending)
{
	phrase_clear(&job->path);
	phrase_words(&job->path, job->request->path);
	if (job->folder) {
		phrase_words(&job->path, "/");
		phrase_words(&job->path, folder);
		phrase_words(&job->path, name);
		phrase_words(&job->path, ending);
	}
	phrase_add(&job->path, (struct slice){ "", 1 });
	return job->path.failed ? NULL : job->path.text;
}

static enum status no_memory(struct job *job)
{
	return error_set(job->error, STATUS_MEMORY, "no memory for the report");
}

/* What job->text says, to that path. */
static enum status write_text(struct job *job, const char *path)
{
	return path ? file_writer_text(job->writer, path, &job->text, job->error) : no_memory(job);
}

static enum status make_folder(struct job *job, const char *path)
{
	struct stat is;

	if (!path)
		return no_memory(job);
	if (mkdir(path, 0777) == 0)
		return STATUS_OK;
	if (errno != EEXIST)
		return error_set_errno(job->error, STATUS_IO, "%s: not made", path);
	if (stat(path, &is) == 0 && S_ISDIR(is.st_mode))
		return STATUS_OK;
	return error_set(job->error, STATUS_IO, "%s: not made; a file is in its place", path);
}

static enum status make_folders(struct job *job)
{
	enum status status = make_folder(job, job->request->path);

	if (status == STATUS_OK && (job->request->formats & FIGURE_FORMATS))
		status = make_folder(job, path_of(job, FIGURE_FOLDER, "", ""));
	return status;
}

/* -- formats -------------------------------------------------------------------------------------- */

static enum status write_book(struct job *job)
{
	struct book_request request = {
		.path = path_of(job, "", formats[FORMAT_XLSX].file, ""),
		.version = job->request->version,
		.command = job->request->command,
		.labels = job->request->labels,
	};

	if (!request.path)
		return no_memory(job);
	return book_write(job->analysis, job->faults, &request, job->error);
}

static enum status write_json(struct job *job)
{
	static const struct faults none = FAULTS_INIT;
	char *text = analysis_json(job->analysis, job->faults ? job->faults : &none, job->request->version);

	phrase_clear(&job->text);
	phrase_words(&job->text, text);
	job->text.failed = job->text.failed || !text;
	free(text);
	return write_text(job, path_of(job, "", formats[FORMAT_JSON].file, ""));
}

static enum status write_tables(struct job *job)
{
	static const struct {
		const char *name;
		void (*add)(struct phrase *out, const struct analysis *analysis);
	} tables[] = {
		{ "treatments", table_csv_treatments },
		{ "brews", table_csv_brews },
		{ "readings", table_csv_readings },
		{ "comparisons", table_csv_comparisons },
	};
	enum status status = STATUS_OK;

	for (size_t i = 0; status == STATUS_OK && i < sizeof(tables) / sizeof(tables[0]); i++) {
		phrase_clear(&job->text);
		tables[i].add(&job->text, job->analysis);
		status = write_text(job, path_of(job, "", tables[i].name, ".csv"));
	}
	return status;
}

static bool holds_template(const char *folder, enum report_format format)
{
	char path[PATH_MAX];
	int used = snprintf(path, sizeof(path), "%s/%s", folder, formats[format].file);

	return used > 0 && (size_t)used < sizeof(path) && access(path, F_OK) == 0;
}

enum status report_template_check(const char *path, struct error *error)
{
	const char *ending = strrchr(path, '.');
	struct stat is;

	if (stat(path, &is) != 0)
		return error_set_errno(error, STATUS_INVALID, "%s: no template", path);
	if (S_ISDIR(is.st_mode) ? holds_template(path, FORMAT_MD) || holds_template(path, FORMAT_HTML) :
	                          ending && (strcmp(ending, ".md") == 0 || strcmp(ending, ".html") == 0))
		return STATUS_OK;
	return error_set(error, STATUS_INVALID,
	                 "%s: no template; expected a file that ends in .md or .html, or a folder with write-up.md or "
	                 "write-up.html",
	                 path);
}

/* The user's template for write-ups of that format into *text; *has tells whether there is one. */
static enum status load_template(struct job *job, enum report_format format, struct text *text,
                                 struct template_text *from, bool *has, char **path)
{
	const char *given = job->request->templates;
	const char *ending = given ? strrchr(given, '.') : NULL;
	struct stat is;
	enum status status;

	*has = false;
	if (!given)
		return STATUS_OK;
	if (stat(given, &is) == 0 && S_ISDIR(is.st_mode)) {
		if (asprintf(path, "%s/%s", given, formats[format].file) < 0)
			return error_set(job->error, STATUS_MEMORY, "no memory for the template");
		if (access(*path, F_OK) != 0)
			return STATUS_OK;
	} else if (ending && strcmp(ending + 1, formats[format].name) == 0) {
		*path = strdup(given);
	} else {
		return STATUS_OK;
	}
	status = *path ? text_load(text, *path, job->error) : STATUS_MEMORY;
	if (status == STATUS_OK)
		status = text_decode(text, job->error);
	from->name = *path;
	from->text = (struct slice){ text->bytes, text->len };
	*has = status == STATUS_OK;
	return status;
}

static enum status write_write_up(struct job *job, enum report_format format)
{
	enum markup markup = format == FORMAT_HTML ? MARKUP_HTML : MARKUP_MARKDOWN;
	struct template_text from = write_up_template(markup);
	struct write_up_request request = {
		.version = job->request->version,
		.command = job->request->command,
		.figures = &job->figures,
		.figure_folder = FIGURE_FOLDER,
		.figure_ending = wanted(job, FORMAT_SVG) ? ".svg" :
		                 wanted(job, FORMAT_PNG) ? ".png" :
		                                           NULL,
		.markup = markup,
	};
	struct text text = TEXT_INIT;
	char *path = NULL;
	bool has;
	enum status status = load_template(job, format, &text, &from, &has, &path);

	phrase_clear(&job->text);
	if (status == STATUS_OK)
		status = write_up_make(&job->text, job->analysis, &request, &from, job->error);
	if (status == STATUS_OK)
		status = write_text(job, path_of(job, "", formats[format].file, ""));
	text_release(&text);
	free(path);
	return status;
}

/* -- figures --------------------------------------------------------------------------------------- */

static const struct variant {
	enum report_format format;
	enum scheme scheme;
	const char *ending;
} variants[] = {
	{ FORMAT_SVG, SCHEME_LIGHT, ".svg" }, { FORMAT_SVG, SCHEME_DARK, "-dark.svg" },
	{ FORMAT_PNG, SCHEME_LIGHT, ".png" }, { FORMAT_PNG, SCHEME_DARK, "-dark.png" },
	{ FORMAT_PDF, SCHEME_LIGHT, ".pdf" },
};

enum { VARIANTS = sizeof(variants) / sizeof(variants[0]) };

static enum status write_picture(struct job *job, const struct figure *figure, enum scheme scheme, const char *path)
{
	struct png_image *image;
	enum status status = figure_image(figure, scheme, &image, job->error);

	return status == STATUS_OK ? file_writer_image(job->writer, path, image, job->error) : status;
}

static enum status write_figure(struct job *job, struct figure *figure, const struct variant *variant, const char *path)
{
	enum status status;

	if (variant->format == FORMAT_PNG)
		return write_picture(job, figure, variant->scheme, path);
	phrase_clear(&job->text);
	status = variant->format == FORMAT_SVG ?
	                 figure_svg(figure, variant->scheme, &job->text, job->error) :
	                 figure_pdf(figure, figures_moment(job->analysis), &job->text, job->error);
	return status == STATUS_OK ? write_text(job, path) : status;
}

static struct figure *figure_called(const struct job *job, const char *name)
{
	for (size_t i = 0; i < job->figures.count; i++)
		if (strcmp(figure_name(job->figures.items[i]), name) == 0)
			return job->figures.items[i];
	return NULL;
}

static enum status write_figures(struct job *job)
{
	enum status status = STATUS_OK;
	char room[FIGURE_NAME];

	for (size_t i = 0; status == STATUS_OK && figures_possible_name(i, room); i++) {
		const char *name = figures_possible_name(i, room);
		struct figure *figure = figure_called(job, name);

		for (size_t v = 0; status == STATUS_OK && v < VARIANTS; v++) {
			const char *path;

			if (!wanted(job, variants[v].format))
				continue;
			path = path_of(job, FIGURE_FOLDER, name, variants[v].ending);
			if (!path)
				status = no_memory(job);
			else if (figure)
				status = write_figure(job, figure, &variants[v], path);
			else
				unlink(path); /* of an earlier report */
		}
	}
	return status;
}

static bool needs_figures(unsigned mask)
{
	return (mask & (FIGURE_FORMATS | BIT(FORMAT_HTML))) != 0;
}

/* Figures first: packing their pictures takes longest, and goes on aside. */
static enum status write_formats(struct job *job)
{
	enum status status = STATUS_OK;

	if (job->request->formats & FIGURE_FORMATS)
		status = write_figures(job);
	if (status == STATUS_OK && wanted(job, FORMAT_XLSX))
		status = write_book(job);
	if (status == STATUS_OK && wanted(job, FORMAT_MD))
		status = write_write_up(job, FORMAT_MD);
	if (status == STATUS_OK && wanted(job, FORMAT_HTML))
		status = write_write_up(job, FORMAT_HTML);
	if (status == STATUS_OK && wanted(job, FORMAT_JSON))
		status = write_json(job);
	if (status == STATUS_OK && wanted(job, FORMAT_CSV))
		status = write_tables(job);
	return status;
}

static enum status write_all(struct job *job)
{
	enum status status = STATUS_OK, written;
	struct error first = ERROR_INIT;

	if (needs_figures(job->request->formats))
		status = figures_make(&job->figures, job->analysis, job->error);
	if (status == STATUS_OK && job->folder)
		status = make_folders(job);
	if (status != STATUS_OK)
		return status;
	job->writer = file_writer_new(job->folder);
	if (!job->writer)
		return no_memory(job);
	status = write_formats(job);
	written = file_writer_finish(job->writer, &first);
	if (written == STATUS_OK)
		return status;
	if (job->error)
		*job->error = first;
	return written;
}

enum status report_files_write(const struct analysis *analysis, const struct faults *faults,
                               const struct report_request *request, struct error *error)
{
	struct job job = {
		.analysis = analysis,
		.faults = faults,
		.request = request,
		.error = error,
		.folder = report_formats_folder(request->formats),
	};
	enum status status = write_all(&job);

	figures_release(&job.figures);
	phrase_release(&job.path);
	phrase_release(&job.text);
	return status;
}

const char *report_files_first(const struct report_request *request, char *room, size_t size)
{
	static const enum report_format order[] = { FORMAT_HTML, FORMAT_XLSX, FORMAT_MD, FORMAT_JSON };

	snprintf(room, size, "%s", request->path);
	if (!report_formats_folder(request->formats))
		return room;
	for (size_t i = 0; i < sizeof(order) / sizeof(order[0]); i++)
		if (request->formats & BIT(order[i])) {
			snprintf(room, size, "%s/%s", request->path, formats[order[i]].file);
			break;
		}
	return room;
}
