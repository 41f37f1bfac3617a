"""Gathers what the depth network learns from: strokes whose movement is known, and what the pose network made of them.

Usage: prepare.py CLIPS MOTIONS OUT.npz

CLIPS holds rendered clips' truth (NAME.json.gz), MOTIONS the followed motions of the same clips as tables
(`cargo run --release --example motions`). Clips that replay recorded people (names starting with `captured_`) are kept
apart: they serve for checking only.
"""

import csv
import gzip
import json
import sys
from pathlib import Path

import numpy as np
import torch

from body import JOINTS, lengths, longest
from film import beyond_hips, size_of

TRUTH_RATE = 60.0
RATE = 30.0
# Where landmarks are mostly farther than this from the player's joints (sizes of the body), another person was followed.
SOMEBODY_ELSE = 0.3


def resampled(times, values, rate):
    """Values (frames first) on an even grid of `rate` per second, straight between frames."""
    grid = np.arange(times[0], times[-1], 1.0 / rate)
    flat = values.reshape(len(values), -1)
    out = np.empty((len(grid), flat.shape[1]))
    for k in range(flat.shape[1]):
        seen = ~np.isnan(flat[:, k])
        out[:, k] = np.interp(grid, times[seen], flat[seen, k]) if seen.any() else 0.0
    return out.reshape(len(grid), *values.shape[1:])


def body_size(xy):
    """Apparent size of the body, pixels, long readings within a second believed."""
    size = sizes(xy)
    reach = int(RATE)
    return np.array([np.quantile(size[max(0, i - reach) : i + reach + 1], 0.9) for i in range(len(size))])


def sizes(points):
    """Trunk plus the longer leg, [time], of joints in the picture or in space, [time, 14, 2 or 3]."""
    return size_of(torch.tensor(points[None]))[0].numpy()


def table(path):
    rows = list(csv.reader(open(path)))
    values = np.array([[float(v) if v else np.nan for v in row] for row in rows[1:]])
    points = values[:, 3:].reshape(len(values), 33, 6)
    return values[:, 0], values[0, 1:3], points


def camera_of(frame, camera):
    turn = np.array(frame["R"] if "R" in frame else camera["R"])
    shift = np.array(frame["tvec"] if "tvec" in frame else camera["t"])
    return turn, shift


def main():
    clips, motions, out = map(Path, sys.argv[1:4])
    arrays, names = {}, []
    for path in sorted(clips.glob("*.json.gz")):
        name = path.name[: -len(".json.gz")]
        truth = json.load(gzip.open(path))
        times = np.array([f["t"] for f in truth["frames"]])
        space = np.array([f["lm3d"] for f in truth["frames"]])
        height = truth["person"]["height_m"]
        seen_times, size, points = table(motions / f"{name}.csv")
        n = min(len(seen_times), len(times))
        hips, beyond = np.empty(n), np.empty((n, len(JOINTS)))
        for i in range(n):
            turn, shift = camera_of(truth["frames"][i], truth["camera"])
            hips[i] = (space[i] @ turn.T + shift)[[23, 24], 2].mean()
            from_lens = torch.tensor(space[i, JOINTS] + shift @ turn)
            beyond[i] = beyond_hips(from_lens, torch.tensor([1.0, 1.0, 0.0]))
        flat = np.array([f["lm2d"] for f in truth["frames"]])[:n, JOINTS, :2]
        errors = resampled(seen_times[:n], points[:n][:, JOINTS, :2] - flat, RATE)
        xy = resampled(seen_times[:n], points[:n][:, JOINTS, :2], RATE)
        world = resampled(seen_times[:n], points[:n][:, JOINTS, 3:], RATE)
        pixels = truth["camera"]["fx"] / resampled(seen_times[:n], hips, RATE)
        depth = resampled(seen_times[:n], beyond, RATE)
        scale = body_size(xy)
        if np.median(np.linalg.norm(errors, axis=-1) / scale[:, None]) > SOMEBODY_ELSE:
            print(f"{name}: another person was followed; left out")
            continue
        arrays[f"{name}/bones"] = longest(lengths(torch.tensor(xy[None] / scale[:, None, None][None]))).mean(-1)[0].numpy().astype(np.float32)
        arrays[f"{name}/space"] = resampled(times, space[:, JOINTS] / height, TRUTH_RATE).astype(np.float32)
        # Depths in units of the apparent body, like everything the network sees.
        arrays[f"{name}/xy"] = xy.astype(np.float32)
        arrays[f"{name}/errors"] = (errors / scale[:, None, None]).astype(np.float32)
        arrays[f"{name}/scale"] = scale.astype(np.float32)
        arrays[f"{name}/size"] = size.astype(np.float32)
        arrays[f"{name}/world"] = (world[:, :, 2] / np.median(sizes(world))).astype(np.float32)
        arrays[f"{name}/depth"] = (depth * (pixels / scale)[:, None]).astype(np.float32)
        arrays[f"{name}/metres"] = (scale / pixels).astype(np.float32)
        # Which recorded player drives the figure, "" for none.
        source = truth.get("motion_source", "").removeprefix("mocap ")
        names.append((name, truth["person"]["key"], truth["view"], source))
    arrays["names"] = np.array(names)
    np.savez_compressed(out, **arrays)
    print(f"{len(names)} clips written to {out}")


if __name__ == "__main__":
    main()
