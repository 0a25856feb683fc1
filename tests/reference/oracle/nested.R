#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
#
# nested.R: the nested models once more with lme4 and lmerTest, from the data
# files beside the tests. Run from the root of the project; writes
# tests/reference/data/nested_lme4.csv. The optimiser is pressed for its
# last digits; what it leaves is stated in data/README-stats2.md.
suppressMessages({library(lme4); library(lmerTest)})

folder <- "tests/reference/data"
press <- lmerControl(optimizer = "nloptwrap", optCtrl = list(xtol_abs = 1e-14, ftol_abs = 1e-16, maxeval = 1e6),
                     check.conv.singular = "ignore")
rows <- data.frame()

keep <- function(set, quantity, value)
	rows <<- rbind(rows, data.frame(set = set, quantity = quantity, value = trimws(format(value, digits = 13))))

differences <- function(set, fit, treatments, columns) {
	for (i in seq_along(treatments))
		for (j in seq_along(treatments))
			if (i < j) {
				l <- rep(0, columns)
				if (i > 1) l[i] <- 1
				l[j] <- -1
				d <- contest(fit, l, joint = FALSE)
				name <- paste0(treatments[i], "_minus_", treatments[j])
				keep(set, paste0("diff_", name), d[["Estimate"]])
				keep(set, paste0("se_", name), d[["Std. Error"]])
				keep(set, paste0("df_", name), d[["df"]])
			}
}

components <- function(set, fit) {
	v <- as.data.frame(VarCorr(fit))
	keep(set, "var_brew", v$vcov[v$grp == "brew"])
	keep(set, "var_reading", v$vcov[v$grp == "Residual"])
	keep(set, "loglik", as.numeric(logLik(fit, REML = TRUE)))
}

for (set in c("S1", "S3")) {
	d <- read.csv(file.path(folder, paste0("synthetic_nested_", set, ".csv")))
	d$treatment <- factor(d$treatment)
	fit <- lmer(y ~ treatment + (1 | brew), d, control = press)
	components(set, fit)
	differences(set, fit, levels(d$treatment), nlevels(d$treatment))
}

d <- read.csv(file.path(folder, "nested_blocked.csv"))
d$treatment <- factor(d$treatment)
d$block <- factor(d$block)
fit <- lmer(y ~ treatment + block + (1 | brew), d, control = press)
components("blocked", fit)
differences("blocked", fit, levels(d$treatment), nlevels(d$treatment) + nlevels(d$block) - 1)

write.csv(rows, file.path(folder, "nested_lme4.csv"), row.names = FALSE, quote = FALSE)
