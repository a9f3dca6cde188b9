# Rows of variance_components.csv, calc mixed_components, from the R package lme4 (in R: Rscript mixed_shop.R).
# Prints case, quantity and value; mixed_shop.py wrote the data. Predictions' standard errors are not asked of lme4: its own
# leave out the error of the fixed effects. Profile intervals of lme4 are always of the full likelihood.
suppressMessages(library(lme4))
shop <- read.csv("../rows/data/mixed-shop.csv")
for (name in c("day", "body", "painter", "place")) shop[[name]] <- factor(shop[[name]])
tight <- lmerControl(optimizer = "bobyqa", optCtrl = list(rhoend = 1e-12, maxfun = 1e6), calc.derivs = FALSE)
say <- function(case, quantity, value) cat(sprintf("%s,%s,%.12g\n", case, quantity, value))
cat("#", R.version.string, "lme4", as.character(packageVersion("lme4")), "\n")
for (method in c("reml", "ml")) {
  case <- paste0("mixed-shop-", method)
  fit <- lmer(values ~ place + age + (1 | day) + (1 | body) + (1 | painter), shop, REML = method == "reml", control = tight)
  parts <- VarCorr(fit)
  terms <- c("day", "body", "painter")
  for (i in seq_along(terms)) say(case, sprintf("variance[%d]", i), parts[[terms[i]]][1])
  say(case, "variance_residual", sigma(fit)^2)
  say(case, "log_likelihood", as.numeric(logLik(fit)))
  for (i in seq_along(fixef(fit))) say(case, sprintf("fixed[%d]", i), fixef(fit)[i])
  errors <- sqrt(diag(as.matrix(vcov(fit))))
  for (i in seq_along(errors)) say(case, sprintf("fixed_se[%d]", i), errors[i])
  for (term in terms) {
    effects <- ranef(fit)[[term]]
    for (i in 1:3) say(case, sprintf("effect_%s[%d]", term, i), effects[as.character(i), 1])
  }
}
ends <- confint(fit, parm = "theta_", level = 0.95, oldNames = FALSE, quiet = TRUE)
rows <- c(paste0("sd_(Intercept)|", terms), "sigma")
for (i in 1:4) for (end in 1:2) say("mixed-shop-ml", sprintf("sd_%s[%d]", c("lower", "upper")[end], i), ends[rows[i], end])
