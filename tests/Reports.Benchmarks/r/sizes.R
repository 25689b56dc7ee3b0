# What the reference cases' own R routines take on this machine, on data like those of SizesBenchmarks.
# Rscript tests/Reports.Benchmarks/r/sizes.R        (r-base-core, r-cran-lsei)
library(lsei)
here <- "tests/Reports.Statistics.Tests/reference"
for (file in c("lib.R", "hier.R")) { # the estimators only, not the packages that other groups of cases need
  text <- readLines(file.path(here, file)); eval(parse(text = text[!grepl("library\\(", text)]), globalenv()) }
draw <- function(lines, rounding, seed = 1) { set.seed(seed)
  do.call(rbind, lapply(seq_len(lines), function(i) {
    n <- 1 + rnbinom(1, size = 2, mu = 7); heavy <- rbinom(n, 1, rbeta(1, .25 * 1.2, .75 * 1.2))
    x <- ifelse(heavy == 1, rlnorm(n, log(205), .12), rlnorm(n, log(32), .25))
    data.frame(n = n, a = max(rounding, round(min(x) / rounding) * rounding), b = max(rounding, round(max(x) / rounding) * rounding), w = 2^(-(i %% 28) / 10)) })) }
seconds <- function(code) unname(system.time(code)["elapsed"])
for (lines in c(200, 2000)) for (rounding in c(1, 5)) { d <- draw(lines, rounding); o <- expand(d, "ends_exact", rounding)
  cat(sprintf("NPMLE, cases' own CNM, %5d lines, rounded to %d: %.2f s (gap %.1e)\n", lines, rounding, seconds(f <- npmle(o)), f$kkt_gap)) }
if (exists("mm_fit")) { d <- draw(400, 5); cat(sprintf("hierarchical two groups, cases' own, 400 lines: %.1f s\n", seconds(hier_fit(d, 5)))) }
