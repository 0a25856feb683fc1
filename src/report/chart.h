/* SPDX-License-Identifier: GPL-3.0-or-later */
/* chart.h: the treatments' means with their intervals, and the single brews as dots. */
#ifndef BREWSPREAD_CHART_H
#define BREWSPREAD_CHART_H

#include "sheet.h"

/*
 * Puts the chart below the pen, width characters wide, and the pen below the chart. It shows the first CHART_TREATMENTS
 * treatments of Summary, from cells of Comparisons and Brews. Nothing where no treatment has a mean.
 */
void chart_insert(struct book *book, struct pen *pen, double width);

/* Where the chart's scale begins: the names stand there. */
double chart_left_edge(const struct book *book);

#endif
