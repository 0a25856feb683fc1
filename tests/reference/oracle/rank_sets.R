#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
#
# rank_sets.R: what goes with what in small sets, by cor.test, lm and the definitions. Run from the root of the project;
# writes tests/reference/data/rank_sets_expected.csv.
folder <- "tests/reference/data"
d <- read.csv(file.path(folder, "rank_sets.csv"))
rows <- data.frame()
for (name in unique(d$set)) {
	x <- d$x[d$set == name]
	y <- d$y[d$set == name]
	pearson <- cor.test(x, y)
	spearman <- suppressWarnings(cor.test(x, y, method = "spearman"))
	kendall <- suppressWarnings(cor.test(x, y, method = "kendall"))
	pairs <- which(upper.tri(diag(length(x))), arr.ind = TRUE)
	dx <- x[pairs[, 2]] - x[pairs[, 1]]
	dy <- y[pairs[, 2]] - y[pairs[, 1]]
	slope <- median(dy[dx != 0] / dx[dx != 0])
	line <- summary(lm(y ~ x))$coefficients["x", ]
	values <- c(pearson_r = unname(pearson$estimate), pearson_t = unname(pearson$statistic), pearson_p = pearson$p.value,
		spearman_rho = unname(spearman$estimate), spearman_p = spearman$p.value,
		kendall_tau = unname(kendall$estimate), kendall_p = kendall$p.value, mann_kendall_S = sum(sign(dx) * sign(dy)),
		theil_sen_slope = slope, theil_sen_intercept_median = median(y - slope * x),
		ols_slope = unname(line[1]), ols_se = unname(line[2]), ols_p = unname(line[4]),
		von_neumann_ratio = sum(diff(y[order(x)])^2) / sum((y - mean(y))^2))
	rows <- rbind(rows, data.frame(set = name, quantity = names(values), value = trimws(formatC(values, digits = 13, format = "g"))))
}
write.csv(rows, file.path(folder, "rank_sets_expected.csv"), row.names = FALSE, quote = FALSE)
