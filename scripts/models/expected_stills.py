"""Write fixtures/stills/expected.json: what the models say about the stills, by an implementation apart from the Rust one.

Everything is written out plainly here, in float64 where it can be, so that a test that compares the two finds mistakes
in either. Pictures are sampled by exact bilinear interpolation and not rounded to whole grey levels.

usage: expected_stills.py [--models DIR] [--stills DIR]
needs: pip install -r requirements-stills.txt
"""
import argparse
import json
import math
import pathlib

import numpy as np
import onnxruntime
from PIL import Image

ROOT = pathlib.Path(__file__).resolve().parents[2]
DETECTOR_SIZE, LANDMARK_SIZE, OBJECT_SIZE = 224, 256, 416
HEATMAP_SIZE = 64
REFINE_REACH = 4        # 9 x 9 places
REFINE_MINIMUM = 0.5
REGION_SCALE = 1.25
OBJECT_CLASSES = {0: "person", 32: "ball", 38: "racket"}


def sigmoid(x):
    return 1.0 / (1.0 + np.exp(-np.clip(np.asarray(x, dtype=np.float64), -100, 100)))


def session(path):
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    return onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])


# ---- sampling

def bilinear(picture, x, y, border):
    """Values at pixel coordinates (pixel centres are whole numbers). border: "replicate" repeats the edge pixel,
    "zero" has black pixels outside, which blend with the edge."""
    height, width = picture.shape[:2]
    left, top = np.floor(x).astype(int), np.floor(y).astype(int)
    total = np.zeros(x.shape + (3,))
    for column in (left, left + 1):
        for row in (top, top + 1):
            weight = (1 - np.abs(x - column)) * (1 - np.abs(y - row))
            value = picture[np.clip(row, 0, height - 1), np.clip(column, 0, width - 1)].astype(np.float64)
            if border == "zero":
                inside = (column >= 0) & (column < width) & (row >= 0) & (row < height)
                value = value * inside[..., None]
            total += weight[..., None] * value
    return total


def crop(picture, region, size, border):
    """The square region as size x size; place (u, v) shows c + R(rotation) ((u/size - 1/2) side, (v/size - 1/2) side)."""
    cx, cy, side, rotation = region
    u, v = np.meshgrid((np.arange(size) / size - 0.5) * side, (np.arange(size) / size - 0.5) * side)
    cos, sin = math.cos(rotation), math.sin(rotation)
    return bilinear(picture, cx + cos * u - sin * v, cy + sin * u + cos * v, border)


# ---- person detector

def anchors():
    centres = []
    for stride, per_place in ((8, 2), (16, 2), (32, 6)):
        n = DETECTOR_SIZE // stride
        centres += [((x + 0.5) / n, (y + 0.5) / n) for y in range(n) for x in range(n) for _ in range(per_place)]
    return np.array(centres)


def overlap(one, many):
    low, high = np.maximum(one[:2], many[:, :2]), np.minimum(one[2:], many[:, 2:])
    shared = np.prod(np.clip(high - low, 0, None), axis=1)
    area = np.prod(many[:, 2:] - many[:, :2], axis=1)
    return shared / np.maximum(np.prod(one[2:] - one[:2]) + area - shared, 1e-12)


def detect(model, picture):
    """-> people, best first: score; box and points in picture pixels."""
    height, width = picture.shape[:2]
    side = max(height, width)
    image = crop(picture, (width / 2, height / 2, side, 0.0), DETECTOR_SIZE, "zero") / 127.5 - 1
    boxes, scores = model.run(["boxes", "scores"], {"image": image[None].astype(np.float32)})
    boxes, scores = boxes[0].astype(np.float64) / DETECTOR_SIZE, sigmoid(scores[0, :, 0])
    keep = (scores >= 0.5) & (boxes[:, 2] >= 0) & (boxes[:, 3] >= 0)
    boxes, scores, centres = boxes[keep], scores[keep], anchors()[keep]
    middle, half = boxes[:, :2] + centres, boxes[:, 2:4] / 2
    corners = np.concatenate([middle - half, middle + half], axis=1)
    points = boxes[:, 4:].reshape(-1, 4, 2) + centres[:, None]
    people, rest = [], np.argsort(-scores, kind="stable")
    while len(rest):
        together = overlap(corners[rest[0]], corners[rest]) > 0.3
        together[0] = True
        group, best = rest[together], rest[0]
        weight = scores[group] / scores[group].sum()
        shift = np.array([(side - width) / 2, (side - height) / 2])
        people.append({
            "score": float(scores[best]),
            "box": ((weight[:, None, None] * corners[group].reshape(-1, 2, 2)).sum(0) * side - shift).ravel().tolist(),
            "points": ((weight[:, None, None] * points[group]).sum(0) * side - shift).tolist(),
        })
        rest = rest[~together]
    return people


def region_of(centre, scale):
    dx, dy = scale[0] - centre[0], scale[1] - centre[1]
    rotation = math.pi / 2 - math.atan2(-dy, dx)
    rotation -= 2 * math.pi * math.floor((rotation + math.pi) / (2 * math.pi))
    return centre[0], centre[1], 2 * math.hypot(dx, dy) * REGION_SCALE, rotation


# ---- landmarks

def landmarks(model, picture, region):
    cx, cy, side, rotation = region
    image = crop(picture, region, LANDMARK_SIZE, "replicate") / 255
    raw, presence, heatmap, world = model.run(["landmarks", "presence", "heatmap", "world"],
                                              {"image": image[None].astype(np.float32)})
    raw = raw.reshape(39, 5).astype(np.float64)
    xy, heat = raw[:, :2] / LANDMARK_SIZE, sigmoid(heatmap[0])
    regressed = xy.copy()
    for i in range(39):
        column, row = int(xy[i, 0] * HEATMAP_SIZE), int(xy[i, 1] * HEATMAP_SIZE)
        if not (0 <= column < HEATMAP_SIZE and 0 <= row < HEATMAP_SIZE):
            continue
        columns = np.arange(max(0, column - REFINE_REACH), min(HEATMAP_SIZE, column + REFINE_REACH + 1))
        rows = np.arange(max(0, row - REFINE_REACH), min(HEATMAP_SIZE, row + REFINE_REACH + 1))
        window = heat[i][np.ix_(rows, columns)]
        if window.max() >= REFINE_MINIMUM:
            xy[i] = (window.sum(0) @ columns / window.sum() / HEATMAP_SIZE, window.sum(1) @ rows / window.sum() / HEATMAP_SIZE)
    cos, sin = math.cos(rotation), math.sin(rotation)
    turn = np.array([[cos, sin], [-sin, cos]])  # row vectors

    def in_picture(q):
        return (q - 0.5) @ turn * side + [cx, cy]

    points, plain = in_picture(xy), in_picture(regressed)
    world = world.reshape(39, 3).astype(np.float64)
    world[:, :2] = world[:, :2] @ turn
    return {
        "region": {"centre": [cx, cy], "side": side, "rotation": rotation},
        "presence": float(presence[0, 0]),
        "points": [[*points[i], sigmoid(raw[i, 3])] for i in range(33)],
        "regressed": plain[:33].tolist(),
        "auxiliary": points[33:35].tolist(),
        "world": world[:33].tolist(),
    }


# ---- objects

def objects(model, picture, minimum=0.3, overlap_maximum=0.6):
    """-> persons, balls and rackets, best first: class, score, box in picture pixels."""
    height, width = picture.shape[:2]
    scale = OBJECT_SIZE / max(height, width)
    w, h = round(width * scale), round(height * scale)
    # The picture shrunk to w x h, pixel centre to pixel centre, in the top left corner.
    x, y = np.meshgrid((np.arange(w) + 0.5) * width / w - 0.5, (np.arange(h) + 0.5) * height / h - 0.5)
    image = np.zeros((OBJECT_SIZE, OBJECT_SIZE, 3))
    image[:h, :w] = bilinear(picture, x, y, "replicate")
    image = (image[..., ::-1] - [103.53, 116.28, 123.675]) / [57.375, 57.12, 58.395]
    scores, sides = model.run(["scores", "dist"], {"image": image.transpose(2, 0, 1)[None].astype(np.float32)})
    scores, sides = scores[0].astype(np.float64), sides[0].astype(np.float64).reshape(-1, 4, 11)
    sides = np.exp(sides - sides.max(-1, keepdims=True))
    sides = sides @ np.arange(11) / sides.sum(-1)
    places = np.array([((x + 0.5) * s, (y + 0.5) * s, s) for s in (8, 16, 32)
                       for y in range(OBJECT_SIZE // s) for x in range(OBJECT_SIZE // s)])
    sides *= places[:, 2:]
    boxes = np.concatenate([places[:, :2] - sides[:, :2], places[:, :2] + sides[:, 2:]], axis=1) / scale
    found = []
    for index, name in OBJECT_CLASSES.items():
        rest = np.flatnonzero(scores[:, index] > minimum)
        rest = rest[np.argsort(-scores[rest, index], kind="stable")]
        while len(rest):
            found.append({"class": name, "score": float(scores[rest[0], index]), "box": boxes[rest[0]].tolist()})
            keep = overlap(boxes[rest[0]], boxes[rest]) < overlap_maximum
            keep[0] = False
            rest = rest[keep]
    return sorted(found, key=lambda item: -item["score"])


def rounded(value):
    """Five places say more than two implementations agree on, and keep the file short."""
    if isinstance(value, dict):
        return {key: rounded(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [rounded(item) for item in value]
    return value if isinstance(value, (str, int)) else round(float(value), 5)


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--models", type=pathlib.Path, default=ROOT / "models")
    parser.add_argument("--stills", type=pathlib.Path, default=ROOT / "fixtures" / "stills")
    given = parser.parse_args()
    detector = session(given.models / "pose_detection.onnx")
    pose = {name: session(given.models / f"pose_landmark_{name}.onnx") for name in ("full", "lite")}
    finder = session(given.models / "nanodet_g_416.onnx")
    stills = []
    for path in sorted(given.stills.glob("*.png")):
        picture = np.array(Image.open(path).convert("RGB"))
        people = detect(detector, picture)
        still = {"file": path.name, "width": picture.shape[1], "height": picture.shape[0], "people": people, "landmarks": {},
                 "objects": objects(finder, picture)}
        if people:
            region = region_of(people[0]["points"][0], people[0]["points"][1])
            still["landmarks"] = {name: landmarks(model, picture, region) for name, model in pose.items()}
        stills.append(rounded(still))
        print(path.name, "people", [round(p["score"], 3) for p in people],
              "presence", {name: round(l["presence"], 4) for name, l in still["landmarks"].items()},
              "objects", [(o["class"], round(o["score"], 2)) for o in still["objects"]])
    with open(given.stills / "expected.json", "w", encoding="utf-8") as file:
        json.dump({"units": "pixels of the still, pixel centres at whole numbers; radians; metres",
                   "point": "x, y, visibility", "stills": stills}, file, separators=(",", ":"))
        file.write("\n")


if __name__ == "__main__":
    main()
