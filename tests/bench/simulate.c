/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * simulate RUNS: how often the verdicts are wrong, over seeded runs whose truth is known. Prints a table; docs/simulation.md
 * keeps one of 10,000 runs.
 *
 * Of each design: the share of runs without any true difference in which some pair is called "differ" (all pairs, and
 * against a control); the share in which all simultaneous intervals cover the truth; and the share of runs with true differences
 * of exactly the margin, the worst case, in which some such pair is called "practically the same". Each is to be compared
 * with 5, 95 and at most 5 %; the standard error of 5 % is 0.22 points at 10,000 runs.
 */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "describe.h"
#include "oneway.h"
#include "pairwise.h"
#include "random.h"

enum { TREATMENTS_MOST = 6, BREWS_EACH = 5 };

struct design {
	const char *name;
	size_t treatments;
	size_t brews[TREATMENTS_MOST];
};

static const struct design designs[] = {
	{ "2 treatments, 2 brews", 2, { 2, 2 } },
	{ "3 treatments, 2 brews", 3, { 2, 2, 2 } },
	{ "5 treatments, 2 brews", 5, { 2, 2, 2, 2, 2 } },
	{ "3 treatments, 3 brews", 3, { 3, 3, 3 } },
	{ "5 treatments, 3 brews", 5, { 3, 3, 3, 3, 3 } },
	{ "5 treatments, 4 brews", 5, { 4, 4, 4, 4, 4 } },
	{ "3 treatments, 5 brews", 3, { 5, 5, 5 } },
	{ "6 treatments, 5 brews", 6, { 5, 5, 5, 5, 5, 5 } },
	{ "3 treatments, 2 3 4 brews", 3, { 2, 3, 4 } },
	{ "4 treatments, 2 2 5 5 brews", 4, { 2, 2, 5, 5 } },
	{ "5 treatments, 1 2 3 4 5 brews", 5, { 1, 2, 3, 4, 5 } },
};

struct tally {
	size_t differ, control_differ, covered, same;
};

/* Brew means of spread 0.3 about their treatment's; the first treatment lies at shift, the others at 0. */
static void draw(struct random *random, const struct design *design, double shift, double values[][BREWS_EACH],
                 struct group_values *groups, struct group_summary *summaries)
{
	for (size_t t = 0; t < design->treatments; t++) {
		for (size_t b = 0; b < design->brews[t]; b++)
			values[t][b] = 20 + (t == 0 ? shift : 0) + 0.3 * random_normal(random);
		groups[t] = (struct group_values){ values[t], design->brews[t] };
		summaries[t] = values_summary(values[t], design->brews[t]);
	}
}

static void judge(struct tally *tally, const struct design *design, const struct group_summary *summaries,
                  const struct oneway *oneway, double shift, const struct claim *claim)
{
	struct pair_result pairs[TREATMENTS_MOST * TREATMENTS_MOST];
	struct pair_result against[TREATMENTS_MOST];
	double lambda[TREATMENTS_MOST];
	size_t k = design->treatments;
	int differ = 0, control_differ = 0, covered = 1, same = 0;

	pairs_tukey(pairs, summaries, k, oneway->ms_within, oneway->df_within, *claim);
	for (size_t i = 0; i < pairs_count(k); i++) {
		double truth = pairs[i].a == 0 ? shift : 0;

		differ |= pairs[i].verdict == VERDICT_DIFFER;
		covered &= pairs[i].lower <= truth && truth <= pairs[i].upper;
		same |= truth != 0 && pairs[i].verdict == VERDICT_SAME;
	}
	if (shift == 0) {
		pairs_dunnett(against, summaries, k, 0, oneway->ms_within, oneway->df_within, *claim, lambda);
		for (size_t i = 0; i + 1 < k; i++)
			control_differ |= against[i].verdict == VERDICT_DIFFER;
	}
	tally->differ += (size_t)differ;
	tally->control_differ += (size_t)control_differ;
	tally->covered += (size_t)covered;
	tally->same += (size_t)same;
}

static struct tally simulate(const struct design *design, size_t runs, double shift, const struct claim *claim)
{
	double values[TREATMENTS_MOST][BREWS_EACH];
	struct group_values groups[TREATMENTS_MOST];
	struct group_summary summaries[TREATMENTS_MOST];
	struct tally tally = { 0 };
	struct random random;

	random_seed(&random, 20260314);
	for (size_t i = 0; i < runs; i++) {
		struct oneway oneway;

		draw(&random, design, shift, values, groups, summaries);
		oneway = oneway_of_values(groups, design->treatments);
		judge(&tally, design, summaries, &oneway, shift, claim);
	}
	return tally;
}

static double percent(size_t count, size_t runs)
{
	return 100.0 * (double)count / (double)runs;
}

int main(int argc, char **argv)
{
	size_t runs = argc > 1 ? strtoul(argv[1], NULL, 10) : 10000;
	const struct claim claim = { 0.05, 1.0 };

	if (runs == 0)
		return 2;
	printf("%zu seeded runs a row; brews of one treatment scatter by 0.3, margin 1.0\n\n", runs);
	printf("| design | false \"differ\", all pairs, %% | false \"differ\", control, %% | intervals all hold, %% | "
	       "false \"same\" at the margin, %% |\n| --- | --- | --- | --- | --- |\n");
	for (size_t d = 0; d < sizeof(designs) / sizeof(designs[0]); d++) {
		struct tally null = simulate(&designs[d], runs, 0, &claim);
		struct tally edge = simulate(&designs[d], runs, claim.margin, &claim);

		printf("| %s | %.2f | %.2f | %.2f | %.2f |\n", designs[d].name, percent(null.differ, runs),
		       percent(null.control_differ, runs), percent(null.covered, runs), percent(edge.same, runs));
		fflush(stdout);
	}
	return 0;
}
