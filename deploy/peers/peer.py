"""Times scipy's and numpy's least squares: peer.py FOLDER. One line a method: name, milliseconds (median), note."""
import os, statistics, sys, time
import numpy as np
import scipy
from scipy.sparse import csr_matrix
from scipy.sparse.linalg import lsqr


def load(name):
    table = np.loadtxt(os.path.join(sys.argv[1], name + ".csv"), delimiter=",", skiprows=1)
    robots, score = table[:, :3].astype(int), table[:, 3]
    rows = np.repeat(np.arange(len(score)), 3)
    return csr_matrix((np.ones(3 * len(score)), (rows, robots.ravel())), shape=(len(score), robots.max() + 1)), score


def timed(name, times, work):
    took = []
    for _ in range(times):
        began = time.perf_counter()
        note = work()
        took.append(time.perf_counter() - began)
    print("%s\t%.3f\t%s" % (name, 1000 * statistics.median(took), note), flush=True)


x, y = load("season")


def season():
    got = lsqr(x, y, atol=1e-12, btol=1e-12, conlim=1e12, iter_lim=20000)
    return "scipy %s, %d iterations" % (scipy.__version__, got[2])


season()
timed("season lsqr", 15, season)
e, z = load("event")
dense = e.toarray()


def event():
    np.linalg.lstsq(dense, z, rcond=None)
    return "numpy %s" % np.__version__


event()
timed("event lstsq", 51, event)
