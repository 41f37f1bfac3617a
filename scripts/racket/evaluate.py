"""How far a network's points lie from truth on clips that it was not trained on.

    evaluate.py MODEL.onnx CLIP.mp4 TRUTH FRAMES.csv …   (three files a clip)

TRUTH: NAME.json.gz of a rendered clip, or a CSV with frame,point,x,y,visible. FRAMES.csv: body points as `toeline measure` writes them,
so that crops are cut where the program cuts them. One crop a frame, no path through time: the largest place of each heat map.
Prints the shares of frames with the tip within 10 and 20 % of the racket's length, and the same for the confident ones.
"""
import csv
import gzip
import json
import sys

import cv2
import numpy as np
import onnxruntime

from extract import racket_length

SIDE, CELLS, CROP_LENGTHS = 160, 40, 2.4
LANDMARKS = 33


def body_points(path):
    """Points [frame][33,2] by frame number; NaN where not seen."""
    rows = list(csv.DictReader(open(path)))
    names = [key[:-2] for key in rows[0] if key.endswith("_x") and not key.startswith(("racket", "ball"))][:LANDMARKS]
    value = lambda text: float(text) if text else np.nan
    return {int(r["frame"]): np.array([[value(r[n + "_x"]), value(r[n + "_y"])] for n in names]) for r in rows}


def truth(path):
    """Racket points [4,2] (butt, throat, tip, middle) and length in the picture by frame; and whether the right hand holds it."""
    if path.endswith(".csv"):
        found = {}
        for row in csv.DictReader(open(path)):
            place = found.setdefault(int(row["frame"]), np.full((4, 2), np.nan))
            if row["visible"] == "1":
                place[("butt", "throat", "tip").index(row["point"])] = float(row["x"]), float(row["y"])
        return {k: v for k, v in found.items() if np.isfinite(v[2]).all()}, None, True
    data = json.load(gzip.open(path))
    return {f["i"]: np.array(f["racket2d"], float) for f in data["frames"]}, data, data["handedness"] == "right"


def foreshortened(data, index, points):
    """Apparent length as a share of what the racket would have square to the lens at its distance."""
    frame, camera = data["frames"][index], data["camera"]
    turn, shift = np.array(frame.get("R", camera["R"])), np.array(frame.get("tvec", camera["t"]))
    ends = np.array(frame["racket3d"], float)
    depth = (ends @ turn.T + shift)[:, 2].mean()
    full = np.linalg.norm(ends[2] - ends[0]) * camera["fx"] / depth
    return np.linalg.norm(points[2] - points[0]) / full, full


def answer(session, picture, centre, length):
    zoom = SIDE / (CROP_LENGTHS * length)
    corner = SIDE / 2 - zoom * centre - 0.5 * (1 - zoom)
    turn = np.array([[zoom, 0, corner[0]], [0, zoom, corner[1]]])
    if zoom < 0.6:
        blur = max(1, int(round(0.7 / zoom)))
        picture = cv2.blur(picture, (blur, blur))
    crop = cv2.cvtColor(cv2.warpAffine(picture, turn, (SIDE, SIDE), flags=cv2.INTER_LINEAR), cv2.COLOR_BGR2RGB)
    heat, seen = session.run(None, {"image": crop.transpose(2, 0, 1)[None].astype(np.float32)})
    heat = heat[0].reshape(4, -1).astype(np.float64)
    chance = np.exp(heat - heat.max(1, keepdims=True))
    chance = (chance / chance.sum(1, keepdims=True)).reshape(4, CELLS, CELLS)
    points, mass = np.zeros((4, 2)), np.zeros(4)
    for k in range(4):
        y, x = divmod(int(chance[k].argmax()), CELLS)
        y0, y1, x0, x1 = max(y - 2, 0), min(y + 3, CELLS), max(x - 2, 0), min(x + 3, CELLS)
        window = chance[k, y0:y1, x0:x1]
        mass[k] = window.sum()
        points[k] = (window.sum(0) * np.arange(x0, x1)).sum() / mass[k], (window.sum(1) * np.arange(y0, y1)).sum() / mass[k]
    in_crop = (points + 0.5) * SIDE / CELLS - 0.5
    return (in_crop - turn[:, 2]) / zoom, mass, seen[0]


def main():
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    session = onnxruntime.InferenceSession(sys.argv[1], options)
    print("clip, frames, tip < 10 %, < 20 %, axis median deg | confident share, < 10 %, < 20 %, off by more than 20 %")
    for film_path, truth_path, frames_path in zip(*[iter(sys.argv[2:])] * 3):
        rackets, data, right = truth(truth_path)
        bodies = body_points(frames_path)
        film, errors = cv2.VideoCapture(film_path), []
        every = 1 if data is None else max(1, len(rackets) // 200)
        index = -1
        while True:
            ok, picture = film.read()
            index += 1
            if not ok:
                break
            body = bodies.get(index)
            if index not in rackets or index % every or body is None or not np.isfinite(body[[11, 12, 23, 24, 25, 26, 27, 28]]).all():
                continue
            wrist = body[16 if right else 15]
            points = rackets[index]
            length = racket_length(body)
            if data is None:
                full = length
            else:
                height, width = picture.shape[:2]
                share, full = foreshortened(data, index, points)
                inside = (points >= 0).all() and (points[:, 0] < width).all() and (points[:, 1] < height).all()
                if share < 0.5 or not inside or not np.isfinite(wrist).all():
                    continue
            found, mass, seen = answer(session, picture, wrist, length)
            # Second pass: around the first one's middle of grip and hoop.
            centre = found[0] if mass[0] > 0.5 else wrist
            found, mass, seen = answer(session, picture, centre, length)
            off = np.linalg.norm(found[2] - points[2]) / full
            axis, true_axis = found[2] - found[0], points[2] - points[0]
            cross, dot = true_axis[0] * axis[1] - true_axis[1] * axis[0], axis @ true_axis
            turned = abs(np.degrees(np.arctan2(cross, dot)))
            errors.append((off, turned, mass[2] * seen[2], index))
        e = np.array(errors)
        sure = e[e[:, 2] > 0.5]
        name = film_path.split("/")[-1 if data is not None else -2]
        print(f"{name:28} {len(e):4} {np.mean(e[:, 0] < .1):6.1%} {np.mean(e[:, 0] < .2):6.1%} {np.median(e[:, 1]):5.1f} | {len(sure) / len(e):6.1%} {np.mean(sure[:, 0] < .1):6.1%} {np.mean(sure[:, 0] < .2):6.1%} {int((sure[:, 0] > .2).sum())}", flush=True)
        if data is None:
            print("  ", [(int(i), round(o, 2), round(c, 2)) for o, _, c, i in errors if o > 0.1])


if __name__ == "__main__":
    main()
