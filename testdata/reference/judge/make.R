# Makes judge.json: run as  Rscript make.R >judge.json
# 1 citations: the data and fit of R's package BradleyTerry2, help page "citations"
#   (Agresti, Categorical Data Analysis; data from Stigler 1994): paired data.
# 2 pairs: invented paired data with ties as half a win each, by BTm.
# 3 sets: invented best-worst judgements of six of ten, by base R's glm: a
#   conditional logit is a Poisson model with one intercept a choice.
# 4 penalised: the same with a normal prior of sd 1, by optim on the likelihood
#   written out here, curvature by optimHess.
suppressMessages(library(BradleyTerry2))
js <- function(x) paste0("[", paste(trimws(formatC(x, digits = 10, format = "g")), collapse = ", "), "]")
data("citations", package = "BradleyTerry2")
cit <- countsToBinomial(citations)
names(cit)[1:2] <- c("a", "b")
m1 <- BTm(cbind(win1, win2), a, b, data = cit)
lev <- levels(cit$a)
set.seed(11)
n <- 6
p <- t(combn(n, 2))
truth <- c(1.2, .6, .3, 0, -.5, -1)
games <- 8
w1 <- rbinom(nrow(p), games, plogis(truth[p[, 1]] - truth[p[, 2]]))
ties <- rbinom(nrow(p), 2, .5)
d <- data.frame(w1 = w1 + ties / 2, w2 = games - w1 + ties / 2,
                a = factor(p[, 1], levels = 1:n), b = factor(p[, 2], levels = 1:n))
m2 <- suppressWarnings(BTm(cbind(w1, w2), a, b, data = d))
k <- 10
u <- seq(1.5, -1.5, length.out = k)
sets <- t(sapply(1:60, function(i) sort(sample(k, 6))))
best <- apply(sets, 1, function(s) sample(s, 1, prob = exp(u[s])))
worst <- sapply(1:60, function(i) { r <- setdiff(sets[i, ], best[i]); sample(r, 1, prob = exp(-u[r])) })
rows <- list(); stratum <- 0
for (i in 1:60) {
  stratum <- stratum + 1
  for (j in sets[i, ]) { x <- numeric(k); x[j] <- 1; rows[[length(rows) + 1]] <- c(stratum, j == best[i], x) }
  stratum <- stratum + 1
  for (j in setdiff(sets[i, ], best[i])) { x <- numeric(k); x[j] <- -1; rows[[length(rows) + 1]] <- c(stratum, j == worst[i], x) }
}
rows <- do.call(rbind, rows)
m3 <- glm(rows[, 2] ~ 0 + factor(rows[, 1]) + rows[, 4:(k + 2)], family = poisson,
          control = glm.control(epsilon = 1e-14, maxit = 100))
at <- (length(coef(m3)) - k + 2):length(coef(m3))
target <- function(u) {
  s <- sum(u^2) / 2
  for (i in 1:60) {
    r <- setdiff(sets[i, ], best[i])
    s <- s - u[best[i]] + log(sum(exp(u[sets[i, ]]))) + u[worst[i]] + log(sum(exp(-u[r])))
  }
  s
}
o <- optim(numeric(k), target, method = "BFGS", control = list(reltol = 1e-16, maxit = 1000))
h <- solve(optimHess(o$par, target))
se1 <- sqrt(diag(vcov(m1))); se2 <- sqrt(diag(vcov(m2)))
cat("{\n \"made_by\": \"", R.version.string, ", BradleyTerry2 ", as.character(packageVersion("BradleyTerry2")), "\",\n", sep = "")
pairs <- function(x, a, b, lev) paste(sprintf("[%d, %d, %g, %g]", match(a, lev) - 1, match(b, lev) - 1, x[, 1], x[, 2]), collapse = ", ")
cat(" \"citations\": {\"robots\": ", length(lev), ", \"pairs\": [", pairs(cbind(cit$win1, cit$win2), cit$a, cit$b, lev), "],\n  \"ability\": ", js(coef(m1)), ",\n  \"se\": ", js(se1), "},\n", sep = "")
cat(" \"pairs\": {\"robots\": ", n, ", \"ties\": ", js(ties), ", \"pairs\": [", pairs(cbind(w1, games - w1), p[, 1], p[, 2], 1:n), "],\n  \"ability\": ", js(coef(m2)), ",\n  \"se\": ", js(se2), "},\n", sep = "")
cat(" \"sets\": {\"robots\": ", k, ", \"sets\": [", paste(apply(sets - 1, 1, js), collapse = ", "), "],\n  \"best\": ", js(best - 1), ",\n  \"worst\": ", js(worst - 1), ",\n", sep = "")
cat("  \"worth\": ", js(coef(m3)[at]), ",\n  \"se\": ", js(sqrt(diag(vcov(m3)))[at]), ",\n", sep = "")
cat("  \"penalised\": ", js(o$par), ",\n  \"penalised_se\": ", js(sqrt(diag(h))), "}\n}\n", sep = "")
