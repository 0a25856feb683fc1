#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
#
# block_tables.R: analyses of variance of complete and incomplete blocks and of squares, by lm, terms in the order given. Run
# from the root of the project; writes tests/reference/data/blocks_expected.csv.
folder <- "tests/reference/data"
rows <- data.frame()
full <- function(x) ifelse(is.na(x), "NA", trimws(formatC(x, digits = 13, format = "g")))
table_of <- function(set, terms, file = set, y = "y", names = terms) {
	d <- read.csv(file.path(folder, paste0(file, ".csv")))
	singles <- terms[!grepl(":", terms)]
	d[singles] <- lapply(d[singles], factor)
	a <- suppressWarnings(anova(lm(reformulate(terms, y), d)))
	rows <<- rbind(rows, data.frame(set = set, source = c(names, "Residuals"), df = a$Df, SS = full(a$"Sum Sq"),
		MS = full(a$"Mean Sq"), F = full(a$"F value"), p = full(a$"Pr(>F)")))
}
both_orders <- function(set) {
	table_of(set, c("block", "treatment"))
	table_of(paste0(set, "_treat_unadj_then_block_adj"), c("treatment", "block"), set)
}
as_factors <- function(terms) paste0("factor(", terms, ")")

table_of("rcb_penicillin", c("block", "treatment"))
table_of("rcb_natrella_13_4", c("resistor", "set"), names = as_factors(c("resistor", "set")))
for (set in c("kuehl_monovinyl", "joshi_wheat", "li_7x7", "catalyst_4x4", "natrella_13_14_repaired"))
	both_orders(paste0("bib_", set))
square <- c("thermometer", "day", "cell")
table_of("latin_natrella_13_33", square, names = as_factors(square))
table_of("latin_OrchardSprays", c("row", "col", "treatment"), names = c("factor(rowpos)", "factor(colpos)", "treatment"))
table_of("latin_rocket_5x5", c("batch", "operator", "formulation"), names = c(as_factors(c("batch", "operator")), "formulation"))
table_of("block_npk", c("block", "N", "P", "K", "N:P", "N:K", "P:K"), y = "yield")
both_orders("bib_synthetic_pairs_5")
write.csv(rows, file.path(folder, "blocks_expected.csv"), row.names = FALSE, quote = FALSE)
