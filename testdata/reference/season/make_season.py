#!/usr/bin/env python3
"""Writes season.json: an invented season and its least-squares solution.

Debian 12: python3-numpy 1.24.2, python3-scipy 1.10.1. The alliances are the
record; running this again must give the same file up to the last digits of the
solutions. Invented on purpose: two robots that only ever play together, four
robots of which one pair only meets the other, a robot without a match.
"""
import json, os, random
import numpy as np
import scipy.sparse as sparse
from scipy.sparse.linalg import lsqr

rng = random.Random(4711)
robots, rows, scores = 160, [], []
skill = [rng.gauss(20, 8) for _ in range(robots)]
for _ in range(420):  # 0..151 play freely; 150 and 151 only together
    pool = rng.sample(range(150), 6)
    for side in (pool[:3], pool[3:]):
        if rng.random() < 0.05:
            side = [side[0], 150, 151]
        rows.append(side)
for a, b in [(152, 154), (152, 155), (153, 154), (153, 155)] * 3:  # 152, 153 against 154, 155
    rows.append([a, b])
for side in ([156, 157, 158], [156, 157], [157, 158], [156, 158]):  # apart, and told exactly
    rows.append(side)  # 159 never plays
for r in rows:
    scores.append(round(sum(skill[j] for j in r) + rng.gauss(0, 14)))

x = sparse.lil_matrix((len(rows), robots))
for i, r in enumerate(rows):
    for j in r:
        x[i, j] = 1
x = x.tocsr()
y = np.array(scores, float)
_, s, vt = np.linalg.svd(x.toarray())
rank = int((s > 1e-9 * s[0]).sum())
inside = (vt[:rank] ** 2).sum(axis=0)  # squared length of the unit vector's part in the row space
dense = np.linalg.lstsq(x.toarray(), y, rcond=None)[0]
iterative = lsqr(x, y, atol=1e-13, btol=1e-13, conlim=1e13, iter_lim=20000)
assert np.abs(dense - iterative[0]).max() < 1e-8, np.abs(dense - iterative[0]).max()
json.dump({
    "source": "invented by make_season.py; solution: numpy %s lstsq (SVD); lsqr: scipy %s, atol = btol = 1e-13, least norm; determined: the unit vector lies in the row space" % (np.__version__, __import__("scipy").__version__),
    "robots": robots, "rank": rank, "alliances": rows, "scores": scores,
    "determined": [bool(v > 1 - 1e-9) for v in inside],
    "solution": dense.tolist(), "lsqr": iterative[0].tolist(), "residual_norm": float(np.linalg.norm(x @ dense - y)),
}, open(os.path.join(os.path.dirname(os.path.abspath(__file__)), "season.json"), "w"), separators=(",", ":"))
print(len(rows), rank, sum(v > 1 - 1e-9 for v in inside), iterative[2])
