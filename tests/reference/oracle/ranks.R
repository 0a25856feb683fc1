#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
#
# ranks.R: what R says where ties leave only the normal approximation. Run
# from the root of the project; writes tests/reference/data/ranks_approximate.csv.
folder <- "tests/reference/data"
rows <- data.frame()
keep <- function(set, quantity, value)
	rows <<- rbind(rows, data.frame(set = set, quantity = quantity, value = trimws(format(value, digits = 13))))

test <- function(set, x, y) {
	two <- cor.test(x, y, method = "kendall", exact = FALSE, continuity = TRUE)
	up <- cor.test(x, y, method = "kendall", exact = FALSE, continuity = TRUE, alternative = "greater")
	keep(set, "tau", two$estimate)
	keep(set, "p", two$p.value)
	keep(set, "p_greater", up$p.value)
}

d <- read.csv(file.path(folder, "conover_gmat_gpa.csv"))
test("conover", d$gmat, d$gpa)
# 70 points, beyond the exact recursion: a rising sawtooth
i <- 1:70
test("sawtooth", i, i + 40 * (i %% 7))
# Pearson and Spearman's t approximation of the same
keep("sawtooth", "r", cor(i, i + 40 * (i %% 7)))
s <- cor(rank(i), rank(i + 40 * (i %% 7)))
keep("sawtooth", "rho", s)
keep("sawtooth", "rho_p", 2 * pt(-abs(s) * sqrt(68 / (1 - s^2)), 68))
write.csv(rows, file.path(folder, "ranks_approximate.csv"), row.names = FALSE, quote = FALSE)
