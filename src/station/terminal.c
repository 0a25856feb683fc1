/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "terminal.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>
#include <unistr.h>
#include <uniwidth.h>

bool terminal_take(struct terminal *terminal, int key_fd, int size_fd)
{
	struct termios raw;

	*terminal = (struct terminal){ .key_fd = -1, .size_fd = size_fd };
	terminal_measure(terminal);
	if (key_fd < 0 || tcgetattr(key_fd, &terminal->before) != 0)
		return false;
	raw = terminal->before;
	raw.c_lflag &= ~(tcflag_t)(ICANON | ECHO);
	raw.c_cc[VMIN] = 1;
	raw.c_cc[VTIME] = 0;
	raw.c_cc[VSUSP] = _POSIX_VDISABLE; /* a stopped daemon loses readings */
	if (tcsetattr(key_fd, TCSANOW, &raw) != 0)
		return false;
	terminal->key_fd = key_fd;
	terminal->taken = true;
	return true;
}

void terminal_restore(struct terminal *terminal)
{
	if (terminal->taken)
		tcsetattr(terminal->key_fd, TCSANOW, &terminal->before);
	terminal->taken = false;
}

void terminal_measure(struct terminal *terminal)
{
	struct winsize size = { .ws_row = 0 };

	terminal->rows = 24;
	terminal->columns = 80;
	if (terminal->size_fd < 0 || ioctl(terminal->size_fd, TIOCGWINSZ, &size) != 0)
		return;
	if (size.ws_row > 0)
		terminal->rows = size.ws_row;
	if (size.ws_col > 0)
		terminal->columns = size.ws_col;
}

static void put(struct screen *screen, const char *bytes, size_t len)
{
	if (screen->len + len > screen->room) {
		size_t room = 2 * (screen->len + len) + 4096;
		char *more = realloc(screen->bytes, room);

		if (!more) {
			screen->no_memory = true;
			return;
		}
		screen->bytes = more;
		screen->room = room;
	}
	memcpy(screen->bytes + screen->len, bytes, len);
	screen->len += len;
}

static void put_text(struct screen *screen, const char *text)
{
	put(screen, text, strlen(text));
}

void screen_begin(struct screen *screen, size_t rows, size_t columns, bool color)
{
	screen->len = 0;
	screen->row = 0;
	screen->rows = rows;
	screen->columns = columns;
	screen->color = color;
	screen->no_memory = false;
	put_text(screen, "\x1b[H");
}

static const char *style_code(const struct screen *screen, enum screen_style style)
{
	switch (style) {
	case STYLE_PLAIN:
		break;
	case STYLE_STRONG:
		return "\x1b[1m";
	case STYLE_FAINT:
		return screen->color ? "\x1b[2m" : "";
	case STYLE_DOUBT:
		return screen->color ? "\x1b[33m" : "\x1b[1m";
	case STYLE_GOOD:
		return screen->color ? "\x1b[32m" : "";
	}
	return "";
}

/* The character at *at, printable or not, passed over; its columns, negative where it is none to print. */
static int character_pass(const uint8_t **at)
{
	ucs4_t character;
	int len = u8_mbtoucr(&character, *at, u8_strnlen(*at, 4));

	*at += len > 0 ? len : 1;
	return len > 0 ? uc_width(character, "UTF-8") : -1;
}

static bool text_fits(const char *text, size_t columns)
{
	const uint8_t *at = (const uint8_t *)text;
	size_t width = 0;

	while (*at && width <= columns) {
		int one = character_pass(&at);

		width += one > 0 ? (size_t)one : 0;
	}
	return width <= columns;
}

/* The printable characters of text, up to columns of them; the last one says where there is more. */
static void put_clipped(struct screen *screen, const char *text)
{
	const uint8_t *at = (const uint8_t *)text;
	bool fits = text_fits(text, screen->columns);
	size_t left = fits ? screen->columns : screen->columns - 1;

	while (*at) {
		const uint8_t *from = at;
		int width = character_pass(&at);

		if (width < 0)
			continue;
		if ((size_t)width > left)
			break;
		left -= (size_t)width;
		put(screen, (const char *)from, (size_t)(at - from));
	}
	if (!fits)
		put_text(screen, "…");
}

void screen_row(struct screen *screen, enum screen_style style, const char *text)
{
	if (screen->row >= screen->rows)
		return;
	if (screen->row++ > 0)
		put_text(screen, "\r\n");
	/* cleared before it is written: after a full row the cursor stands on its last character */
	put_text(screen, "\x1b[K");
	put_text(screen, style_code(screen, style));
	put_clipped(screen, text);
	put_text(screen, "\x1b[0m");
}

/* Bytes of the beginning of text that fit into columns, up to a blank where there is one. */
static size_t piece_len(const char *text, size_t columns)
{
	size_t width = 0, at = 0, blank = 0;

	while (text[at]) {
		ucs4_t character;
		int len = u8_mbtoucr(&character, (const uint8_t *)text + at, strlen(text + at));
		int one = len > 0 ? uc_width(character, "UTF-8") : 0;

		width += one > 0 ? (size_t)one : 0;
		if (width > columns)
			return blank > 0 ? blank : at > 0 ? at : 1;
		if (text[at] == ' ' && width > columns / 2)
			blank = at;
		at += len > 0 ? (size_t)len : 1;
	}
	return at;
}

void screen_text(struct screen *screen, enum screen_style style, const char *text, size_t indent)
{
	char row[1024];
	size_t before = 0;

	while (*text && screen->row < screen->rows) {
		size_t columns = screen->columns > before + 1 ? screen->columns - before : 1;
		size_t len = piece_len(text, columns);

		snprintf(row, sizeof(row), "%*s%.*s", (int)before, "", (int)(len < 900 ? len : 900), text);
		screen_row(screen, style, row);
		text += len;
		text += strspn(text, " ");
		before = indent;
	}
}

size_t screen_left(const struct screen *screen)
{
	return screen->rows - screen->row;
}

void screen_end(struct screen *screen)
{
	if (screen->row < screen->rows)
		put_text(screen, screen->row > 0 ? "\r\n\x1b[J" : "\x1b[J");
}

void screen_release(struct screen *screen)
{
	free(screen->bytes);
	*screen = (struct screen){ .bytes = NULL };
}
