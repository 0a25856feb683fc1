# SPDX-License-Identifier: GPL-3.0-or-later
# Variance components of crossed and nested random factors by REML, from lme4. Data: Penicillin and Pastes as lme4 ships
# them, printed in Davies and Goldsmith, Statistical Methods in Research and Production, 4th ed. 1972, pp. 138 and 131-137.
# Rscript --vanilla tests/reference/oracle/components.R
suppressMessages(library(lme4))
options(digits = 15)
folder <- "tests/reference/data"
press <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12, maxfun = 1e6)) # nloptwrap ends 6e-5 beside

out <- data.frame()
note <- function(set, fit) {
	parts <- as.data.frame(VarCorr(fit))
	for (i in seq_len(nrow(parts)))
		out <<- rbind(out, data.frame(set = set, quantity = parts$grp[i], value = format(parts$vcov[i], digits = 12)))
	out <<- rbind(out, data.frame(set = set, quantity = c("mean", "se_mean"),
		value = format(c(fixef(fit)[[1]], sqrt(as.matrix(vcov(fit))[1, 1])), digits = 12)))
}

write.csv(Penicillin, file.path(folder, "components_penicillin.csv"), row.names = FALSE, quote = FALSE)
note("penicillin", lmer(diameter ~ 1 + (1 | plate) + (1 | sample), Penicillin, control = press))
# the rows that remain where every third is lost: no longer balanced
thinned <- Penicillin[seq_len(nrow(Penicillin)) %% 3 != 0, ]
note("thinned", lmer(diameter ~ 1 + (1 | plate) + (1 | sample), thinned, control = press))

pastes <- data.frame(strength = Pastes$strength, batch = Pastes$batch, cask = Pastes$sample)
write.csv(pastes, file.path(folder, "components_pastes.csv"), row.names = FALSE, quote = FALSE)
note("pastes", lmer(strength ~ 1 + (1 | batch) + (1 | cask), pastes, control = press))
# balanced: the estimates of the analysis of variance, which REML has to meet exactly
square <- function(fit) anova(fit)[["Mean Sq"]]
crossed <- square(lm(diameter ~ plate + sample, Penicillin))
nested <- square(lm(strength ~ batch + sample, Pastes))
exact <- function(set, quantity, value)
	out <<- rbind(out, data.frame(set = set, quantity = quantity, value = format(value, digits = 13)))
exact("penicillin_anova", "plate", (crossed[1] - crossed[3]) / 6)
exact("penicillin_anova", "sample", (crossed[2] - crossed[3]) / 24)
exact("penicillin_anova", "Residual", crossed[3])
exact("pastes_anova", "batch", (nested[1] - nested[2]) / 6)
exact("pastes_anova", "cask", (nested[2] - nested[3]) / 2)
exact("pastes_anova", "Residual", nested[3])
out$value <- trimws(out$value)
write.csv(out, file.path(folder, "components_expected.csv"), row.names = FALSE, quote = FALSE)
