# Answers of base R, multcomp and emmeans for the tables of against_r_tables.py.
# Usage: Rscript against_r.R FOLDER      reads FOLDER/NAME.csv, writes FOLDER/answers.csv
# Sum-to-zero coding throughout, so that drop1() gives Type III tests.
suppressPackageStartupMessages({library(multcomp); library(emmeans)})
options(contrasts = c("contr.sum", "contr.poly"), digits = 17)
folder <- commandArgs(TRUE)[1]
set.seed(20260101)
rows <- list()
keep <- function(design, quantity, label, value)
  rows[[length(rows) + 1]] <<- data.frame(design, quantity, label, value)
read <- function(design) read.csv(file.path(folder, paste0(design, ".csv")), stringsAsFactors = TRUE)

terms_of <- function(design, table, f = "F value", p = "Pr(>F)", df = "Df") {
  names_ <- trimws(rownames(table))
  keep(design, "F", names_, table[[f]]); keep(design, "p(F)", names_, table[[p]])
  keep(design, "df", names_, table[[df]])
}
means_of <- function(design, b, V, names_) {
  keep(design, "mean", names_, b); keep(design, "se mean", names_, sqrt(diag(V)))
}
# differences K b with covariance K V K': estimate, SE, t on df, plain p, single-step p
family_of <- function(design, b, V, df, K, alternative = "two.sided", single_step = TRUE) {
  d <- drop(K %*% b); se <- sqrt(diag(K %*% V %*% t(K))); t <- d / se
  p <- switch(alternative, two.sided = 2 * pt(-abs(t), df), less = pt(t, df),
              greater = pt(t, df, lower.tail = FALSE))
  keep(design, "difference", rownames(K), d); keep(design, "se", rownames(K), se)
  keep(design, "t", rownames(K), t); keep(design, "p", rownames(K), p)
  if (single_step) {
    fit <- glht(parm(coef = b, vcov = V, df = df), linfct = K, alternative = alternative)
    p <- summary(fit, test = adjusted("single-step", abseps = 1e-5, maxpts = 5e5))$test$pvalues
    keep(design, "p single-step", rownames(K), p)
  }
}
against_first <- function(names_) {
  K <- cbind(-1, diag(length(names_) - 1))
  rownames(K) <- paste(names_[-1], "-", names_[1]); K
}
all_pairs <- function(names_) {
  ij <- combn(length(names_), 2)
  K <- t(apply(ij, 2, function(x) replace(numeric(length(names_)), x, c(1, -1))))
  rownames(K) <- apply(ij, 2, function(x) paste(names_[x[1]], "-", names_[x[2]])); K
}
tukey_of <- function(design, b, V, df, K) {
  q <- abs(drop(K %*% b)) / sqrt(diag(K %*% V %*% t(K))) * sqrt(2)
  keep(design, "p Tukey", rownames(K), ptukey(q, length(b), df, lower.tail = FALSE))
  keep(design, "critical Tukey", "", qtukey(0.95, length(b), df) / sqrt(2))
}
linear_of <- function(design, fit, Kof = against_first, tukey = FALSE, ...) {
  m <- emmeans(fit, "treatment"); b <- summary(m)$emmean; V <- unname(vcov(m))
  names_ <- levels(droplevels(m@grid$treatment)); names(b) <- names_
  keep(design, "error df", "", df.residual(fit)); keep(design, "MSE", "", sigma(fit)^2)
  means_of(design, b, V, names_)
  family_of(design, b, V, df.residual(fit), Kof(names_), ...)
  if (tukey) tukey_of(design, b, V, df.residual(fit), all_pairs(names_))
}
drop_of <- function(design, fit) terms_of(design, drop1(fit, . ~ ., test = "F")[-1, ])

for (design in c("crd", "crd_unbalanced")) {
  fit <- lm(y ~ treatment, read(design))
  terms_of(design, anova(fit)[1, ]); linear_of(design, fit, tukey = TRUE)
}
for (design in c("rcbd", "rcbd_missing", "rcbd_control_twice")) {
  fit <- lm(y ~ block + treatment, read(design))
  drop_of(design, fit); linear_of(design, fit, tukey = TRUE)
}
for (design in c("latin", "latin_missing")) {
  fit <- lm(y ~ row + column + treatment, read(design))
  drop_of(design, fit); linear_of(design, fit)
}
# split-plot by strata
d <- read("split_plot")
strata <- summary(aov(y ~ whole * sub + Error(block / whole), d))
terms_of("split_plot", strata[["Error: block:whole"]][[1]]["whole    ", ])
terms_of("split_plot", strata[["Error: Within"]][[1]][1:2, ])
ms <- c(strata[["Error: block:whole"]][[1]]["Residuals", "Mean Sq"],
        strata[["Error: Within"]][[1]]["Residuals", "Mean Sq"])
keep("split_plot", "MS", c("whole", "sub"), ms)
# factorials: each term after all that do not contain it (Type II), then Type III
d <- read("factorial"); fit <- lm(y ~ block + a * b, d)
drop_of("factorial", fit)
m <- emmeans(fit, ~ b | a, cov.reduce = FALSE); m <- emmeans(fit, c("b", "a"))
b <- summary(m)$emmean; names_ <- paste(m@grid$a, m@grid$b, sep = ":")
means_of("factorial", b, vcov(m), names_)
d <- read("factorial_unbalanced"); fit <- lm(y ~ block + a * b, d)
error <- anova(fit)["Residuals", ]
type2 <- function(term, without, with) {
  x <- anova(lm(without, d), lm(with, d)); ss <- x[2, "Sum of Sq"]; k <- x[2, "Df"]
  f <- ss / k / error[["Mean Sq"]]
  keep("factorial_unbalanced", "F", term, f); keep("factorial_unbalanced", "df", term, k)
  keep("factorial_unbalanced", "p(F)", term, pf(f, k, error$Df, lower.tail = FALSE))
}
type2("block", y ~ a * b, y ~ block + a * b); type2("a", y ~ block + b, y ~ block + a + b)
type2("b", y ~ block + a, y ~ block + a + b); type2("a:b", y ~ block + a + b, y ~ block + a * b)
type3 <- drop1(fit, . ~ ., test = "F")[-1, ]
keep("factorial_unbalanced", "F III", rownames(type3), type3[["F value"]])
keep("factorial_unbalanced", "p(F) III", rownames(type3), type3[["Pr(>F)"]])

fit <- lm(y ~ block + treatment + height0, read("covariate"))
drop_of("covariate", fit); linear_of("covariate", fit)
keep("covariate", "slope", "height0", coef(fit)[["height0"]])

# trend over rates
d <- read("trend")
full <- lm(y ~ block + treatment, d)
one <- lm(y ~ block + rate, d); two <- lm(y ~ block + rate + I(rate^2), d)
keep("trend", "difference", c("1", "2"), c(coef(one)[["rate"]], coef(two)[["I(rate^2)"]]))
o <- anova(two, full); keep("trend", "F", "lack of fit", o[2, "F"]); keep("trend", "p(F)", "lack of fit", o[2, "Pr(>F)"])
m <- emmeans(full, "treatment")
C <- contr.poly(5, scores = c(0, 5, 10, 20, 40))[, 1:2]
t <- drop(t(C) %*% summary(m)$emmean) / sqrt(diag(t(C) %*% vcov(m) %*% C))
keep("trend", "t", c("1", "2"), t); keep("trend", "p", c("1", "2"), 2 * pt(-abs(t), df.residual(full)))

# counts and proportions: t and F on the error df
exact <- glm.control(epsilon = 1e-14, maxit = 100)
general_of <- function(design, fit) {
  # not drop1(): its F divides by the deviance over its df; anova() by Pearson's dispersion
  for (term in c("block", "treatment")) {
    x <- anova(update(fit, paste(". ~ . -", term)), fit, test = "F")[2, ]
    keep(design, "F", term, x[["F"]]); keep(design, "p(F)", term, x[["Pr(>F)"]]); keep(design, "df", term, x[["Df"]])
  }
  keep(design, "dispersion", "", summary(fit)$dispersion); keep(design, "deviance", "", deviance(fit))
  m <- emmeans(fit, "treatment", offset = 0); b <- summary(m)$emmean; V <- unname(vcov(m))
  names_ <- levels(m@grid$treatment); names(b) <- names_
  means_of(design, b, V, names_)
  family_of(design, b, V, df.residual(fit), against_first(names_))
}
general_of("count", glm(y ~ block + treatment, quasipoisson, read("count"), control = exact))
general_of("count_plants_missing", glm(y ~ block + treatment + offset(log(plants)), quasipoisson,
                                       read("count_plants_missing"), control = exact))
general_of("proportion", glm(y / n ~ block + treatment, quasibinomial, read("proportion"),
                             weights = n, control = exact))

# Games & Howell 1976, and Welch 1951, written out
d <- read("games_howell"); x <- split(d$y, d$treatment)
m <- sapply(x, mean); e <- sapply(x, var) / lengths(x); n <- lengths(x)
for (i in 1:3) for (j in (i + 1):4) {
  label <- paste(names(x)[i], "-", names(x)[j]); s <- e[i] + e[j]
  df <- s^2 / (e[i]^2 / (n[i] - 1) + e[j]^2 / (n[j] - 1)); t <- (m[i] - m[j]) / sqrt(s)
  keep("games_howell", "difference", label, m[i] - m[j]); keep("games_howell", "se", label, sqrt(s))
  keep("games_howell", "df pair", label, df); keep("games_howell", "p", label, 2 * pt(-abs(t), df))
  keep("games_howell", "p Tukey", label, ptukey(abs(t) * sqrt(2), 4, df, lower.tail = FALSE))
}
w <- oneway.test(y ~ treatment, d)
keep("games_howell", "Welch", c("F", "df", "p"), c(w$statistic, w$parameter[[2]], w$p.value))

planned <- function(names_) rbind("first against rest" = c(1, -1/4, -1/4, -1/4, -1/4),
                                  "t2 and t3 against t4 and t5" = c(0, .5, .5, -.5, -.5),
                                  "t2 - t3" = c(0, 1, -1, 0, 0))
fit <- lm(y ~ block + treatment, read("planned_contrasts"))
drop_of("planned_contrasts", fit); linear_of("planned_contrasts", fit, planned)

# partners on the log scale: ln(observed / expected)
d <- read("partners_log"); d$treatment <- factor(d$treatment, c("t1", "t2", "t3", "t12"))
linear_of("partners_log", lm(y ~ block + treatment, d),
          function(names_) rbind(departure = c(1, -1, -1, 1)), single_step = FALSE)

# per cent of control: delta method on the log ratio
fit <- lm(y ~ block + treatment, read("per_cent")); m <- emmeans(fit, "treatment")
b <- summary(m)$emmean; K <- against_first(levels(m@grid$treatment)); G <- K %*% diag(1 / b)
l <- drop(K %*% log(b)); se <- sqrt(diag(G %*% vcov(m) %*% t(G))); q <- qt(.975, df.residual(fit))
keep("per_cent", "per cent", rownames(K), 100 * exp(l))
keep("per_cent", "lower", rownames(K), 100 * exp(l - q * se))
keep("per_cent", "upper", rownames(K), 100 * exp(l + q * se))

# split-plot in time
d <- read("over_time"); Y <- as.matrix(d[, c("y1", "y2", "y3", "y4")])
full <- lm(Y ~ treatment, d); null <- lm(Y ~ 1, d)
g <- anova(full, X = ~1, test = "Spherical")
tt <- anova(full, null, X = ~1, test = "Spherical")
C <- contr.helmert(4); C <- sweep(C, 2, sqrt(colSums(C^2)), "/"); S <- t(C) %*% SSD(full)$SSD %*% C
keep("over_time", "epsilon", "", sum(diag(S))^2 / (3 * sum(S^2)))
keep("over_time", "F", "time:treatment", tt[2, "F"]); keep("over_time", "p GG", "time:treatment", tt[2, "G-G Pr"])
keep("over_time", "F", "time", g["(Intercept)", "F"]); keep("over_time", "p GG", "time", g["(Intercept)", "G-G Pr"])
between <- anova(lm(rowMeans(Y) ~ treatment, d))
keep("over_time", "F", "treatment", between[1, "F value"]); keep("over_time", "p(F)", "treatment", between[1, "Pr(>F)"])

linear_of("one_sided", lm(y ~ block + treatment, read("one_sided")), alternative = "less")

# plants in plots: plot means, and the nested table
d <- read("plants_in_plots")
plots <- aggregate(y ~ plot + treatment, d, mean)
linear_of("plants_in_plots", lm(y ~ treatment, plots))
strata <- summary(aov(y ~ treatment + Error(plot), d))
terms_of("plants_in_plots", strata[["Error: plot"]][[1]][1, ])

write.csv(do.call(rbind, rows), file.path(folder, "answers.csv"), row.names = FALSE)
