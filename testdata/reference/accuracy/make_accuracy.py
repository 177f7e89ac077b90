#!/usr/bin/env python3
"""Writes accuracy.json: shares of shots that counted, shots clustered by match.

For each case scipy 1.10.1 (Debian 12: python3-scipy) integrates

    prod_k betabinom(made_k; tries_k, p (1 - rho) / rho, (1 - p) (1 - rho) / rho) * beta(p; 1/2, 1/2)

over p = sin(t)^2, in which the prior is flat, and finds where 10 % and 90 % of it lie.
rho is the correlation of two shots of one match.
"""
import json, math, os
import numpy as np, scipy
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.stats import betabinom, binom

cases = [
    {"name": "misses 5 to 10 %", "made": [11, 12, 9, 10, 14, 11, 10, 12, 13, 11], "tries": [12, 12, 10, 11, 15, 12, 11, 12, 15, 12], "rho": 0.05},
    {"name": "the same, shots almost independent", "made": [11, 12, 9, 10, 14, 11, 10, 12, 13, 11], "tries": [12, 12, 10, 11, 15, 12, 11, 12, 15, 12], "rho": 1e-6},
    {"name": "the same, matches alike in themselves", "made": [11, 12, 9, 10, 14, 11, 10, 12, 13, 11], "tries": [12, 12, 10, 11, 15, 12, 11, 12, 15, 12], "rho": 0.3},
    {"name": "two matches", "made": [3, 6], "tries": [8, 7], "rho": 0.1},
    {"name": "few shots", "made": [2, 1], "tries": [3, 2], "rho": 0.1},
    {"name": "good and bad matches", "made": [8, 0, 9, 1, 7], "tries": [9, 8, 9, 7, 9], "rho": 0.4},
    {"name": "many", "made": [30, 41, 38, 25, 44, 36], "tries": [50, 60, 52, 45, 61, 50], "rho": 0.02},
]
for c in cases:
    rho, pairs = c["rho"], list(zip(c["made"], c["tries"]))

    def log_density(t):
        p = math.sin(t) ** 2
        a, b = p * (1 - rho) / rho, (1 - p) * (1 - rho) / rho
        return sum(betabinom.logpmf(m, n, a, b) for m, n in pairs)

    grid = np.linspace(1e-6, math.pi / 2 - 1e-6, 4001)
    top = grid[np.argmax([log_density(t) for t in grid])]
    peak = log_density(top)
    f = lambda t: math.exp(log_density(t) - peak)

    def mass(lo, hi):
        cuts = [x for x in (top - 0.2, top - 0.05, top, top + 0.05, top + 0.2) if lo < x < hi]
        edges = [lo] + cuts + [hi]
        return sum(quad(f, a, b, epsabs=1e-14, epsrel=1e-11, limit=200)[0] for a, b in zip(edges, edges[1:]))

    whole = mass(1e-9, math.pi / 2 - 1e-9)
    at = lambda q: math.sin(brentq(lambda t: mass(1e-9, t) / whole - q, 1e-8, math.pi / 2 - 1e-8, xtol=1e-12)) ** 2
    c["interval_80"] = [at(0.1), at(0.9)]
# Moments of the law itself, for the check of its variance: n p (1-p) (1 + (n-1) rho).
v = betabinom.var(12, 0.93 * 19, 0.07 * 19)
assert abs(v - 12 * 0.93 * 0.07 * (1 + 11 / 20)) < 1e-12
out = {"source": "scipy %s, make_accuracy.py; equal tails of 80 %%, prior Beta(1/2, 1/2)" % scipy.__version__, "cases": cases}
with open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "accuracy.json"), "w") as to:
    json.dump(out, to, indent=1)
for c in cases:
    print(c["name"], c["interval_80"])
