"""Fits where a pose network's landmarks sit against the joints they stand for, from clips whose truth is known.

Usage: fit_offsets.py CLIPS MOTIONS

CLIPS holds truth files (NAME.json.gz), MOTIONS the followed motions of the same clips as tables
(`cargo run --release --example motions`). Prints the `[offsets]` of a model card (landmark minus joint in the body's own
frame, metres on a person of 1.71 m) fitted on all players, and for each player those fitted on the others, with how far the
player's own differ: that spread goes into the card too. Rendered people are not real people.
"""

import csv
import gzip
import json
import sys
from pathlib import Path

import numpy as np

JOINTS = {
    "shoulder": (11, 12, "chest"),
    "elbow": (13, 14, "chest"),
    "wrist": (15, 16, "chest"),
    "hip": (23, 24, "pelvis"),
    "knee": (25, 26, "foot"),
    "ankle": (27, 28, "foot"),
    "heel": (29, 30, "foot"),
    "toe": (31, 32, "foot"),
}
STATURE = 1.71
UP = np.array([0.0, 1.0, 0.0])


def unit(v):
    return v / np.maximum(np.linalg.norm(v, axis=-1, keepdims=True), 1e-9)


def motion(path):
    rows = list(csv.reader(open(path)))
    values = np.array([[float(v) if v else np.nan for v in row] for row in rows[1:]])
    return values[:, 3:].reshape(len(values), 33, 6)


def joints_of(truth, n):
    """Joints in the camera's frame: right, up, away; metres."""
    out = np.empty((n, 33, 3))
    for i in range(n):
        frame = truth["frames"][i]
        turn = np.array(frame.get("R", truth["camera"]["R"]))
        shift = np.array(frame.get("tvec", truth["camera"]["t"]))
        out[i] = np.array(frame["lm3d"]) @ turn.T + shift
    out[..., 1] *= -1
    return out


def axes(joints, part, side):
    """Forward, outward and up of a body part, as src/scene/body.rs has them."""
    level = np.array([1.0, 0.0, 1.0])
    if part == "foot":
        toe, heel = (32, 30) if side > 0 else (31, 29)
        forward = unit(joints[:, toe] - joints[:, heel])
        flat = unit(forward * level)
        right = np.stack([flat[:, 2], 0 * flat[:, 0], -flat[:, 0]], -1)
        up = unit(UP - forward * (forward @ UP)[:, None])
    else:
        left, right_end = (11, 12) if part == "chest" else (23, 24)
        right = unit((joints[:, right_end] - joints[:, left]) * level)
        forward = np.stack([-right[:, 2], 0 * right[:, 0], right[:, 0]], -1)
        up = np.broadcast_to(UP, forward.shape)
    return forward, side * right, up


def equations(clips, motions):
    """Per player and joint: rows of (forward, outward, up) as the picture sees them, and the offsets seen, metres."""
    found = {}
    for path in sorted(clips.glob("*.json.gz")):
        name = path.name[: -len(".json.gz")]
        if name == "captured_serve60":
            continue  # left and right are exchanged for long stretches
        truth = json.load(gzip.open(path))
        seen = motion(motions / f"{name}.csv")
        n = min(len(seen), len(truth["frames"]))
        joints = joints_of(truth, n)
        camera = truth["camera"]
        true_px = np.stack([camera["fx"] * joints[..., 0] / joints[..., 2] + camera["cx"],
                            -camera["fy"] * joints[..., 1] / joints[..., 2] + camera["cy"]], -1)
        scale = STATURE / truth["person"]["height_m"]
        for joint, (left, right, part) in JOINTS.items():
            for k, side in ((left, -1), (right, 1)):
                offset = (seen[:n, k, :2] - true_px[:, k]) * (joints[:, k, 2] / camera["fx"])[:, None] * scale
                basis = np.stack(axes(joints, part, side), -1)
                good = ~np.isnan(offset[:, 0]) & (seen[:n, k, 2] > 0.5)
                step = max(1, good.sum() // 400)
                rows = np.concatenate([basis[good, 0], basis[good, 1]])[::step]
                values = np.concatenate([offset[good, 0], -offset[good, 1]])[::step]
                found.setdefault((truth["person"]["key"], joint), []).append((rows, values, name, truth["view"]))
    return found


def fit(parts):
    """Robust least squares; every clip weighs the same."""
    rows = np.concatenate([r for r, *_ in parts])
    values = np.concatenate([v for _, v, *_ in parts])
    base = np.concatenate([np.full(len(v), len(v) ** -0.5) for _, v, *_ in parts])
    weight = base
    for _ in range(10):
        solution = np.linalg.lstsq(rows * weight[:, None], values * weight, rcond=None)[0]
        weight = base / np.sqrt(1 + ((values - rows @ solution) / 0.03) ** 2)
    return solution


def main():
    found = equations(*map(Path, sys.argv[1:3]))
    players = sorted({player for player, _ in found})
    for joint in JOINTS:
        everyone = [part for player in players for part in found[player, joint]]
        forward, outward, up = fit(everyone)
        spread = []
        for player in players:
            others = fit([part for other in players if other != player for part in found[other, joint]])
            own = fit(found[player, joint])
            print(f"# {joint} without {player}: " + " ".join(f"{v:+.3f}" for v in others)
                  + "; that player: " + " ".join(f"{v:+.3f}" for v in own))
            spread.append(own - others)
        spread = np.sqrt((np.array(spread) ** 2).mean(0))
        print(f"[offsets.{joint}]\nforward_m = {forward:.3f}\noutward_m = {outward:.3f}\nup_m = {up:.3f}"
              f"\n# between players: {spread[0]:.3f}, {spread[1]:.3f}, {spread[2]:.3f}\n")
        if "--views" in sys.argv:
            views = sorted({v for p in everyone for v in [p[3]]})
            for view in views:
                print("#   ", view, np.round(fit([p for p in everyone if p[3] == view]), 3))


if __name__ == "__main__":
    main()
