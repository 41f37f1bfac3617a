"""Gathers how the pose network errs: where it put a rendered player's points less where they are in the picture.

Usage: errors.py MOTIONS OUT.npz CLIPS…

CLIPS are folders of rendered clips' truth (NAME.json.gz), MOTIONS the followed motions of these clips as tables
(`cargo run --release --example motions`). OUT has, per clip, errors [time, 17, 2] at 60 per second in units of the apparent body
(trunk and longer leg), and the bodies' proportions (see `proportions`).
"""

import csv
import gzip
import json
import sys
from pathlib import Path

import numpy as np
from takes import (
    LANK,
    LEAR,
    LEL,
    LHIP,
    LKNEE,
    LSH,
    LTOE,
    LWR,
    NOSE,
    RANK,
    REAR,
    REL,
    RHIP,
    RKNEE,
    RSH,
    RTOE,
    RWR,
)

# The program's 17 points among the pose network's 33.
LANDMARKS = [0, 7, 8, 11, 12, 13, 14, 15, 16, 23, 24, 25, 26, 27, 28, 31, 32]
RATE = 60.0
# Seconds to either side over which the body's apparent size is read, and its quantile.
SIZE_REACH, SIZE_QUANTILE = 1.0, 0.9


def body_size(points):
    """Trunk and longer leg, [time], of points [time, 17, 2 or 3]."""
    length = lambda a, b: np.linalg.norm(points[:, a] - points[:, b], axis=-1)
    trunk = np.linalg.norm(points[:, [LSH, RSH]].mean(1) - points[:, [LHIP, RHIP]].mean(1), axis=-1)
    return trunk + np.maximum(length(LHIP, LKNEE) + length(LKNEE, LANK), length(RHIP, RKNEE) + length(RKNEE, RANK))


def steady(size, rate):
    reach = int(SIZE_REACH * rate)
    return np.array([np.quantile(size[max(0, i - reach) : i + reach + 1], SIZE_QUANTILE) for i in range(len(size))])


def table(path):
    """Times and points [time, 17, 2] of a followed motion, NaN where a point was not seen."""
    with open(path) as file:
        rows = list(csv.reader(file))
    values = np.array([[float(v) if v else np.nan for v in row] for row in rows[1:]])
    return values[:, 0], values[:, 3:].reshape(len(values), 33, 6)[:, LANDMARKS, :2]


def resampled(times, values, grid):
    flat = values.reshape(len(values), -1)
    out = np.zeros((len(grid), flat.shape[1]))
    for k in range(flat.shape[1]):
        seen = ~np.isnan(flat[:, k])
        if seen.any():
            out[:, k] = np.interp(grid, times[seen], flat[seen, k])
    return out.reshape(len(grid), *values.shape[1:])


def proportions(points):
    """Lengths of the body in units of trunk and leg: shoulders, hips, ears, nose before the ears, neck, upper arm, forearm, thigh,
    shank, foot, from points in space [time, 17, 3]; medians."""
    length = lambda a, b: np.linalg.norm(points[:, a] - points[:, b], axis=-1)
    middle = lambda a, b: points[:, [a, b]].mean(1)
    pairs = lambda *ends: 0.5 * sum(length(a, b) for a, b in ends)
    found = [
        length(LSH, RSH), length(LHIP, RHIP), length(LEAR, REAR), np.linalg.norm(points[:, NOSE] - middle(LEAR, REAR), axis=-1),
        np.linalg.norm(middle(LEAR, REAR) - middle(LSH, RSH), axis=-1), pairs((LSH, LEL), (RSH, REL)), pairs((LEL, LWR), (REL, RWR)),
        pairs((LHIP, LKNEE), (RHIP, RKNEE)), pairs((LKNEE, LANK), (RKNEE, RANK)), pairs((LANK, LTOE), (RANK, RTOE)),
    ]
    return np.array([np.median(f / body_size(points)) for f in found])


def main():
    motions, out = Path(sys.argv[1]), Path(sys.argv[2])
    arrays, shapes, count = {}, [], 0
    for path in sorted(p for folder in sys.argv[3:] for p in Path(folder).glob("*.json.gz")):
        name = path.name[: -len(".json.gz")]
        if not (motions / f"{name}.csv").exists():
            print(f"{name}: not followed, left out")
            continue
        with gzip.open(path) as file:
            truth = json.load(file)
        times, seen = table(motions / f"{name}.csv")
        n = min(len(times), len(truth["frames"]))
        true = np.array([f["lm2d"] for f in truth["frames"]], float)[:n, LANDMARKS, :2]
        grid = np.arange(times[0], times[n - 1], 1 / RATE)
        size = steady(body_size(resampled(times[:n], true, grid)), RATE)
        errors = resampled(times[:n], seen[:n] - true, grid) / size[:, None, None]
        arrays[f"{count:03d}"] = errors.astype(np.float16)
        count += 1
        shapes.append(proportions(np.array([f["lm3d"] for f in truth["frames"]], float)[:, LANDMARKS]))
    arrays["proportions"] = np.median(shapes, axis=0).astype(np.float32)
    np.savez_compressed(out, **arrays)
    print(f"{count} clips; proportions {np.round(arrays['proportions'], 3)}")


if __name__ == "__main__":
    main()
