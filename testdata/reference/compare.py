#!/usr/bin/env python3
"""Prints the largest differences between reference values: compare.py STORED AGAIN OURS.json

STORED and AGAIN are folders of the same form, OURS.json is what the Go test
TestWriteReference wrote. Differences are relative, or absolute below 1.
"""
import glob, json, os, sys

stored, again, ours = sys.argv[1:]


def flat(v, at=""):
    if isinstance(v, dict):
        for k, x in v.items():
            yield from flat(x, at + "." + k if at else k)
    elif isinstance(v, list):
        for k, x in enumerate(v):
            yield from flat(x, "%s.%d" % (at, k))
    elif isinstance(v, (int, float)) and not isinstance(v, bool):
        yield at, float(v)


def apart(a, b):
    keys = a.keys() & b.keys()
    return len(keys), max((abs(a[k] - b[k]) / max(1, abs(b[k])) for k in keys), default=0.0)


print("\nprograms run again against what is stored")
print("%-40s %8s %10s" % ("file", "values", "apart"))
for path in sorted(glob.glob(os.path.join(stored, "*", "*.json"))):
    name = os.path.relpath(path, stored)
    a, b = (dict(flat(json.load(open(os.path.join(d, name))))) for d in (again, stored))
    missing = len(a.keys() ^ b.keys())
    print("%-40s %8d %10.1e%s" % ((name,) + apart(a, b) + ("   %d values in one only" % missing if missing else "",)))

print("\nour own code")
print("%-8s %-18s %-22s %8s %12s %12s" % ("event", "model", "quantity", "values", "40 digits", "R, lme4"))
mine = json.load(open(ours))
for event in mine:
    exact = json.load(open(os.path.join(stored, "mixed_model", "expected_%s.json" % event)))
    lme4 = json.load(open(os.path.join(again, "mixed_model", "expected_%s.json" % event)))
    for model, quantities in mine[event].items():
        for q, v in quantities.items():
            a, out = dict(flat(v)), []
            for source in (exact.get("high_precision", {}).get(model), lme4.get(model)):
                b = dict(flat((source or {}).get(q)))
                n, far = apart(a, b)
                out.append("%.1e" % far if n else "-")
            print("%-8s %-18s %-22s %8d %12s %12s" % (event, model, q, len(a), *out))
