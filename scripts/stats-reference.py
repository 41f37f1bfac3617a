#!/usr/bin/env python3
"""Writes fixtures/statistics.json: samples with what SciPy computes of them, for tests/statistics.rs.

    pip install scipy && python3 scripts/stats-reference.py > fixtures/statistics.json
"""
import json

import numpy as np
import scipy
from scipy import special, stats

rng = np.random.default_rng(20250614)


def rounded(values, digits=1):
    return [round(float(v), digits) for v in values]


def welch(a, b):
    interval = stats.ttest_ind(b, a, equal_var=False).confidence_interval(0.95)
    return [float(interval.low), float(interval.high)]


def bca(a, b):
    mean = lambda x, y, axis: np.mean(y, axis=axis) - np.mean(x, axis=axis)
    found = stats.bootstrap((np.array(a), np.array(b)), mean, n_resamples=200_000, batch=2000, vectorized=True,
                            method="BCa", rng=np.random.default_rng(1))
    return [float(found.confidence_interval.low), float(found.confidence_interval.high)]


def permutation(a, b):
    statistic = lambda x, y, axis: stats.ttest_ind(x, y, equal_var=False, axis=axis).statistic
    # Two-sided on |t|: SciPy's own doubles the smaller tail.
    absolute = lambda x, y, axis: np.abs(statistic(x, y, axis))
    return float(stats.permutation_test((a, b), absolute, vectorized=True, n_resamples=1_000_000, batch=5000,
                                        alternative="greater", rng=np.random.default_rng(2)).pvalue)


def hedges(a, b):
    m = len(a) + len(b) - 2
    pooled = np.sqrt(((len(a) - 1) * np.var(a, ddof=1) + (len(b) - 1) * np.var(b, ddof=1)) / m)
    j = special.gamma(m / 2) / (np.sqrt(m / 2) * special.gamma((m - 1) / 2))
    return float(j * (np.mean(b) - np.mean(a)) / pooled)


def pair(a, b, *, wide=False):
    entry = {"before": a, "after": b, "hedges_g": hedges(a, b), "welch": welch(a, b)}
    if wide:
        entry["bca"] = bca(a, b)
    else:
        entry["permutation_p"] = permutation(np.array(a), np.array(b))
    return entry


few = [
    pair(rounded(rng.normal(30, 4, 6)), rounded(rng.normal(26, 2, 6))),
    pair(rounded(rng.normal(0, 1, 7), 2), rounded(rng.normal(1.5, 3, 5), 2)),
    pair(rounded(rng.normal(-12, 5, 8)), rounded(rng.normal(-12, 5, 8))),
]
many = [
    pair(rounded(rng.normal(30, 4, 20)), rounded(rng.normal(26, 2, 24)), wide=True),
    pair(rounded(rng.lognormal(1, 0.8, 30), 2), rounded(rng.lognormal(1.4, 0.8, 18), 2), wide=True),
]
ps = [0.001, 0.04, 0.03, 0.8, 0.012, 0.03, 0.2]
print(json.dumps({
    "scipy": scipy.__version__,
    "t_quantiles": [[p, df, float(stats.t.ppf(p, df))]
                    for p in (0.025, 0.9, 0.975) for df in (1, 2.5, 5, 9.37, 30, 250)],
    "normal_quantiles": [[p, float(stats.norm.ppf(p))] for p in (0.001, 0.025, 0.4, 0.5, 0.975)],
    "few": few,
    "many": many,
    "benjamini_hochberg": {"p": ps, "q": [float(q) for q in stats.false_discovery_control(ps)]},
}, indent=1))
