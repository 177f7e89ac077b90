# Times lme4's REML on the totals of an event: peer.R FOLDER. One line: name, milliseconds (median), note.
# Three robots belong to each row, so the model matrix of the random effects is
# put in by hand between lme4's steps.
suppressPackageStartupMessages({
  library(lme4)
  library(Matrix)
})
folder <- commandArgs(TRUE)[1]
table <- read.csv(file.path(folder, "event.csv"))
own <- as.matrix(table[, c("a", "b", "c")]) + 1
rows <- nrow(own)
robots <- max(own)
member <- sparseMatrix(i = c(own), j = rep(seq_len(rows), 3), x = 1, dims = c(robots, rows))
lenient <- lmerControl(check.nobs.vs.nlev = "ignore", check.nobs.vs.nRE = "ignore")
found <- NULL
once <- function() {
  data <- data.frame(score = as.numeric(table$score), robot = factor(rep_len(seq_len(robots), rows)))
  steps <- lFormula(score ~ 1 + (1 | robot), data, REML = TRUE, control = lenient)
  rownames(member) <- rownames(steps$reTrms$Zt)
  steps$reTrms$Zt <- as(member, "CsparseMatrix")
  deviance <- do.call(mkLmerDevfun, steps)
  best <- optimizeLmer(deviance, optimizer = "bobyqa")
  fit <- mkMerMod(environment(deviance), best, steps$reTrms, fr = steps$fr)
  found <<- sprintf("R %s, lme4 %s, variances %.3f and %.3f", getRversion(), packageVersion("lme4"),
                    as.numeric(VarCorr(fit)$robot), sigma(fit)^2)
}
once()
took <- replicate(21, {
  began <- Sys.time()
  once()
  1000 * as.numeric(Sys.time() - began, units = "secs")
})
cat(sprintf("event REML\t%.3f\t%s\n", median(took), found))
