# SPDX-License-Identifier: GPL-3.0-or-later
# Writes multcomp_expected.csv anew. Run from the root of the project: make oracle
# Needs base R only; the column p_multcomp is added where the package multcomp is installed.
data_folder <- "tests/reference/data"
sets <- c("PlantGrowth", "warpbreaks_tension", "chickwts", "InsectSprays", "dunnett_blood")
controls <- c(PlantGrowth = "ctrl", warpbreaks_tension = "L", chickwts = "casein", InsectSprays = "C",
              dunnett_blood = "control")
rows <- list()

put <- function(set, test, item, quantity, value)
	rows[[length(rows) + 1]] <<- data.frame(set, test, item, quantity, value = sprintf("%.13g", value))

read_set <- function(set) {
	d <- read.csv(file.path(data_folder, paste0("r_", set, ".csv")), stringsAsFactors = FALSE)
	levels <- sort(unique(d$group))
	d$group <- factor(d$group, levels = levels)
	d
}

# As TukeyHSD() names them: the later level first.
all_pairs <- function(levels)
	do.call(rbind, lapply(seq_len(length(levels) - 1), function(i)
		data.frame(a = levels[(i + 1):length(levels)], b = levels[i], stringsAsFactors = FALSE)))

one_set <- function(set) {
	d <- read_set(set)
	n <- tapply(d$y, d$group, length)
	m <- tapply(d$y, d$group, mean)
	s <- tapply(d$y, d$group, sd)
	k <- length(n)
	table <- anova(lm(y ~ group, d))
	mse <- table[2, "Mean Sq"]
	df <- table[2, "Df"]
	put(set, "anova", "", "F", table[1, "F value"])
	put(set, "anova", "", "df1", table[1, "Df"])
	put(set, "anova", "", "df2", df)
	put(set, "anova", "", "p", table[1, "Pr(>F)"])
	put(set, "anova", "", "MSE", mse)
	put(set, "anova", "", "SSB", table[1, "Sum Sq"])
	put(set, "anova", "", "SSW", table[2, "Sum Sq"])
	for (g in names(n)) {
		put(set, "group", g, "n", n[[g]])
		put(set, "group", g, "mean", m[[g]])
		put(set, "group", g, "sd", s[[g]])
	}
	pairs <- all_pairs(names(n))
	item <- paste(pairs$a, pairs$b, sep = "-")
	diff <- m[pairs$a] - m[pairs$b]

	se <- sqrt(mse / 2 * (1 / n[pairs$a] + 1 / n[pairs$b]))
	q <- abs(diff) / se
	half <- qtukey(0.95, k, df) * se
	for (i in seq_along(item)) {
		put(set, "tukey_kramer", item[i], "diff", diff[[i]])
		put(set, "tukey_kramer", item[i], "lwr", diff[[i]] - half[[i]])
		put(set, "tukey_kramer", item[i], "upr", diff[[i]] + half[[i]])
		put(set, "tukey_kramer", item[i], "q", q[[i]])
		put(set, "tukey_kramer", item[i], "p_adj", ptukey(q[[i]], k, df, lower.tail = FALSE))
	}

	w <- oneway.test(y ~ group, d)
	put(set, "welch_anova", "", "F", w$statistic)
	put(set, "welch_anova", "", "df1", w$parameter[[1]])
	put(set, "welch_anova", "", "df2", w$parameter[[2]])
	put(set, "welch_anova", "", "p", w$p.value)
	b <- bartlett.test(y ~ group, d)
	put(set, "bartlett", "", "K2", b$statistic)
	put(set, "bartlett", "", "df", b$parameter)
	put(set, "bartlett", "", "p", b$p.value)
	z <- abs(d$y - ave(d$y, d$group, FUN = median))
	l <- anova(lm(z ~ d$group))
	put(set, "brown_forsythe", "", "F", l[1, "F value"])
	put(set, "brown_forsythe", "", "df1", l[1, "Df"])
	put(set, "brown_forsythe", "", "df2", l[2, "Df"])
	put(set, "brown_forsythe", "", "p", l[1, "Pr(>F)"])

	va <- s[pairs$a]^2 / n[pairs$a]
	vb <- s[pairs$b]^2 / n[pairs$b]
	gh_df <- (va + vb)^2 / (va^2 / (n[pairs$a] - 1) + vb^2 / (n[pairs$b] - 1))
	gh_q <- abs(diff) / sqrt((va + vb) / 2)
	gh_half <- qtukey(0.95, k, gh_df) * sqrt((va + vb) / 2)
	for (i in seq_along(item)) {
		put(set, "games_howell", item[i], "diff", diff[[i]])
		put(set, "games_howell", item[i], "q", gh_q[[i]])
		put(set, "games_howell", item[i], "df", gh_df[[i]])
		put(set, "games_howell", item[i], "p_adj", ptukey(gh_q[[i]], k, gh_df[[i]], lower.tail = FALSE))
		put(set, "games_howell", item[i], "lwr", diff[[i]] - gh_half[[i]])
		put(set, "games_howell", item[i], "upr", diff[[i]] + gh_half[[i]])
	}

	t_pooled <- abs(diff) / (se * sqrt(2))
	p_pooled <- 2 * pt(-t_pooled, df)
	t_welch <- abs(diff) / sqrt(va + vb)
	p_welch <- 2 * pt(-t_welch, gh_df)
	for (i in seq_along(item)) {
		put(set, "pairwise_t_pooled", item[i], "t", t_pooled[[i]])
		put(set, "pairwise_t_pooled", item[i], "p_raw", p_pooled[[i]])
		put(set, "pairwise_t_pooled", item[i], "p_holm", p.adjust(p_pooled, "holm")[[i]])
		put(set, "pairwise_t_pooled", item[i], "p_bonferroni", p.adjust(p_pooled, "bonferroni")[[i]])
		put(set, "pairwise_t_welch", item[i], "t", t_welch[[i]])
		put(set, "pairwise_t_welch", item[i], "p_raw", p_welch[[i]])
		put(set, "pairwise_t_welch", item[i], "p_holm", p.adjust(p_welch, "holm")[[i]])
	}
	dunnett(set, d, n, m, mse, df)
}

# P(all |T_i| <= limit), by nested integration over the control's mean and the spread.
all_within <- function(limit, lambda, df) {
	given_scale <- function(s) integrate(function(z) {
		inside <- dnorm(z)
		for (l in lambda)
			inside <- inside * (pnorm((limit * s + l * z) / sqrt(1 - l^2)) -
			                    pnorm((-limit * s + l * z) / sqrt(1 - l^2)))
		inside
	}, -9, 9, rel.tol = 1e-11, subdivisions = 1000, stop.on.error = FALSE)$value
	density <- function(s) 2 * df * s * dchisq(df * s^2, df)
	integrate(function(s) density(s) * vapply(s, given_scale, 0), 0, 1 + 12 / sqrt(2 * df), rel.tol = 1e-10,
	          subdivisions = 1000, stop.on.error = FALSE)$value
}

dunnett <- function(set, d, n, m, mse, df) {
	control <- controls[[set]]
	others <- setdiff(names(n), control)
	lambda <- sqrt(n[others] / (n[others] + n[[control]]))
	t <- (m[others] - m[[control]]) / sqrt(mse * (1 / n[others] + 1 / n[[control]]))
	crit <- uniroot(function(c) all_within(c, lambda, df) - 0.95, c(1.5, 8), tol = 1e-11)$root
	multcomp <- rep(NA, length(others))
	if (requireNamespace("multcomp", quietly = TRUE)) {
		d$group <- relevel(d$group, ref = control)
		fit <- multcomp::glht(aov(y ~ group, d), linfct = multcomp::mcp(group = "Dunnett"))
		multcomp <- summary(fit)$test$pvalues
	}
	for (i in seq_along(others)) {
		item <- paste(others[i], control, sep = "-")
		put(set, "dunnett_two_sided", item, "diff", m[[others[i]]] - m[[control]])
		put(set, "dunnett_two_sided", item, "t", t[[i]])
		put(set, "dunnett_two_sided", item, "p_exact", 1 - all_within(abs(t[[i]]), lambda, df))
		if (!is.na(multcomp[i]))
			put(set, "dunnett_two_sided", item, "p_multcomp", multcomp[i])
		put(set, "dunnett_two_sided", item, "crit_05", crit)
	}
}

for (set in sets)
	one_set(set)
write.csv(do.call(rbind, rows), file.path(data_folder, "multcomp_expected.csv"), row.names = FALSE, quote = FALSE)
