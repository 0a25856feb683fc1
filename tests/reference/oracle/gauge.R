#!/usr/bin/env Rscript
# SPDX-License-Identifier: GPL-3.0-or-later
#
# gauge.R: samples crossed with operators, by aov. Run from the root of the
# project; writes tests/reference/data/gauge_crossed_expected.csv.
folder <- "tests/reference/data"
d <- read.csv(file.path(folder, "gauge_crossed.csv"))
d$sample <- factor(d$sample)
d$operator <- factor(d$operator)
table <- summary(aov(y ~ sample * operator, d))[[1]]
ms <- setNames(table$"Mean Sq", trimws(rownames(table)))
n <- 2
s <- nlevels(d$sample)
o <- nlevels(d$operator)
value <- c(ms_sample = ms[["sample"]], ms_operator = ms[["operator"]], ms_interaction = ms[["sample:operator"]],
           ms_reading = ms[["Residuals"]],
           var_sample = (ms[["sample"]] - ms[["sample:operator"]]) / (n * o),
           var_operator = (ms[["operator"]] - ms[["sample:operator"]]) / (n * s),
           var_interaction = (ms[["sample:operator"]] - ms[["Residuals"]]) / n)
write.csv(data.frame(quantity = names(value), value = trimws(format(value, digits = 13))),
          file.path(folder, "gauge_crossed_expected.csv"), row.names = FALSE, quote = FALSE)
