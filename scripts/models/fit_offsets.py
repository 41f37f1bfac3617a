"""Fits where a pose network's landmarks sit against the joints they stand for, from clips whose truth is known.

Usage: fit_offsets.py CLIPS MOTIONS CARD.toml [--held-out DIR]

CLIPS holds truth files (NAME.json.gz), MOTIONS the followed motions of the same clips as tables
(`cargo run --release --example motions`). Writes into the card, for each joint, the offset (landmark minus joint in the
body's own frame, metres on a person of 1.71 m) and the spread that is left: the root mean square distance per axis when the
offsets come from the other players. With `--held-out DIR` each player P also gets DIR/P/models/CARD.toml, whose offsets were
fitted without P. Rendered people are not real people.
"""

import argparse
import csv
import gzip
import json
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


def left_over(offset, parts):
    """Root mean square distance per axis between landmarks and joints, every clip weighing the same."""
    squares = [np.median((values - rows @ offset) ** 2) / 0.455 for rows, values, *_ in parts]
    return np.sqrt(np.mean(squares))


def table(offsets, spreads):
    lines = []
    for joint, (forward, outward, up) in offsets.items():
        lines += [f"[offsets.{joint}]", f"forward_m = {forward:.3f}", f"outward_m = {outward:.3f}", f"up_m = {up:.3f}",
                  f"spread_m = {spreads[joint]:.3f}", ""]
    return "\n".join(lines)


def main():
    words = argparse.ArgumentParser()
    for name in ("clips", "motions", "card"):
        words.add_argument(name, type=Path)
    words.add_argument("--held-out", type=Path)
    args = words.parse_args()
    found = equations(args.clips, args.motions)
    players = sorted({player for player, _ in found})
    without = {None: {}, **{player: {} for player in players}}
    spreads = {}
    for joint in JOINTS:
        for held in without:
            without[held][joint] = fit([part for player in players if player != held for part in found[player, joint]])
        spreads[joint] = np.sqrt(np.mean([left_over(without[p][joint], found[p, joint]) ** 2 for p in players]))
        print(f"{joint}: {np.round(without[None][joint], 3)} ± {spreads[joint]:.3f}; without each player: "
              + " ".join(f"{p} {np.round(without[p][joint], 3)}" for p in players))
    card = args.card.read_text()
    head = card[: card.index("[offsets.")]
    args.card.write_text(head + table(without[None], spreads))
    if args.held_out:
        for player in players:
            folder = args.held_out / player / "models"
            folder.mkdir(parents=True, exist_ok=True)
            (folder / args.card.name).write_text(head + table(without[player], spreads))


if __name__ == "__main__":
    main()
