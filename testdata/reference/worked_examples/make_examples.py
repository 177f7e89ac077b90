#!/usr/bin/env python3
"""Computes the small worked examples and writes their JSON files. Every closed form is checked a second way before it is written.
Run: /usr/bin/python3 make_examples.py      needs python3-mpmath python3-scipy (Debian 12: mpmath 1.2.1, scipy 1.10.1)
"""
import json, os
from fractions import Fraction as F
import mpmath, scipy
from mpmath import mp, mpf
from scipy import stats
mp.dps = 50
here = os.path.dirname(os.path.abspath(__file__))

def save(name, doc, wide=()):
    def enc(v, k, ind):
        if isinstance(v, dict): return "{\n" + ",\n".join(" " * (ind + 2) + json.dumps(a) + ": " + enc(b, a, ind + 2) for a, b in v.items()) + "\n" + " " * ind + "}"
        if isinstance(v, list) and v and isinstance(v[0], dict): return "[\n" + ",\n".join(" " * (ind + 2) + json.dumps(r) for r in v) + "\n" + " " * ind + "]"
        return json.dumps(v)
    open(os.path.join(here, name), "w").write(enc(doc, "", 0) + "\n")

def gauss(A, B):
    n = len(A); M = [[F(t) for t in A[i]] + [F(t) for t in B[i]] for i in range(n)]
    for i in range(n):
        q = next(r for r in range(i, n) if M[r][i] != 0); M[i], M[q] = M[q], M[i]
        d = M[i][i]; M[i] = [t / d for t in M[i]]
        for r in range(n):
            if r != i: f = M[r][i]; M[r] = [a - f * b for a, b in zip(M[r], M[i])]
    return [r[n:] for r in M]

# ---- four robots, four equations
def ls(rows, y, lam=0):
    X = [[int(r in a) for r in (1, 2, 3, 4)] for a in rows]
    A = [[sum(x[i] * x[j] for x in X) + (lam if i == j else 0) for j in range(4)] for i in range(4)]
    b = [r[0] for r in gauss(A, [[sum(x[i] * v for x, v in zip(X, y))] for i in range(4)])]
    return b, sum((v - sum(b[i] * x[i] for i in range(4))) ** 2 for x, v in zip(X, y))
rows, y = [[1, 2, 3], [1, 3, 4], [1, 2, 4], [2, 3, 4]], [9, 8, 8, 6]
b, rss = ls(rows, y); assert b == [F(13, 3), F(7, 3), F(7, 3), F(4, 3)] and rss == 0
b5, rss5 = ls(rows + [[1, 2, 3]], y + [12]); br, rssr = ls(rows, y, 1)
s = lambda v: [str(t) for t in v]; fl = lambda v: [float(t) for t in v]
save("four_robots.json", {
    "source": "System of the question on a public mathematics forum, January 2013 (from memory, not looked up): which part of each alliance's score is each robot's. Solved here by hand and in exact fractions.",
    "alliances": rows, "scores": y,
    "by_hand": "Every robot is in 3 of the 4 alliances, so the four scores add to 3 (x1+x2+x3+x4) = 31 and the total is 31/3. The robot that an alliance lacks has 31/3 minus that alliance's score: x4 = 31/3-9, x2 = 31/3-8, x3 = 31/3-8, x1 = 31/3-6.",
    "solution": s(b), "solution_decimal": fl(b), "residual_sum_of_squares": str(rss),
    "overdetermined": {"note": "own extension: {1,2,3} plays again and scores 12; least squares over five equations, in exact fractions", "alliances": rows + [[1, 2, 3]], "scores": y + [12], "solution": s(b5), "solution_decimal": fl(b5), "residual_sum_of_squares": str(rss5)},
    "ridge": {"note": "own extension: the four equations, minimise |y - Xb|^2 + lambda |b|^2 with lambda 1, no intercept", "lambda": 1, "solution": s(br), "solution_decimal": fl(br), "residual_sum_of_squares": str(rssr)}})

# ---- Gaussian CRPS
Phi = lambda z: mp.ncdf(z); phi = lambda z: mp.npdf(z)
def crps(mu, sg, y):
    z = (y - mu) / sg
    return sg * (z * (2 * Phi(z) - 1) + 2 * phi(z) - 1 / mp.sqrt(mp.pi))
cases, worst = [], mpf(0)
for mu, sg, yy in (("0", "1", "0"), ("0", "1", "1"), ("0", "1", "-1"), ("0", "1", "3"), ("0", "2", "1"), ("88.1", "14.2", "96"), ("88.1", "14.2", "71"), ("100", "25", "100"), ("50", "0.5", "60"), ("-3", "0.01", "-3.005"), ("10", "1e-6", "12")):
    m, g, t = mpf(mu), mpf(sg), mpf(yy); c = crps(m, g, t)
    z = (t - m) / g                                      # definition, in units of sigma: int (Phi(u) - 1{u>=z})^2 du
    pts = lambda a, bb: [a + (bb - a) * k / 40 for k in range(41)]
    lo, hi = min(mpf(-40), z), max(mpf(40), z)
    left = mp.quad(lambda u: Phi(u) ** 2, pts(max(mpf(-40), lo), min(z, mpf(40)))) + (max(z - 40, 0))
    right = mp.quad(lambda u: Phi(-u) ** 2, pts(max(z, mpf(-40)), mpf(40))) + (max(-40 - z, 0))
    num = g * (left + right); worst = max(worst, abs(num - c) / max(abs(c), mpf("1e-30")))
    ls_ = mp.log(g) + mp.log(2 * mp.pi) / 2 + z * z / 2
    cases.append({"mean": float(mu), "sd": float(sg), "observation": float(yy), "crps": float(c), "by_integration": float(num), "log_score": float(ls_)})
assert worst < mpf(10) ** -12, worst
save("crps_normal.json", {
    "source": "Closed form: Gneiting, Raftery, Westveld, Goldman (2005), Calibrated probabilistic forecasting using ensemble model output statistics and minimum CRPS estimation, Monthly Weather Review 133, 1098-1118 (formula from memory). Values: mpmath 1.2.1, 50 digits, rounded to double; by_integration: numeric integral of (F(x) - 1{x >= y})^2 with mpmath.quad, largest relative difference %s." % mp.nstr(worst, 2),
    "formula": "crps = sd * (z (2 Phi(z) - 1) + 2 phi(z) - 1/sqrt(pi)), z = (y - mean) / sd; units of y, smaller is better; tends to |y - mean| as sd tends to 0. log_score = -ln of the normal density at y.",
    "cases": cases})

# ---- normal distribution
def t15(v, d):                                            # exactly d decimals, rounded half up
    k = int(mp.floor(v * mpf(10) ** d + mpf(1) / 2)); return "%d.%0*d" % (k // 10 ** d, d, k % 10 ** d)
assert t15(Phi(1), 15) == "0.841344746068543" and t15(Phi(2), 15) == "0.977249868051821" and t15(Phi(3), 15) == "0.998650101968370"   # book values, from memory
tab = [{"x": float(mpf(k) / 50), "P": t15(Phi(mpf(k) / 50), 15), "Z": t15(phi(mpf(k) / 50), 15)} for k in range(0, 151)]
tab += [{"x": float(3 + mpf(k) / 20), "P": t15(Phi(3 + mpf(k) / 20), 10), "Z": t15(phi(3 + mpf(k) / 20), 10)} for k in range(1, 41)]
tail = []
for x in ("-38", "-37", "-30", "-20", "-10", "-8", "-6", "-5", "-3", "-2", "-1", "-0.5", "-1e-10", "1e-10", "0.5", "1", "2", "5", "6", "8"):
    X = mpf(x); P = Phi(X); assert abs(P - stats.norm.cdf(float(X))) <= 1e-12 * P + mpf(10) ** -307, x
    tail.append({"x": float(x), "cdf": float(P), "upper": float(mp.erfc(X / mp.sqrt(2)) / 2), "log_cdf": float(mp.log(P))})
quant = []
for p in ("1e-300", "1e-100", "1e-20", "1e-10", "1e-5", "0.001", "0.005", "0.01", "0.025", "0.05", "0.1", "0.2", "0.25", "0.4", "0.5", "0.6", "0.75", "0.8", "0.9", "0.95", "0.975", "0.99", "0.995", "0.999", "0.9999999"):
    P = mpf(float(p)); z = mpf(stats.norm.ppf(float(p)))
    for _ in range(4): z = z if phi(z) == 0 else z - (Phi(z) - P) / phi(z)
    assert abs(Phi(z) - P) <= P * mpf(10) ** -30
    quant.append({"p": float(p), "z": float(z)})
save("normal.json", {
    "source": "Abramowitz & Stegun, Handbook of Mathematical Functions (1964), Table 26.1: P(x) and Z(x). The grid and the number of decimals are the table's (0 to 3 by 0.02 with 15 decimals, 3 to 5 by 0.05 with 10, from memory); the digits were computed here with mpmath 1.2.1 at 50 digits and rounded half up, not copied from the book (P(1), P(2), P(3) agree with the book's as remembered). tails and quantiles: the same, correctly rounded to double; the cdf cross-checked against scipy 1.10.1.",
    "note": "P and Z are text so that trailing zeros stay. quantiles are of the double nearest to p.",
    "table": tab, "tails": tail, "quantiles": quant})

# ---- Brier score, its decomposition, logarithmic score
groups = [(F(1, 10), 5, 1), (F(4, 10), 5, 2), (F(6, 10), 4, 3), (F(9, 10), 6, 5)]          # forecast, cases, events
N = sum(g[1] for g in groups); ob = F(sum(g[2] for g in groups), N)
bs = sum(k * (p - 1) ** 2 + (n - k) * p ** 2 for p, n, k in groups) / N
rel = sum(n * (p - F(k, n)) ** 2 for p, n, k in groups) / N
res = sum(n * (F(k, n) - ob) ** 2 for p, n, k in groups) / N; unc = ob * (1 - ob)
assert bs == rel - res + unc
lg = -sum(k * mp.log(mpf(p.numerator) / p.denominator) + (n - k) * mp.log(1 - mpf(p.numerator) / p.denominator) for p, n, k in groups) / N
ties = [("0.64", "0.35", "0.01", 1), ("0.50", "0.48", "0.02", 0), ("0.30", "0.66", "0.04", "1/2"), ("0.90", "0.10", "0", 1)]
tb = [(F(r) + F(t) / 2 - F(o)) ** 2 for r, b_, t, o in ties]
save("brier.json", {
    "source": "Murphy, A. H. (1973), A new vector partition of the probability score, Journal of Applied Meteorology 12, 595-600: Brier = reliability - resolution + uncertainty. The forecasts are made up; all values by hand, checked in exact fractions.",
    "forecasts": [{"probability": str(p), "cases": n, "events": k} for p, n, k in groups],
    "cases": N, "base_rate": str(ob),
    "brier": str(bs), "reliability": str(rel), "resolution": str(res), "uncertainty": str(unc),
    "decimal": {"brier": float(bs), "reliability": float(rel), "resolution": float(res), "uncertainty": float(unc), "skill_score": float(1 - bs / unc), "mean_log_loss": float(lg)},
    "by_hand": "Brier, per group: events (1-p)^2 + (cases-events) p^2 = 0.81+0.04 = 0.85; 2(0.36)+3(0.16) = 1.20; 3(0.16)+1(0.36) = 0.84; 5(0.01)+1(0.81) = 0.86; sum 3.75, over 20 is 0.1875. Reliability: n (p - events/n)^2 = 5(0.1-0.2)^2 = 1/20; 0; 4(0.6-0.75)^2 = 9/100; 6(9/10-5/6)^2 = 2/75. Base rate 11/20, uncertainty 99/400.",
    "with_ties": {"note": "own extension: (red_win + tie/2 - outcome)^2 with outcome 1, 1/2 or 0 for red win, tie, blue win", "rows": [{"red_win": float(r), "blue_win": float(b_), "tie": float(t), "outcome": float(F(o)), "score": str(v)} for (r, b_, t, o), v in zip(ties, tb)], "mean": str(sum(tb) / 4), "mean_decimal": float(sum(tb) / 4)}})
assert bs == F(3, 16)

# ---- binomial proportion
def beta_q(p, a, b):
    if a == 0: return mpf(0)
    if b == 0: return mpf(1)
    x = mpf(stats.beta.ppf(float(p), float(a), float(b)))
    lb = mp.log(mp.beta(a, b)); f = lambda t: mp.betainc(a, b, 0, t, regularized=True) - p
    for _ in range(4): x = x - f(x) / mp.exp((a - 1) * mp.log(x) + (b - 1) * mp.log(1 - x) - lb)
    assert abs(f(x)) < mpf(10) ** -25; return x
pub = {(81, 263): ("0.2553 0.3662", "0.2527 0.3676"), (15, 148): ("0.0624 0.1605", "0.0578 0.1617"), (0, 20): ("0.0000 0.1611", "0.0000 0.1684"), (1, 29): ("0.0061 0.1718", "0.0009 0.1776")}
out, wr = [], 0.0
for x, n, c in [(81, 263, "0.95"), (15, 148, "0.95"), (0, 20, "0.95"), (1, 29, "0.95"), (29, 29, "0.95"), (0, 1, "0.95"), (1, 1, "0.95"), (1, 10, "0.95"), (5, 10, "0.95"), (7, 12, "0.9"), (7, 12, "0.8"), (33, 48, "0.95"), (0, 12, "0.8"), (500, 1000, "0.99")]:
    al = 1 - mpf(c); z = mp.sqrt(2) * mp.erfinv(mpf(c)); p = mpf(x) / n
    h = z * mp.sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n); mid = (p + z * z / (2 * n)) / (1 + z * z / n)
    w = (max(mid - h, mpf(0)) if x else mpf(0), min(mid + h, mpf(1)) if x < n else mpf(1))
    cp = (beta_q(al / 2, mpf(x), mpf(n - x + 1)) if x else mpf(0), beta_q(1 - al / 2, mpf(x + 1), mpf(n - x)) if x < n else mpf(1))
    raw = (beta_q(al / 2, x + mpf(1) / 2, n - x + mpf(1) / 2), beta_q(1 - al / 2, x + mpf(1) / 2, n - x + mpf(1) / 2))
    jf = (mpf(0) if x == 0 else raw[0], mpf(1) if x == n else raw[1])
    t = stats.binomtest(x, n)
    for got, meth in ((w, "wilson"), (cp, "exact")):
        ci = t.proportion_ci(float(c), meth); wr = max(wr, abs(ci.low - float(got[0])), abs(ci.high - float(got[1])))
    sj = stats.beta.ppf([float(al / 2), 1 - float(al / 2)], x + .5, n - x + .5); wr = max(wr, abs(sj[0] - float(raw[0])), abs(sj[1] - float(raw[1])))
    row = {"successes": x, "trials": n, "confidence": float(c), "wilson": fl(w), "clopper_pearson": fl(cp), "jeffreys": fl(jf), "jeffreys_equal_tailed": fl(raw)}
    if (x, n) in pub:
        for v, q in zip(pub[x, n], (w, cp)): assert ["%.4f" % float(u) for u in q] == v.split(), (x, n, v, fl(q))
        row["published_4_decimals"] = dict(zip(("wilson", "clopper_pearson"), pub[x, n]))
    out.append(row)
assert wr < 1e-12, wr
save("binomial_intervals.json", {
    "source": "Wilson (1927), Clopper & Pearson (1934), Jeffreys prior Beta(1/2,1/2). Values: mpmath 1.2.1 at 50 digits, rounded to double; they agree with scipy 1.10.1 (binomtest.proportion_ci wilson and exact, beta.ppf) to %.0e. published_4_decimals: Newcombe (1998), Statistics in Medicine 17, 857-872, Table I, methods 3 and 5, figures from memory, all confirmed by the computation." % wr,
    "conventions": "two-sided, equal tails. jeffreys has the usual ends (Brown, Cai, DasGupta 2001): lower 0 at no success, upper 1 at no failure; jeffreys_equal_tailed is the plain pair of Beta(x+1/2, n-x+1/2) quantiles without that change. Wilson ends are exactly 0 and 1 there too (no continuity correction).",
    "cases": out})
print("CRPS integration, worst relative difference", mp.nstr(worst, 3), "| binomial against scipy", wr, "| brier", bs, rel, res, unc, float(bs))
