/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * file_writer.h: writes files on a thread of its own, one after the other in the order in which they are handed over, while
 * the caller makes the next: packing pictures and waiting for the disk takes as long as everything else does. Functions of
 * one writer are called by one thread.
 */
#ifndef BREWSPREAD_FILE_WRITER_H
#define BREWSPREAD_FILE_WRITER_H

#include "phrase.h"
#include "png_file.h"
#include "status.h"

struct file_writer;

/*
 * aside: on a thread of its own, if the system has one left; else each file is written before the call that hands it over
 * returns. NULL without memory. The caller's: file_writer_finish().
 */
struct file_writer *file_writer_new(bool aside);

/*
 * Hands over what text says, for the file at path, as part_file_write() writes it over what is there. text is then as
 * PHRASE_INIT, whatever the status; path is copied. Waits while several files are waiting.
 *
 * STATUS_IO: this file, or one handed over before, was not written; error names it and the reason. Those after it are not
 * written either. STATUS_MEMORY.
 */
enum status file_writer_text(struct file_writer *writer, const char *path, struct phrase *text,
                             struct error *error) MUST_USE;

/* The same for a PNG file. image is the writer's from then on, whatever the status. */
enum status file_writer_image(struct file_writer *writer, const char *path, struct png_image *image,
                              struct error *error) MUST_USE;

/* Waits until all is written, and on the disk, and frees the writer. The status of all files, as file_writer_text() has it. */
enum status file_writer_finish(struct file_writer *writer, struct error *error) MUST_USE;

#endif
