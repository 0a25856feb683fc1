#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
#
# blocks.R: blocks and squares with holes, by lm. Run from the root of the
# project; writes tests/reference/data/blocks_missing_expected.csv.
folder <- "tests/reference/data"
rows <- data.frame()
keep <- function(set, quantity, value)
	rows <<- rbind(rows, data.frame(set = set, quantity = quantity, value = trimws(format(value, digits = 13))))

# Sums of squares in this order, and each treatment against the first
fit_terms <- function(set, d, terms) {
	d[terms] <- lapply(d[terms], factor)
	fit <- lm(reformulate(terms, "y"), d)
	table <- anova(fit)
	for (i in seq_len(nrow(table))) {
		keep(set, paste0("df_", i), table$Df[i])
		keep(set, paste0("ss_", i), table$"Sum Sq"[i])
	}
	last <- terms[length(terms)]
	co <- summary(fit)$coefficients
	for (name in grep(paste0("^", last), rownames(co), value = TRUE)) {
		keep(set, paste0("diff_", sub(last, "", name)), co[name, "Estimate"])
		keep(set, paste0("se_", sub(last, "", name)), co[name, "Std. Error"])
	}
}

d <- read.csv(file.path(folder, "rcb_penicillin.csv"))
fit_terms("penicillin_without_2", d[-c(3, 14), ], c("block", "treatment"))
# rounds of two, two and one, and a round that never closes: 5 treatments
fit_terms("rounds", read.csv(file.path(folder, "blocks_rounds.csv")), c("block", "treatment"))
d <- read.csv(file.path(folder, "latin_rocket_5x5.csv"))
fit_terms("rocket_without_3", d[-c(2, 13, 24), ], c("batch", "operator", "formulation"))
write.csv(rows, file.path(folder, "blocks_missing_expected.csv"), row.names = FALSE, quote = FALSE)
