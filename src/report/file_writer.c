/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "file_writer.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "part_file.h"

/* So many files wait at most: pictures are large. */
enum { WAITING_MOST = 4 };

struct file {
	char *path;
	struct phrase text;
	struct png_image *image; /* NULL: text is the file */
};

struct file_writer {
	bool aside;
	pthread_t thread;
	pthread_mutex_t lock;
	pthread_cond_t changed;
	char *folder; /* of the last file, not synced yet; whoever writes has it */
	/* below lock */
	struct file waiting[WAITING_MOST]; /* a ring */
	size_t first, count;
	bool ended;         /* there will be no more */
	enum status status; /* of the first file that failed */
	struct error error;
};

static void file_release(struct file *file)
{
	free(file->path);
	phrase_release(&file->text);
	png_image_free(file->image);
}

static void folder_sync(struct file_writer *writer)
{
	if (writer->folder)
		part_file_folder_sync(writer->folder);
	free(writer->folder);
	writer->folder = NULL;
}

static enum status file_write(struct file_writer *writer, struct file *file, struct error *error)
{
	char *folder;
	enum status status;
	bool good = file->path && (!file->image || png_image_file(file->image, &file->text)) && !file->text.failed;

	if (!good)
		return error_set(error, STATUS_MEMORY, "no memory for the report");
	status = part_file_place(file->path, phrase_slice(&file->text), &folder, error);
	if (!folder)
		return status;
	if (writer->folder && strcmp(writer->folder, folder) != 0)
		folder_sync(writer);
	free(writer->folder);
	writer->folder = folder;
	return status;
}

/* The next file, once there is one. False: there is none any more. */
static bool file_take(struct file_writer *writer, struct file *file, bool *wanted)
{
	bool some;

	pthread_mutex_lock(&writer->lock);
	while (writer->count == 0 && !writer->ended)
		pthread_cond_wait(&writer->changed, &writer->lock);
	some = writer->count > 0;
	if (some) {
		*file = writer->waiting[writer->first];
		writer->first = (writer->first + 1) % WAITING_MOST;
		writer->count--;
		*wanted = writer->status == STATUS_OK;
		pthread_cond_signal(&writer->changed);
	}
	pthread_mutex_unlock(&writer->lock);
	return some;
}

static void failure_keep(struct file_writer *writer, enum status status, const struct error *error)
{
	pthread_mutex_lock(&writer->lock);
	writer->status = status;
	writer->error = *error;
	pthread_mutex_unlock(&writer->lock);
}

static void *write_aside(void *context)
{
	struct file_writer *writer = context;
	struct file file;
	bool wanted;

	while (file_take(writer, &file, &wanted)) {
		struct error error = ERROR_INIT;
		enum status status = wanted ? file_write(writer, &file, &error) : STATUS_OK;

		if (status != STATUS_OK)
			failure_keep(writer, status, &error);
		file_release(&file);
	}
	return NULL;
}

struct file_writer *file_writer_new(bool aside)
{
	struct file_writer *writer = calloc(1, sizeof(*writer));

	if (!writer)
		return NULL;
	pthread_mutex_init(&writer->lock, NULL);
	pthread_cond_init(&writer->changed, NULL);
	writer->aside = aside && pthread_create(&writer->thread, NULL, write_aside, writer) == 0;
	return writer;
}

/* What is known of the files so far; locked. */
static enum status status_so_far(const struct file_writer *writer, struct error *error)
{
	if (writer->status != STATUS_OK && error)
		*error = writer->error;
	return writer->status;
}

static enum status hand_aside(struct file_writer *writer, struct file *file, struct error *error)
{
	enum status status;

	pthread_mutex_lock(&writer->lock);
	while (writer->count == WAITING_MOST)
		pthread_cond_wait(&writer->changed, &writer->lock);
	status = status_so_far(writer, error);
	if (status == STATUS_OK) {
		writer->waiting[(writer->first + writer->count++) % WAITING_MOST] = *file;
		pthread_cond_signal(&writer->changed);
	}
	pthread_mutex_unlock(&writer->lock);
	if (status != STATUS_OK)
		file_release(file);
	return status;
}

static enum status hand_over(struct file_writer *writer, struct file *file, struct error *error)
{
	if (writer->aside)
		return hand_aside(writer, file, error);
	if (writer->status == STATUS_OK)
		writer->status = file_write(writer, file, &writer->error);
	file_release(file);
	return status_so_far(writer, error);
}

enum status file_writer_text(struct file_writer *writer, const char *path, struct phrase *text, struct error *error)
{
	struct file file = { .path = strdup(path), .text = *text };

	*text = (struct phrase)PHRASE_INIT;
	return hand_over(writer, &file, error);
}

enum status file_writer_image(struct file_writer *writer, const char *path, struct png_image *image,
                              struct error *error)
{
	struct file file = { .path = strdup(path), .text = PHRASE_INIT, .image = image };

	return hand_over(writer, &file, error);
}

enum status file_writer_finish(struct file_writer *writer, struct error *error)
{
	enum status status;

	if (writer->aside) {
		pthread_mutex_lock(&writer->lock);
		writer->ended = true;
		pthread_cond_signal(&writer->changed);
		pthread_mutex_unlock(&writer->lock);
		pthread_join(writer->thread, NULL);
	}
	folder_sync(writer);
	status = status_so_far(writer, error);
	pthread_cond_destroy(&writer->changed);
	pthread_mutex_destroy(&writer->lock);
	free(writer);
	return status;
}
