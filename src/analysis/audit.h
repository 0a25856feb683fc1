/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * audit.h: the instruments over time, across runs: how well they repeat, how their zero and their scale hold, and
 * what they can and can't tell apart.
 *
 * Readings go in one by one, in whatever order they come; what is kept of them grows with sessions, checks and the cups
 * in hand, not with the readings:
 *
 *   cup       samples of one label in one session of one meter
 *   check     zero readings, or readings of one standard, that follow each other: one check, its mean
 *   session   readings of one meter in one run from one source without a gap of more than AUDIT_GAP_S
 *   period    a calendar month, UTC
 *
 * Strengths are told as TDS of coffee, which is the sucrose scale times audit_query.filter_factor; bias of a standard
 * is in % sucrose. Repeatability is the spread within cups (ISO 5725-2), from shown values: the zero cancels within a
 * cup. Of an uncompensated meter each value is brought to its scale's temperature first.
 */
#ifndef BREWSPREAD_AUDIT_H
#define BREWSPREAD_AUDIT_H

#include <stdbool.h>
#include <stdint.h>

#include "arena.h"
#include "control_chart.h"
#include "describe.h"
#include "faults.h"
#include "meter.h"
#include "precision.h"
#include "shown.h"
#include "slice.h"
#include "status.h"

#define AUDIT_GAP_S 14400.0 /* four hours without a reading end a session: a judgement, no source */

enum {
	AUDIT_SESSIONS_KEPT = 4096, /* of each meter, the newest; the others are in its sums all the same */
	AUDIT_CHECKS_KEPT = 4096,   /* zero checks of each meter, and checks of its standards, likewise */
	AUDIT_MONTHS = 1200,        /* of each meter; readings of further ones are in no month */
	AUDIT_STRENGTHS = 32,       /* standards told apart; checks of others are counted, not used */
	AUDIT_METERS = 256,
};

/* What the sums rest on. */
struct audit_query {
	double confidence;       /* of intervals, 0.95 */
	double filter_factor;    /* TDS per °Brix of coffee */
	double temp_apart_c;     /* sample against zero check, °C */
	double dose_g;           /* of the brew that spreads are told in yield points for … */
	double beverage_g;       /* … and its beverage */
	double margin;           /* yield points that count as practically the same */
	double brew_sd, brew_df; /* between brews of one treatment, yield points; NaN: not known */
	const char *brew_from;   /* … the end of a sentence; lent for as long as the audit lives; NULL: it was set */
	double brew_cost, reading_cost;
	double readings;         /* of each cup, as they are usually taken; at least 1 */
	double standard_total_g; /* that a standard is made up to */
	double scale_step_g;     /* of the scales */
	double scale_accuracy_g; /* ±; NaN: not stated */
	double meter_accuracy;   /* ±, % TDS; NaN: the meter's own */
	int64_t now_us;          /* readings taken later are told; READING_NO_TIME: not known */
};

/* One reading as it goes in. */
struct audit_reading {
	int64_t id;
	int64_t at_us;      /* when it was taken, or the best that is known; READING_NO_TIME: nothing */
	int64_t source;     /* what it came through: another number begins another session */
	int64_t run;        /* 0: of none */
	struct slice label; /* of the cup; empty: none */
	struct shown shown;
	double temp_c;           /* NaN: not told */
	double standard_percent; /* of a standard; NaN: not told */
	uint32_t meter;          /* as audit_meter_add() numbered it */
	uint8_t role;            /* enum reading_role */
	uint8_t flags;           /* enum reading_flag */
	bool timed;              /* at_us is when it was taken, not when it was pasted */
};

struct audit_counts {
	uint64_t readings; /* all of the below */
	uint64_t samples, zeros, standards;
	uint64_t excluded;     /* by the user */
	uint64_t out_of_range; /* can't be */
	uint64_t repeated;     /* sent twice, or stale */
	uint64_t questioned;   /* used all the same */
	uint64_t unlabelled;   /* samples of no cup, so of no use for the repeatability */
	uint64_t unmeasured;   /* standards whose strength was not told, or is one too many */
};

/* Sums of squares within cups. */
struct audit_spread {
	struct pooled pooled; /* (% TDS)² */
	uint64_t cups;        /* with two readings or more */
	uint64_t equal_cups;  /* … all of them equal */
};

struct audit_session {
	int64_t first_us, last_us; /* READING_NO_TIME: not known */
	int64_t first_id, last_id;
	int64_t run; /* 0: none */
	struct audit_counts counts;
	struct audit_spread spread;
	double step;             /* of the display, % TDS; NaN: no sample */
	struct moments temp;     /* of all its readings that tell it */
	struct moments strength; /* of its samples, % TDS */
	struct moments zero;     /* of its zero checks, % TDS */
	double zero_slope;       /* % TDS per hour; NaN below two timed checks */
	bool timed;
};

/* Some readings of the same thing, one after another. */
struct audit_check {
	int64_t at_us;   /* of the first; READING_NO_TIME: not known */
	int64_t id;      /* of the first */
	size_t n;        /* readings */
	double value;    /* zero: offset, % TDS. Standard: corrected strength less that made up, % sucrose */
	double shown;    /* standard: the same without the zero's part; zero: as value */
	double ss;       /* squares within the check, in the unit of value */
	double temp_c;   /* NaN: not told */
	double strength; /* of the standard, % sucrose; zero: 0 */
	bool zeroed;     /* standard: a zero check of its session was taken off */
};

struct audit_month {
	int64_t from_us; /* its beginning */
	struct audit_counts counts;
	struct audit_spread spread;
	struct moments zero, temp;
	double step; /* the coarsest of its sessions; NaN */
	uint64_t sessions;
	/* by audit_finish(): */
	double s_r, lower, upper;
	bool step_limited; /* the display's step, not the meter, sets the spread */
};

/* A straight line through points, with the interval of its slope. */
struct audit_line {
	size_t n;
	double slope, se, df;
	double lower, upper; /* of slope */
	double p;
	double at_mean; /* value at mean_x */
	double mean_x;
	double s; /* residual */
};

/* -- control charts ------------------------------------------------------------- */

enum audit_subject { AUDIT_ZERO, AUDIT_STANDARD, AUDIT_REPEATABILITY };

/* EWMA signals besides those of enum chart_signal. */
enum { AUDIT_EWMA = 1 << CHART_SIGNALS };

struct audit_point {
	int64_t at_us;
	int64_t id;                 /* of the check's or session's first reading */
	double value;               /* what is shown: offset, bias, or the session's s */
	double df;                  /* of a session's s; else the check's readings */
	double score;               /* what is judged: value itself, or for s its normal score against the base */
	double range;               /* moving range of score; NaN for the first */
	double upper;               /* limit of this very value; of s it depends on df */
	double z, z_lower, z_upper; /* EWMA of score */
	unsigned signals;           /* enum chart_signal and AUDIT_EWMA: those that this point completes */
	bool told;                  /* the first of an unbroken row with the same signal */
};

/*
 * The base, whose points the limits are made of, is the first CHART_SETTLED points, from 40 points on the first half,
 * from 200 on the first 100: so that a drift that comes later is not taken into its own limits. With fewer than
 * CHART_SETTLED the limits are provisional.
 */
struct audit_chart {
	enum audit_subject subject;
	double strength;            /* AUDIT_STANDARD: % sucrose */
	struct audit_point *points; /* by time */
	size_t n;
	size_t base;
	struct individuals_chart limits; /* of score, over the base */
	double pooled;                   /* AUDIT_REPEATABILITY: s over the base, % TDS … */
	double pooled_df;
	double step_sigma;   /* what rounding alone makes of one point: a floor to sigma; NaN: not known */
	double sigma;        /* that the points are judged by */
	double lower, upper; /* centre ∓ 3 sigma */
	struct ewma_chart ewma;
	bool provisional;
	bool step_limited; /* the display sets the spread: runs of points are not looked at; see audit_chart.h */
	size_t told;       /* signals told */
};

#define AUDIT_EWMA_LAMBDA 0.2
#define AUDIT_EWMA_WIDTH  3.0

/* A false alarm once in so many sessions, as beyond 3 sigma. */
#define AUDIT_SPREAD_ALPHA 0.0027

/* -- results ---------------------------------------------------------------------- */

struct audit_standard {
	double strength; /* % sucrose, as made up */
	double u;        /* its standard uncertainty, from weighing, % */
	size_t checks, readings;
	size_t zeroed;              /* checks that had a zero check in their session */
	struct moments bias;        /* of checks, % sucrose */
	struct moments shown;       /* … without the zero's part */
	struct audit_spread within; /* squares within checks */
	double u_bias;              /* of the mean bias: spread of the checks, step, and the standard */
	double df;                  /* effective, of u_bias */
	double lower, upper;        /* interval of the bias */
	double index;               /* that a solution of just that strength has at the meter's temperature */
	size_t chart;               /* index into charts; SIZE_MAX: none */
};

/* Over at least two strengths: bias = at_mean + slope (strength - mean_x). */
struct audit_linearity {
	size_t strengths;       /* in the line */
	uint32_t left_out;      /* bit i: standard i, whose newest check is beyond its limits */
	struct audit_line line; /* through the strengths' means; slope is the scale's error per % sucrose */
	/* of fit: do the means leave the line by more than spread and standards explain; NaN below three */
	double lack_f, lack_df1, lack_df2, lack_p;
	double worst; /* largest distance of a strength's mean bias from the line */
	double worst_strength;
};

struct audit_zero {
	size_t checks; /* all of them */
	uint64_t readings;
	struct moments offset;     /* over checks */
	struct audit_line hourly;  /* % TDS per hour within sessions; n: sessions with two timed checks */
	struct audit_line monthly; /* % TDS per month between sessions' means */
	double hours_to_step;      /* until the drift reaches one step of the display; NaN: no drift shown */
};

/* Where the spread of one brew's yield comes from, and how many readings of a cup it takes. */
enum { AUDIT_EFFORTS = 6 };

struct audit_effort {
	double yield_per_tds; /* yield points per % TDS: beverage / dose */
	double reading_sd;    /* between readings of a load, yield points */
	double load_sd;       /* between loads of one cup; 0 where not known */
	double weighing_u;    /* of dose and beverage */
	double brew_sd;       /* between brews, without what reading and weighing add; NaN: not known */
	double total_sd;      /* of one brew's value with `readings` readings */
	double share_meter, share_load, share_weighing, share_brew; /* of total_sd², %; NaN without brew_sd */
	double readings;                                            /* as they are usually taken */
	size_t best; /* readings worth taking for the costs; 0: not known */
	size_t tried[AUDIT_EFFORTS];
	double sd[AUDIT_EFFORTS]; /* of one brew's value with so many readings */
};

struct audit_meter {
	struct slice name;
	struct meter meter; /* as last added */
	size_t versions;    /* profiles or ports under this name */
	bool rescaled;      /* versions whose numbers mean something else */
	struct audit_counts counts;
	struct audit_spread spread;
	int64_t first_us, last_us; /* READING_NO_TIME: no reading tells */
	struct moments temp, strength;
	double step; /* the finest its display showed, % TDS; NaN */

	struct audit_session *sessions; /* by time; the newest AUDIT_SESSIONS_KEPT */
	size_t session_count;
	uint64_t sessions_seen;
	struct audit_month *months; /* by time */
	size_t month_count;
	struct audit_check *zero_checks; /* by time, the newest AUDIT_CHECKS_KEPT; so are the standards' */
	size_t zero_check_count;
	struct audit_check *standard_checks;
	size_t standard_check_count;

	/* by audit_finish(): */
	double s_r, df, lower, upper; /* % TDS; NaN without a cup of two readings */
	struct sd_claim claim;
	double limit;                 /* repeatability limit, of what can be claimed */
	double latest_s_r, latest_df; /* of the newest month with cups */
	struct audit_zero zero;
	struct audit_standard standards[AUDIT_STRENGTHS]; /* by strength */
	size_t standard_count;
	struct audit_linearity linearity;
	struct audit_chart
		*charts; /* zero, then standards by strength, then repeatability: those with two points or more */
	size_t chart_count;
	struct audit_effort effort;
};

/* The same cups on two meters: first less second, % TDS. */
struct audit_pair_point {
	int64_t at_us;
	int64_t id; /* of the later reading */
	double mean;
	double difference;
};

enum audit_verdict { AUDIT_UNKNOWN, AUDIT_SAME, AUDIT_APART };

/* Limits of agreement: J. M. Bland and D. G. Altman, Lancet 327 (1986) 307-310. */
struct audit_pair {
	size_t a, b;                     /* meters */
	struct audit_pair_point *points; /* by time; the newest AUDIT_CHECKS_KEPT */
	size_t n;
	double bias, bias_lower, bias_upper;
	double sd;
	double low, high;                                    /* limits of agreement: bias ∓ 1.96 sd … */
	double low_lower, low_upper, high_lower, high_upper; /* … and their intervals */
	struct audit_line trend;                             /* of the difference over the mean */
	double margin;                                       /* % TDS, of the query's margin */
	enum audit_verdict verdict; /* bias against ± margin by two one-sided tests at 1 - confidence */
};

enum audit_topic { AUDIT_TOPIC_METER, AUDIT_TOPIC_SIGNAL, AUDIT_TOPIC_DATA, AUDIT_TOPICS };

/* A finding in plain words. */
struct audit_note {
	size_t meter; /* SIZE_MAX: of none in particular */
	enum audit_topic topic;
	enum severity severity;
	const char *text;
};

struct audit_pairing; /* cups that a second meter may still read: audit_pair.h */
struct audit_live;    /* sessions that are open: audit_session.h */

struct audit {
	struct audit_query query;
	struct audit_meter *meters; /* in the order in which they were added; AUDIT_METERS at most */
	size_t meter_count;
	struct audit_pair *pairs; /* by audit_finish() */
	size_t pair_count;
	struct audit_note *notes; /* meter by meter, topic by topic */
	size_t note_count;
	struct audit_live *live; /* parallel to meters; NULL after audit_finish() */
	struct audit_pairing *pairing;
	uint64_t late; /* readings taken after query.now_us */
	int64_t late_id;
	struct arena memory;
};

/* query is copied. NULL: no memory. The caller's: audit_free(). */
struct audit *audit_new(const struct audit_query *query);

/* What query holds unless told otherwise; those that must be told are NaN. */
struct audit_query audit_query_standard(void);

/*
 * Sets *index to the meter of that name, which is added where there is none yet; its name is copied. STATUS_MEMORY,
 * STATUS_INVALID: AUDIT_METERS are there already.
 */
enum status audit_meter_add(struct audit *audit, const struct meter *meter, uint32_t *index,
                            struct error *error) MUST_USE;

/*
 * From here on readings of that meter mean what meter says: another profile under the same name. Closes its session.
 * False: no memory.
 */
bool audit_meter_change(struct audit *audit, uint32_t index, const struct meter *meter);

/* Takes one reading; its label is lent for the call. False: no memory. */
bool audit_add(struct audit *audit, const struct audit_reading *reading);

/* Closes what is open and computes all the rest; nothing may be added after it. STATUS_MEMORY. */
enum status audit_finish(struct audit *audit, struct error *error) MUST_USE;

/* Takes NULL. */
void audit_free(struct audit *audit);

/* "zero", "standard", "repeatability" */
const char *audit_subject_name(enum audit_subject subject);

#endif
