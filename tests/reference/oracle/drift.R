#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
#
# drift.R: the trend over the readings of a cup, by lm and by Mann-Kendall within cups, whose distribution is made from every
# order of every cup's readings. Run from the root of the project; writes tests/reference/data/synthetic_drift_expected.csv.
folder <- "tests/reference/data"
d <- read.csv(file.path(folder, "synthetic_drift.csv"))
fit <- lm(y ~ factor(brew) + reading, d)
slope <- summary(fit)$coefficients["reading", ]
score <- function(y) sum(sign(outer(y, y, function(a, b) b - a))[upper.tri(diag(length(y)))])
orders <- function(n) if (n == 1) list(1) else
	do.call(c, lapply(orders(n - 1), function(p) lapply(0:(n - 1), function(at) append(p, n, at))))
cups <- split(d, d$brew)
total <- sum(vapply(cups, function(cup) score(cup$y[order(cup$reading)]), 0))
chance <- c("0" = 1)
for (cup in cups) {
	scores <- table(vapply(orders(nrow(cup)), function(p) score(cup$y[p]), 0)) / factorial(nrow(cup))
	sums <- outer(as.numeric(names(chance)), as.numeric(names(scores)), "+")
	chance <- tapply(outer(chance, as.vector(scores)), sums, sum)
}
at <- as.numeric(names(chance))
full <- function(x) trimws(formatC(x, digits = 13, format = "g"))
write.csv(data.frame(quantity = c("pooled_slope", "se", "df", "t", "p_two_sided", "sum_S", "exact_p_one_sided", "exact_p_two_sided"),
	value = c(full(slope[1]), full(slope[2]), fit$df.residual, full(slope[3]), full(slope[4]), total,
		full(sum(chance[at >= total])), full(sum(chance[abs(at) >= abs(total)])))),
	file.path(folder, "synthetic_drift_expected.csv"), row.names = FALSE, quote = FALSE)
