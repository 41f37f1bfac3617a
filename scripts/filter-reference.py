#!/usr/bin/env python3
"""Writes fixtures/filter.csv: a path and what SciPy's filters make of it, to compare ours with.

    pip install numpy scipy && scripts/filter-reference.py

Columns: rate and cutoff in Hz, place in the path, raw value, value after a second-order Butterworth run both ways over
the path with its ends reflected in their end points.
"""

import pathlib

import numpy as np
from scipy.signal import butter, sosfiltfilt

ROOT = pathlib.Path(__file__).resolve().parent.parent


def main():
    random = np.random.default_rng(11)
    lines = ["rate,cutoff,place,raw,filtered"]
    for rate, cutoff, n in [(60.0, 8.0, 90), (120.0, 12.0, 150), (30.0, 8.0, 40)]:
        t = np.arange(n) / rate
        path = 300 + 80 * np.tanh((t - 0.7 * t[-1]) / 0.06) + 15 * np.sin(9 * t) + random.normal(0, 2, n)
        # Both passes together keep half the power at the cutoff if each has it a little higher.
        sos = butter(2, cutoff / 0.802, fs=rate, output="sos")
        pad = min(n - 1, int(np.ceil(1.5 * rate / cutoff)))
        filtered = sosfiltfilt(sos, path, padtype="odd", padlen=pad)
        lines += [f"{rate},{cutoff},{i},{path[i]:.9f},{filtered[i]:.9f}" for i in range(n)]
    (ROOT / "fixtures" / "filter.csv").write_text("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
