/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "diagnosis.h"

#include <stdio.h>
#include <string.h>

#include "port.h"

/* Factors by which a sender may be slower, and still be told by its bytes: with more than 8, all of them are NUL. */
static const int ratios[DIAGNOSIS_RATIOS] = { 2, 3, 4, 6, 8 };

static const int usual_speeds[] = { 300, 600, 1200, 2400, 4800, 9600, 19200, 38400, 57600, 115200 };

void diagnosis_init(struct diagnosis *diagnosis)
{
	*diagnosis = (struct diagnosis){ .told_us = 0 };
}

void diagnosis_clear(struct diagnosis *diagnosis)
{
	*diagnosis = (struct diagnosis){ .told_us = diagnosis->told_us };
}

static bool is_text(unsigned char c)
{
	return (c >= ' ' && c < 0x7f) || c == '\t' || c == '\r' || c == '\n';
}

bool diagnosis_is_text(struct slice line)
{
	for (size_t i = 0; i < line.len; i++)
		if (!is_text((unsigned char)line.text[i]))
			return false;
	return true;
}

/* The start bit and the eight that follow it, first in time at bit 0. */
static unsigned frame_of(unsigned char byte)
{
	return (unsigned)byte << 1;
}

/* Length of the run of equal bits that begins at bit at of frame. */
static int run_length(unsigned frame, int at)
{
	int len = 1;

	while (at + len < 9 && ((frame >> (at + len)) & 1) == ((frame >> at) & 1))
		len++;
	return len;
}

/*
 * Can a sender slower by that ratio give rise to byte? Every run of bits is as long as a multiple of ratio, the last
 * one aside, which goes on behind the byte. restarted: nor the first, where the receiver began in the middle of a bit
 * after a framing error.
 */
static bool fits_slower(unsigned char byte, int ratio, bool restarted)
{
	unsigned frame = frame_of(byte);
	int at = 0;

	if (restarted)
		at = run_length(frame, 0);
	while (at < 9) {
		int len = run_length(frame, at);

		if (at + len < 9 && len % ratio != 0)
			return false;
		at += len;
	}
	return true;
}

void diagnosis_add(struct diagnosis *diagnosis, struct slice line, bool damaged)
{
	if (slice_blank(line) && diagnosis_is_text(line))
		return;
	line_doubt_add(&diagnosis->doubt, line);
	diagnosis->damaged += damaged;
	for (size_t i = 0; i < line.len; i++) {
		unsigned char c = (unsigned char)line.text[i];

		diagnosis->top_text += c >= 0x80 && is_text(c & 0x7f);
		diagnosis->not_nul += c != '\0';
		for (int k = 0; k < DIAGNOSIS_RATIOS; k++) {
			diagnosis->strict[k] += fits_slower(c, ratios[k], false);
			diagnosis->loose[k] += fits_slower(c, ratios[k], true);
		}
	}
	diagnosis->sampled = line.len < DIAGNOSIS_SAMPLE ? line.len : DIAGNOSIS_SAMPLE;
	memcpy(diagnosis->sample, line.text, diagnosis->sampled);
}

static bool is_usual(int baud)
{
	for (size_t i = 0; i < sizeof(usual_speeds) / sizeof(usual_speeds[0]); i++)
		if (usual_speeds[i] == baud)
			return true;
	return false;
}

/* A byte of noise passes for ratio 2 in 1 of 16 cases: most have to fit, and nearly all but for restarts. */
static bool is_candidate(const struct diagnosis *diagnosis, int k, int baud)
{
	size_t bytes = diagnosis->doubt.bytes;

	return baud % ratios[k] == 0 && is_usual(baud / ratios[k]) && diagnosis->strict[k] * 10 >= bytes * 6 &&
	       diagnosis->loose[k] * 100 >= bytes * 97;
}

/* The candidate that most bytes fit strictly, of those that are multiples of ratios[from]; -1: none. Last of equals. */
static int candidate_best(const struct diagnosis *diagnosis, int baud, int from)
{
	int best = -1;

	for (int k = from + 1; k < DIAGNOSIS_RATIOS; k++) {
		if (from >= 0 && ratios[k] % ratios[from] != 0)
			continue;
		if (is_candidate(diagnosis, k, baud) && (best < 0 || diagnosis->strict[k] >= diagnosis->strict[best]))
			best = k;
	}
	return best;
}

int diagnosis_speed(const struct diagnosis *diagnosis, int baud)
{
	enum { ENOUGH_BYTES = 20 };
	int best = -1;
	int next;

	if (diagnosis->doubt.bytes < ENOUGH_BYTES || diagnosis->not_nul == 0)
		return 0;
	/* what fits a ratio fits its divisors at least as well: the largest is meant */
	while ((next = candidate_best(diagnosis, baud, best)) >= 0)
		best = next;
	return best >= 0 ? baud / ratios[best] : 0;
}

enum diagnosis_cause diagnosis_cause(const struct diagnosis *diagnosis, int baud)
{
	const struct line_doubt *doubt = &diagnosis->doubt;
	enum doubt_cause cause = line_doubt_cause(doubt);

	if (doubt->lines < DIAGNOSIS_LINES && doubt->bytes < DIAGNOSIS_BYTES)
		return DIAGNOSIS_NONE;
	if (doubt->high > 0 || doubt->control * 4 > doubt->bytes) {
		if (diagnosis_speed(diagnosis, baud) > 0)
			return DIAGNOSIS_SLOWER;
	}
	if (cause == DOUBT_EVEN_PARITY)
		return DIAGNOSIS_EVEN_PARITY;
	if (cause == DOUBT_ODD_PARITY)
		return DIAGNOSIS_ODD_PARITY;
	if (doubt->high > 0 && diagnosis->top_text == doubt->bytes)
		return DIAGNOSIS_TOP_BIT;
	if (cause == DOUBT_SPEED || diagnosis->damaged * 2 > doubt->lines)
		return DIAGNOSIS_NOISE;
	return doubt->lines >= DIAGNOSIS_TEXT_LINES ? DIAGNOSIS_PATTERN : DIAGNOSIS_NONE;
}

static void advice_print(char *out, size_t size, enum diagnosis_cause cause, int speed)
{
	switch (cause) {
	case DIAGNOSIS_NONE:
		snprintf(out, size, "%s", "");
		return;
	case DIAGNOSIS_EVEN_PARITY:
		snprintf(out, size, "%s", doubt_cause_advice(DOUBT_EVEN_PARITY));
		return;
	case DIAGNOSIS_ODD_PARITY:
		snprintf(out, size, "%s", doubt_cause_advice(DOUBT_ODD_PARITY));
		return;
	case DIAGNOSIS_TOP_BIT:
		snprintf(out, size, "%s",
		         "every byte has its top bit set and is text without it: the meter sends 7 data bits "
		         "(data-bits = 7, parity = none or mark)");
		return;
	case DIAGNOSIS_SLOWER:
		snprintf(out, size, "each bit is there several times: the meter seems to send at %d (baud = %d)", speed,
		         speed);
		return;
	case DIAGNOSIS_NOISE:
		snprintf(out, size, "%s", doubt_cause_advice(DOUBT_SPEED));
		return;
	case DIAGNOSIS_PATTERN:
		snprintf(out, size, "%s",
		         "they are text, but not in the form of this profile: is it the right one for the meter?");
		return;
	}
}

static void sample_print(char *out, size_t size, const struct diagnosis *diagnosis)
{
	size_t used = 0;

	out[0] = '\0';
	for (size_t i = 0; i < diagnosis->sampled && used + 4 <= size; i++)
		used += (size_t)snprintf(out + used, size - used, "%s%02x", i ? " " : "", diagnosis->sample[i]);
}

bool diagnosis_tell(struct diagnosis *diagnosis, const struct profile *profile, int64_t now_us, char *out, size_t size)
{
	enum diagnosis_cause cause = diagnosis_cause(diagnosis, profile->port.baud);
	char settings[PORT_SETTINGS_TEXT];
	char advice[DIAGNOSIS_TEXT / 2];
	char sample[DIAGNOSIS_SAMPLE * 3 + 1];

	if (cause == DIAGNOSIS_NONE)
		return false;
	if (diagnosis->told_us != 0 && now_us - diagnosis->told_us < (int64_t)DIAGNOSIS_EVERY_MS * 1000)
		return false;
	advice_print(advice, sizeof(advice), cause, diagnosis_speed(diagnosis, profile->port.baud));
	sample_print(sample, sizeof(sample), diagnosis);
	snprintf(out, size, "%zu line%s in a row not understood at %s: %s; bytes of the last: %s",
	         diagnosis->doubt.lines, diagnosis->doubt.lines == 1 ? "" : "s",
	         port_settings_print(settings, sizeof(settings), &profile->port), advice, sample);
	diagnosis_clear(diagnosis);
	diagnosis->told_us = now_us;
	return true;
}
