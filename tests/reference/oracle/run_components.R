# SPDX-License-Identifier: GPL-3.0-or-later
# Components of a whole run as the report tells them: estimates by lme4 (cups read unequally often) or by the analysis of variance,
# intervals of Ting et al. (J. Statist. Comput. Simul. 35 (1990) 135-143) on mean squares of unweighted brew values (Thomas and
# Hultquist, Ann. Statist. 6 (1978) 582-587), the brews' share by the F distribution. Data: nested_S1 to S3 and the blocked set.
# Rscript --vanilla tests/reference/oracle/run_components.R
suppressMessages(library(lme4))
folder <- "tests/reference/data"
press <- lmerControl(optimizer = "nloptwrap", optCtrl = list(xtol_abs = 1e-14, ftol_abs = 1e-16, maxeval = 1e6),
                     check.conv.singular = "ignore")
rows <- data.frame()
keep <- function(set, quantity, value)
	rows <<- rbind(rows, data.frame(set = set, quantity = quantity, value = trimws(format(value, digits = 13))))

ting <- function(s1, n1, s2, n2, level = 0.95) {
	a <- (1 - level) / 2
	upper <- function(p, d1, d2) qf(p, d1, d2, lower.tail = FALSE)
	g1 <- 1 - 1 / upper(a, n1, Inf); g2 <- 1 - 1 / upper(a, n2, Inf)
	h1 <- 1 / upper(1 - a, n1, Inf) - 1; h2 <- 1 / upper(1 - a, n2, Inf) - 1
	f <- upper(a, n1, n2)
	low <- ((f - 1)^2 - g1^2 * f^2 - h2^2) / f
	g <- upper(1 - a, n1, n2)
	high <- ((1 - g)^2 - h1^2 * g^2 - g2^2) / g
	c(s1 - s2 - sqrt(max(0, g1^2 * s1^2 + h2^2 * s2^2 + low * s1 * s2)),
	  s1 - s2 + sqrt(max(0, h1^2 * s1^2 + g2^2 * s2^2 + high * s1 * s2)))
}

whole <- function(set, d) {
	d$brew <- factor(d$brew)
	d$treatment <- factor(d$treatment)
	means <- aggregate(y ~ brew + treatment, d, mean)
	n <- tapply(d$y, d$brew, length)
	blocked <- "block" %in% names(d)
	if (blocked) means$block <- factor(d$block[match(means$brew, d$brew)])
	line <- lm(if (blocked) y ~ block + treatment else y ~ treatment, means)
	df <- line$df.residual
	each <- length(n) / sum(1 / n)
	ms_brew <- each * sum(residuals(line)^2) / df
	df_reading <- nrow(d) - nlevels(d$brew)
	ms_reading <- sum(residuals(lm(y ~ brew, d))^2) / df_reading
	balanced <- length(unique(n)) == 1
	if (balanced) {
		var_brew <- max(0, (ms_brew - ms_reading) / each)
		var_reading <- ms_reading
	} else {
		model <- if (blocked) y ~ treatment + factor(block) + (1 | brew) else y ~ treatment + (1 | brew)
		v <- as.data.frame(VarCorr(lmer(model, d, control = press)))
		var_brew <- v$vcov[v$grp == "brew"]
		var_reading <- v$vcov[v$grp == "Residual"]
	}
	keep(set, "brew_variance", var_brew)
	keep(set, "reading_variance", var_reading)
	keep(set, "brew_share", 100 * var_brew / (var_brew + var_reading / each))
	limits <- ting(ms_brew, df, ms_reading, df_reading) / each
	keep(set, "brew_sd_lower", sqrt(max(0, limits[1])))
	keep(set, "brew_sd_upper", sqrt(max(0, limits[2])))
	f <- ms_brew / ms_reading
	keep(set, "share_lower", 100 * max(0, 1 - qf(0.975, df, df_reading) / f))
	keep(set, "share_upper", 100 * max(0, 1 - qf(0.025, df, df_reading) / f))
	keep(set, "reading_sd_upper", sqrt(ms_reading * df_reading / qchisq(0.025, df_reading)))
}

for (set in c("S1", "S2", "S3")) whole(set, read.csv(file.path(folder, paste0("synthetic_nested_", set, ".csv"))))
whole("blocked", read.csv(file.path(folder, "nested_blocked.csv")))
# the first two readings of every cup of S1 that has two: balanced
first <- read.csv(file.path(folder, "synthetic_nested_S1.csv"))
first <- first[first$brew != "C1" & ave(first$y, first$brew, FUN = seq_along) <= 2, ]
whole("S1_balanced", first)
write.csv(rows, file.path(folder, "run_components.csv"), row.names = FALSE, quote = FALSE)
