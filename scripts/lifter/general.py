"""Reads recorded movement that is no tennis: joints in statures.

Usage: general.py BVH_DIR OUT.npz

BVH_DIR holds takes named SUBJECT_TAKE.bvh of the motion capture database of Carnegie Mellon University as converted for
one skeleton (B. Hahne, 2010): walking, boxing, dancing, ball games, work. All takes are given the same usual limbs; what learns
from them must make bodies different. OUT has, per take, 14 joints [time, 14, 3] at 60 per second: x to the side, y, z up from
the ground.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.append(str(Path(__file__).resolve().parent.parent / "recogniser"))

from body import ARMS, LEGS  # noqa: E402
from movement import KEPT_RATE  # noqa: E402
from prepare import resampled  # noqa: E402
from takes import places  # noqa: E402

NAMES = [side + part for part in ("Shldr", "ForeArm", "Hand", "Thigh", "Shin", "Foot", "Foot end") for side in "lr"]
HIP, KNEE, ANKLE, TOE = (slice(k, k + 2) for k in (6, 8, 10, 12))
# Usual lengths along an arm and along a leg, and a toe's joint over the ground, statures.
ARM, LEG, SOLE = (0.148, 0.146), (0.24, 0.245, 0.128), 0.012
# Of takes shorter than this (seconds), or in which the lower foot is mostly this far over the lowest place (statures), as of people
# who climb, nothing is learned.
LEAST, UNEVEN = 3.0, 0.06


def joints_of(path):
    """Joints [time, 14, 3] in statures, and the step between them."""
    found, _, step = places(path)
    points = np.stack([found[name] for name in NAMES], 1)
    points = np.stack([points[..., 0], -points[..., 2], points[..., 1]], -1)
    length = lambda a, b: np.linalg.norm(points[:, a] - points[:, b], axis=-1).mean()
    points *= (LEG[0] + LEG[1]) / (length(HIP, KNEE) + length(KNEE, ANKLE))
    usual = points.copy()
    for chains, long in ((ARMS, ARM), (LEGS, LEG)):
        for chain in chains:
            for a, b, share in zip(chain, chain[1:], long):
                bone = points[:, b] - points[:, a]
                usual[:, b] = usual[:, a] + bone * share / np.linalg.norm(bone, axis=-1, keepdims=True)
    usual[..., 2] += SOLE - np.quantile(usual[:, TOE, 2].min(1), 0.02)
    return usual, step


def main():
    folder, out = Path(sys.argv[1]), Path(sys.argv[2])
    arrays = {}
    for path in sorted(folder.glob("*.bvh")):
        points, step = joints_of(path)
        if len(points) * step < LEAST or np.median(points[:, TOE, 2].min(1)) > UNEVEN:
            continue
        arrays[path.stem] = resampled(np.arange(len(points)) * step, points, KEPT_RATE).astype(np.float32)
    np.savez_compressed(out, **arrays)
    print(f"{len(arrays)} takes, {sum(map(len, arrays.values())) / KEPT_RATE:.0f} s, written to {out}")


if __name__ == "__main__":
    main()
