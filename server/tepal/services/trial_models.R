# ---- From here on the script is the same for every trial. ------------------------------------
# Base R fits the models, emmeans gives the least-squares means, multcomp the multivariate t.
# Split-plots are fitted by aov with the whole plots as error stratum, where no plot is missing.
suppressPackageStartupMessages({library(multcomp); library(emmeans)})
options(contrasts = c("contr.sum", "contr.poly"), digits = 10, width = 120)
set.seed(20260101)
all <- read.csv(table_file, colClasses = c(assessment = "character", block = "character",
  treatment = "character", whole_plot = "character", square_row = "character",
  square_column = "character"), na.strings = "")
answers <- list()
keep <- function(cell, quantity, label, estimate, se = NA, df = NA, p = NA)
  answers[[length(answers) + 1]] <<- data.frame(cell, quantity, label, estimate, se, df, p)

by_number <- function(x) factor(x, levels = as.character(sort(unique(as.numeric(x)))))

differences <- function(cell, quantity, b, V, df, K, alternative = "two.sided", family = FALSE) {
  d <- drop(K %*% b); se <- sqrt(diag(K %*% V %*% t(K))); t <- d / se
  p <- switch(alternative, two.sided = 2 * pt(-abs(t), df), less = pt(t, df),
              greater = pt(t, df, lower.tail = FALSE))
  keep(cell, quantity, rownames(K), d, se, df, p)
  whole <- abs(df - round(df)) < 1e-6  # multcomp takes no broken degrees of freedom
  if (family && nrow(K) > 1 && whole) {
    df <- round(df)
    fit <- glht(parm(coef = b, vcov = V, df = df), linfct = K, alternative = alternative)
    p <- summary(fit, test = adjusted("single-step", abseps = 1e-4, maxpts = 1e5))$test$pvalues
    keep(cell, paste(quantity, "(family)"), rownames(K), d, se, df, as.numeric(p))
  }
}

model_of <- function(d) {
  d$treatment <- by_number(d$treatment)
  terms <- character(0)
  if (all(!is.na(d$square_row))) {
    d$square_row <- factor(d$square_row); d$square_column <- factor(d$square_column)
    terms <- c("square_row", "square_column")
    if (length(unique(d$block)) > 1) {  # rows and columns within squares
      d$block <- factor(d$block); terms <- c("block * square_row", "block * square_column")
    }
  } else if (all(!is.na(d$block))) { d$block <- factor(d$block); terms <- "block" }
  if (d$covariate_used[1] == "yes") terms <- c(terms, "covariate")
  right <- paste(c(terms, "treatment"), collapse = " + ")
  if (d$type[1] == "count") {
    d$offset_ <- log(d$n_plants)
    f <- as.formula(paste("total ~", right, "+ offset(offset_)"))
    fit <- eval(bquote(glm(.(f), family = quasipoisson, data = d, epsilon = 1e-14, maxit = 100)))
  } else if (d$type[1] == "proportion") {
    d$share <- d$total / d$n_plants
    f <- as.formula(paste("share ~", right))
    fit <- eval(bquote(glm(.(f), family = quasibinomial, weights = n_plants, data = d,
                           epsilon = 1e-14, maxit = 100)))
  } else {
    f <- as.formula(paste("value ~", right))
    fit <- eval(bquote(lm(.(f), data = d)))
  }
  list(fit = fit, without = eval(bquote(update(.(fit), . ~ . - treatment, data = d))), data = d)
}

# The means of a split-plot: whole plots are the error stratum of the first factor. Where they vary
# less than the plots within them their component is zero, as REML has it: one error for all.
split_plot <- function(cell, d) {
  f <- paste0("f", seq_len(ncol(levels_)))
  for (i in seq_along(f)) d[[f[i]]] <- factor(levels_[d$treatment, i], unique(levels_[, i]))
  has_blocks <- all(!is.na(d$block))
  d$whole <- factor(if (has_blocks) paste(d$block, d$whole_plot) else d$whole_plot)
  right <- paste(c(if (has_blocks) "block", paste(f, collapse = " * ")), collapse = " + ")
  d$block <- factor(d$block)
  model <- as.formula(paste("value ~", right, "+ Error(whole)"))
  fit <- eval(bquote(aov(.(model), data = d)))
  strata <- lapply(summary(fit), function(stratum) as.data.frame(stratum[[1]]))
  left <- unlist(lapply(strata, function(x) x$`Mean Sq`[trimws(rownames(x)) == "Residuals"]))
  if (length(left) == 2 && left[1] <= left[2]) {
    cat("\n", cell, ": the component of the whole plots is zero; one error for all.\n")
    fit <- eval(bquote(lm(.(as.formula(paste("value ~", right))), data = d)))
    strata <- list(as.data.frame(anova(fit)))
    names(strata[[1]]) <- c("Df", "Sum Sq", "Mean Sq", "F value", "Pr(>F)")
  }
  for (lines_ in strata) {
    rows <- trimws(rownames(lines_))
    if (is.null(lines_$`F value`)) next
    for (i in which(!is.na(lines_$`F value`) & rows != "block")) {
      label <- paste(factors_[match(strsplit(rows[i], ":")[[1]], f)], collapse = ":")
      keep(cell, "F", label, lines_$`F value`[i], NA, lines_$Df[i], lines_$`Pr(>F)`[i])
      keep(cell, "error df of F", label, lines_$Df[rows == "Residuals"])
    }
  }
  grid <- emmeans(fit, f, nesting = NULL)
  shown <- as.data.frame(summary(grid))
  at <- sapply(seq_len(nrow(shown)), function(i)
    rownames(levels_)[apply(levels_, 1, function(x) all(x == sapply(shown[i, f], as.character)))])
  order_ <- order(as.numeric(at))
  # one df for all comparisons: the smallest among the pairs
  pairs_ <- as.data.frame(summary(pairs(grid), adjust = "none"))
  list(b = shown$emmean[order_], V = unname(vcov(grid))[order_, order_], df = min(pairs_$df),
       df_mean = shown$df[order_], names = at[order_])
}

for (cell in unique(all$cell)) {
  d <- all[all$cell == cell & !is.na(all$value), ]
  if (nrow(d) == 0 || d$type[1] == "rating") next
  is_split <- any(!is.na(d$whole_plot))
  if (is_split && (!(d$type[1] %in% c("continuous", "days")) || is.null(levels_) ||
                   nrow(d) < sum(all$cell == cell) || d$covariate_used[1] == "yes" ||
                   length(unique(table(d$treatment))) > 1)) {
    cat("\n", cell, ": a split-plot with a missing plot, a covariate, counts or no factors has no",
        "clean error strata in aov; not fitted here.\n")
    next
  }
  if (d$type[1] %in% c("count", "proportion")) {
    sums <- tapply(d$total, d$treatment, sum)
    room <- if (d$type[1] == "proportion") tapply(d$n_plants, d$treatment, sum) else Inf
    d <- d[d$treatment %in% names(sums)[sums > 0 & sums < room], ]
  }
  if (length(unique(d$treatment)) < 2) next
  if (is_split) {
    m <- split_plot(cell, d)
    b <- m$b; V <- m$V; df <- m$df; names_ <- m$names
    keep(cell, "mean", names_, b, sqrt(diag(V)), m$df_mean)
  } else {
    m <- model_of(d); fit <- m$fit
    test <- anova(m$without, fit, test = "F")
    keep(cell, "F", "treatment", test$F[2], NA, abs(test$Df[2]), test$`Pr(>F)`[2])
    keep(cell, "error", "df", df.residual(fit))
    keep(cell, "error", "dispersion", if (inherits(fit, "glm")) summary(fit)$dispersion else sigma(fit)^2)
    means <- emmeans(fit, "treatment", offset = 0, nesting = NULL)  # a mean per plant
    b <- as.data.frame(summary(means))$emmean; V <- unname(vcov(means)); df <- df.residual(fit)
    names_ <- levels(m$data$treatment)
    keep(cell, "mean", names_, b, sqrt(diag(V)), df)
  }
  if (control %in% names_) {
    K <- diag(length(names_)); K[, names_ == control] <- K[, names_ == control] - 1
    K <- K[names_ != control, , drop = FALSE]
    rownames(K) <- paste(names_[names_ != control], "-", control)
    side <- if (d$measurement[1] == primary) alternative else "two.sided"
    differences(cell, "against the control", b, V, df, K, side, family = TRUE)
  }
  for (name in names(planned)) if (all(names(planned[[name]]) %in% names_)) {
    K <- matrix(0, 1, length(names_), dimnames = list(name))
    K[1, match(names(planned[[name]]), names_)] <- planned[[name]]
    differences(cell, "contrast", b, V, df, K)
  }
  for (four in partners) if (all(four %in% names_)) {
    K <- matrix(0, 1, length(names_), dimnames = list(paste(four[4], "over", four[2], "and", four[3])))
    K[1, match(four, names_)] <- c(1, -1, -1, 1)
    if (scale == "absolute" && d$type[1] %in% c("continuous", "days")) {
      differences(cell, "departure from the expectation", b, V, df, K)
    } else {
      logs <- if (d$type[1] == "count") b else log(b)
      W <- if (d$type[1] == "count") V else V / outer(b, b)
      if (scale == "multiplicative" && all(is.finite(logs)))
        differences(cell, "departure from the expectation", logs, W, df, K)
    }
  }
}
answers <- do.call(rbind, answers)
print(answers, row.names = FALSE)
write.csv(format(answers, digits = 15, trim = TRUE), answers_file, row.names = FALSE)
