/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "near.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "diagnosis.h"

enum { SENT = 600 };

/* Bits on the wire, one a char, idle at both ends: start bit, data from the lowest bit on, stop bits. */
static size_t wire_send(char *wire, const char *text, int data_bits, enum parity parity, int stop_bits)
{
	size_t at = 0;

	for (int i = 0; i < 20; i++)
		wire[at++] = 1;
	for (; *text; text++) {
		int ones = 0;

		wire[at++] = 0;
		for (int bit = 0; bit < data_bits; bit++) {
			wire[at] = (char)((*text >> bit) & 1);
			ones += wire[at++];
		}
		if (parity == PARITY_EVEN || parity == PARITY_ODD)
			wire[at++] = (char)((ones + (parity == PARITY_ODD)) & 1);
		for (int i = 0; i < stop_bits; i++)
			wire[at++] = 1;
	}
	for (int i = 0; i < 20; i++)
		wire[at++] = 1;
	return at;
}

/*
 * What a receiver at 8N1 and ratio times the speed makes of it, sampling in the middle of its bits. at_once: after a
 * missing stop bit it takes that bit for the next start, as the 16550 does; else it waits for the idle line.
 */
static size_t wire_receive(char *out, const char *wire, size_t bits, double ratio, bool at_once)
{
	double end = (double)bits;
	double step = 1 / ratio;
	double time = 0;
	size_t len = 0;

	while (time + 10 * step < end) {
		int byte = 0;

		if (wire[(size_t)time]) {
			time += step / 16;
			continue;
		}
		for (int bit = 0; bit < 8; bit++)
			byte |= wire[(size_t)(time + (1.5 + bit) * step)] << bit;
		out[len++] = (char)byte;
		if (wire[(size_t)(time + 9.5 * step)]) {
			time += 9.5 * step;
		} else if (at_once) {
			time += 9 * step;
		} else {
			time += 9.5 * step;
			while (time < end && !wire[(size_t)time])
				time += step / 16;
		}
	}
	return len;
}

struct wire_case {
	const char *name;
	int sender, receiver; /* speeds; the receiver is at 8N1 */
	int data_bits;
	enum parity parity;
	int stop_bits;
	bool at_once, damaged;
	enum diagnosis_cause cause;
	int speed;
};

#define LINES                                                                      \
	"R 0001 1.38 % 22.4 C\r\nR 0002 1.41 % 22.5 C\r\nR 0003 1.37 % 22.5 C\r\n" \
	"R 0004 1.39 % 22.6 C\r\nR 0005 1.40 % 22.7 C\r\n"

static const char message[] = LINES LINES LINES LINES;

static void tells_what_the_wire_says(void **state)
{
	static char wire[SENT * 20 * 2];
	static char got[SENT * 200];
	const struct wire_case *c = *state;
	struct diagnosis diagnosis;
	size_t len = wire_send(wire, message, c->data_bits, c->parity, c->stop_bits);

	len = wire_receive(got, wire, len, (double)c->receiver / c->sender, c->at_once);
	diagnosis_init(&diagnosis);
	/* in lines of 20 bytes, wherever the ends would be */
	for (size_t at = 0; at + 20 <= len; at += 20)
		diagnosis_add(&diagnosis, (struct slice){ got + at, 20 }, c->damaged);
	assert_int_equal(diagnosis_cause(&diagnosis, c->receiver), c->cause);
	if (c->speed)
		assert_int_equal(diagnosis_speed(&diagnosis, c->receiver), c->speed);
}

static void text_takes_longer_than_noise(void **state)
{
	struct diagnosis diagnosis;

	(void)state;
	diagnosis_init(&diagnosis);
	for (int i = 0; i < DIAGNOSIS_TEXT_LINES - 1; i++) {
		diagnosis_add(&diagnosis, SLICE_OF("Meter 3000, ready"), false);
		diagnosis_add(&diagnosis, SLICE_OF("  "), false);
		assert_int_equal(diagnosis_cause(&diagnosis, 9600), DIAGNOSIS_NONE);
	}
	diagnosis_add(&diagnosis, SLICE_OF("Meter 3000, ready"), false);
	assert_int_equal(diagnosis_cause(&diagnosis, 9600), DIAGNOSIS_PATTERN);
	diagnosis_clear(&diagnosis);
	assert_int_equal(diagnosis_cause(&diagnosis, 9600), DIAGNOSIS_NONE);
}

static void is_told_once_a_minute(void **state)
{
	struct profile profile = { .port = { .baud = 9600, .data_bits = 8, .stop_bits = 1 } };
	struct slice noise = SLICE_OF("\x91\xe3\x07\xb2\xf8\x1c\x83\x99");
	struct diagnosis diagnosis;
	char text[DIAGNOSIS_TEXT] = "";
	int64_t now = 1000000;

	(void)state;
	diagnosis_init(&diagnosis);
	for (int i = 0; i < 3; i++) {
		diagnosis_add(&diagnosis, noise, false);
		assert_false(diagnosis_tell(&diagnosis, &profile, now, text, sizeof(text)));
	}
	diagnosis_add(&diagnosis, noise, false);
	assert_true(diagnosis_tell(&diagnosis, &profile, now, text, sizeof(text)));
	assert_string_equal(text,
	                    "4 lines in a row not understood at 9600 8N1: the bytes look like noise: the speed or "
	                    "the frame is wrong (baud, data-bits, parity); bytes of the last: "
	                    "91 e3 07 b2 f8 1c 83 99");
	for (int i = 0; i < 100; i++) {
		diagnosis_add(&diagnosis, noise, false);
		now += 590000;
		assert_false(diagnosis_tell(&diagnosis, &profile, now, text, sizeof(text)));
	}
	now += 2000000;
	assert_true(diagnosis_tell(&diagnosis, &profile, now, text, sizeof(text)));
	diagnosis_clear(&diagnosis);
	for (int i = 0; i < 100; i++)
		diagnosis_add(&diagnosis, noise, false);
	assert_false(diagnosis_tell(&diagnosis, &profile, now + 1000000, text, sizeof(text)));
}

static void nothing_but_breaks_has_no_speed(void **state)
{
	struct diagnosis diagnosis;

	(void)state;
	diagnosis_init(&diagnosis);
	for (int i = 0; i < 10; i++)
		diagnosis_add(&diagnosis, SLICE_OF("\0\0\0\0\0\0\0\0"), false);
	assert_int_equal(diagnosis_speed(&diagnosis, 9600), 0);
	assert_int_equal(diagnosis_cause(&diagnosis, 9600), DIAGNOSIS_NOISE);
}

int main(void)
{
	static struct wire_case cases[] = {
		{ "7E1 read as 8N1", 9600, 9600, 7, PARITY_EVEN, 1, false, false, DIAGNOSIS_EVEN_PARITY, 0 },
		{ "7O1 read as 8N1", 9600, 9600, 7, PARITY_ODD, 1, false, false, DIAGNOSIS_ODD_PARITY, 0 },
		{ "7N2 read as 8N1", 9600, 9600, 7, PARITY_NONE, 2, false, false, DIAGNOSIS_TOP_BIT, 0 },
		{ "half the speed", 4800, 9600, 8, PARITY_NONE, 1, false, false, DIAGNOSIS_SLOWER, 4800 },
		{ "half the speed, another chip", 4800, 9600, 8, PARITY_NONE, 1, true, false, DIAGNOSIS_SLOWER, 4800 },
		{ "a third", 38400, 115200, 8, PARITY_NONE, 1, false, false, DIAGNOSIS_SLOWER, 38400 },
		{ "a third, another chip", 38400, 115200, 8, PARITY_NONE, 1, true, false, DIAGNOSIS_SLOWER, 38400 },
		{ "a quarter", 2400, 9600, 8, PARITY_NONE, 1, false, false, DIAGNOSIS_SLOWER, 2400 },
		{ "a quarter, another chip", 2400, 9600, 8, PARITY_NONE, 1, true, false, DIAGNOSIS_SLOWER, 2400 },
		{ "a quarter, 7E1", 2400, 9600, 7, PARITY_EVEN, 1, false, false, DIAGNOSIS_SLOWER, 2400 },
		{ "a sixth", 9600, 57600, 8, PARITY_NONE, 1, false, false, DIAGNOSIS_SLOWER, 9600 },
		{ "an eighth", 1200, 9600, 8, PARITY_NONE, 1, false, false, DIAGNOSIS_SLOWER, 1200 },
		{ "a sixth, another chip", 9600, 57600, 8, PARITY_NONE, 1, true, false, DIAGNOSIS_SLOWER, 9600 },
		{ "an eighth, another chip", 1200, 9600, 8, PARITY_NONE, 1, true, false, DIAGNOSIS_SLOWER, 1200 },
		{ "twice the speed", 19200, 9600, 8, PARITY_NONE, 1, false, false, DIAGNOSIS_NOISE, 0 },
		{ "four times the speed, seen by its framing errors", 38400, 9600, 8, PARITY_NONE, 1, false, true,
		  DIAGNOSIS_NOISE, 0 },
	};
	struct CMUnitTest tests[sizeof(cases) / sizeof(cases[0]) + 3] = {
		cmocka_unit_test(text_takes_longer_than_noise),
		cmocka_unit_test(is_told_once_a_minute),
		cmocka_unit_test(nothing_but_breaks_has_no_speed),
	};

	for (size_t i = 0; i < sizeof(cases) / sizeof(cases[0]); i++)
		tests[i + 3] = (struct CMUnitTest){
			.name = cases[i].name,
			.test_func = tells_what_the_wire_says,
			.initial_state = &cases[i],
		};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
