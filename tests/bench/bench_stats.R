# The questions of `tepal analyse` on the bench table, asked with base R, multcomp and emmeans.
# Usage: Rscript bench_stats.R TABLE.csv RESULT.csv
# For each of 60 response x assessment cells: what was observed; model (linear, or quasi-Poisson with
# log link) with F tests of each term after the other; least-squares means with limits; every
# treatment against the control with single-step p and simultaneous limits; per cent of control with
# simultaneous limits; Shapiro-Wilk and Brown-Forsythe; standardised residuals.
# The multivariate t runs at multcomp's default accuracy (absolute error 0.001), which is coarser than
# the other side's. Its quantile is found here by uniroot() between the t and the Bonferroni quantile:
# confint() takes qmvt(), which doubles the time of this whole script for the same three digits.
suppressPackageStartupMessages({library(multcomp); library(emmeans)})
args <- commandArgs(TRUE)
d <- read.csv(args[1], stringsAsFactors = TRUE)
d$week <- factor(d$week)
responses <- setdiff(names(d), c("week", "block", "treatment"))
counts <- c("branches", "flowers", "buds")
levels_t <- levels(d$treatment)
k <- length(levels_t)
K <- cbind(-1, diag(k - 1))
rownames(K) <- paste(levels_t[-1], "-", levels_t[1])
set.seed(20260101)
quantile_t <- function(family, df) {
  R <- cov2cor(vcov(family))
  outside <- function(c) {
    p <- pmvt(rep(-c, k - 1), rep(c, k - 1), df = df, corr = R, algorithm = GenzBretz())
    0.95 - as.numeric(p)
  }
  uniroot(outside, c(qt(0.975, df), qt(1 - 0.025 / (k - 1), df) + 0.01), tol = 1e-3)$root
}
out <- list()
keep <- function(week, name, question, label, value, lower = NA, upper = NA, p = NA) {
  out[[length(out) + 1]] <<- data.frame(week, name, question, label, value, lower, upper, p)
}
for (week in levels(d$week)) for (name in responses) {
  x <- d[d$week == week, c("block", "treatment", name)]
  names(x)[3] <- "y"
  x <- x[!is.na(x$y), ]
  seen <- aggregate(y ~ treatment, x, function(v) c(length(v), mean(v), sd(v), min(v), max(v)))$y
  keep(week, name, "observed", levels_t, seen[, 2], seen[, 4], seen[, 5])
  count <- name %in% counts
  fit <- if (count) glm(y ~ block + treatment, quasipoisson, x) else lm(y ~ block + treatment, x)
  tests <- drop1(fit, test = "F")[-1, ]
  keep(week, name, "term", rownames(tests), tests[["F value"]], p = tests[["Pr(>F)"]])
  means <- emmeans(fit, "treatment")
  # t on the error df for counts as well (emmeans takes infinity there)
  df <- df.residual(fit)
  m <- as.data.frame(summary(means))
  se <- sqrt(diag(vcov(means)))
  reach <- qt(0.975, df) * se
  keep(week, name, "mean", levels_t, m$emmean, m$emmean - reach, m$emmean + reach)
  b <- m$emmean
  names(b) <- levels_t
  family <- glht(parm(coef = b, vcov = vcov(means), df = df), linfct = K)
  p <- summary(family)$test$pvalues
  ci <- confint(family, calpha = quantile_t(family, df))$confint
  keep(week, name, "against control", rownames(K), ci[, 1], ci[, 2], ci[, 3], p)
  if (count) {
    keep(week, name, "per cent", rownames(K), 100 * exp(ci[, 1]), 100 * exp(ci[, 2]), 100 * exp(ci[, 3]))
    res <- rstandard(fit, type = "pearson")
  } else {
    ratio <- glht(parm(coef = log(b), vcov = vcov(means) / outer(b, b), df = df), linfct = K)
    ci <- 100 * exp(confint(ratio, calpha = quantile_t(ratio, df))$confint)
    keep(week, name, "per cent", rownames(K), ci[, 1], ci[, 2], ci[, 3])
    res <- rstandard(fit)
  }
  r <- residuals(fit, if (count) "pearson" else "response")
  keep(week, name, "Shapiro-Wilk", "", shapiro.test(r)$statistic, p = shapiro.test(r)$p.value)
  away <- abs(r - ave(r, x$treatment, FUN = median))
  bf <- anova(lm(away ~ x$treatment))
  keep(week, name, "Brown-Forsythe", "", bf[1, "F value"], p = bf[1, "Pr(>F)"])
  keep(week, name, "largest residual", "", max(abs(res)))
}
write.csv(do.call(rbind, out), args[2], row.names = FALSE)
