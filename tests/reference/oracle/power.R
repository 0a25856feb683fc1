#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
#
# power.R: power, brews and differences by R's own functions, for the cases that stand in the files. Run from the root of
# the project; writes tests/reference/data/power_*.csv anew.
folder <- "tests/reference/data"
full <- function(x) trimws(formatC(x, digits = 13, format = "g"))
again <- function(name, compute) {
	file <- file.path(folder, name)
	d <- read.csv(file, colClasses = "character")
	for (column in names(compute))
		d[[column]] <- vapply(seq_len(nrow(d)), function(i) {
			row <- lapply(d[i, ], function(x) if (grepl("^[-0-9.e+]+$", x)) as.numeric(x) else x)
			full(compute[[column]](row))
		}, "")
	write.csv(d, file, row.names = FALSE, quote = FALSE)
}
t_power <- function(r, strict)
	power.t.test(n = r$n, delta = r$delta_over_sd, sd = 1, sig.level = r$alpha, type = r$type, strict = strict)$power
f_power <- function(k, n, ratio, alpha) # as power.anova.test() has it, for any n above 1
	pf(qf(alpha, k - 1, (n - 1) * k, lower.tail = FALSE), k - 1, (n - 1) * k, (k - 1) * n * ratio, lower.tail = FALSE)
solve <- function(f, target, lower, upper)
	uniroot(function(x) f(x) - target, c(lower, upper), tol = 1e-13, extendInt = "upX", maxiter = 10000)$root

again("power_t.csv", list(power = function(r) t_power(r, FALSE), power_strict = function(r) t_power(r, TRUE)))
again("power_t_n.csv", list(n = function(r)
	solve(function(n) t_power(c(n = n, r[c("delta_over_sd", "alpha", "type")]), FALSE), r$power, 1.5, 100)))
again("power_anova.csv", list(power = function(r) f_power(r$groups, r$n, r$var_ratio, r$alpha)))
again("power_anova_n.csv", list(n = function(r)
	solve(function(n) f_power(r$groups, n, r$var_ratio, 0.05), r$power, 1.05, 100)))
again("power_detectable_difference.csv", list(
	sd_brew_mean = function(r) sqrt(r$sb^2 + r$se^2 / r$m),
	delta_80 = function(r) solve(function(d)
		power.t.test(n = r$b, delta = d, sd = sqrt(r$sb^2 + r$se^2 / r$m), strict = TRUE)$power, 0.8, 1e-6, 10)))
