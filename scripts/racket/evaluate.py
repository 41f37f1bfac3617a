"""How far a network's points lie from truth on clips that it was not trained on.

    evaluate.py MODEL.onnx CLIP.mp4 TRUTH FRAMES.csv …   (three files a clip)

TRUTH: NAME.json.gz of a rendered clip, or a CSV with frame,point,x,y,visible. FRAMES.csv: body points as `toeline measure` writes them,
so that crops are cut where the program cuts them. A crop around the wrist and its mirror image; where the best candidate of
decode.py has little confidence, also around that candidate's butt, and the surer of the two. No path through time.
Prints the shares of frames with the tip within 10 and 20 % of the racket's length, and the same for the confident ones.
"""
import csv
import gzip
import json
import sys

import cv2
import numpy as np
import onnxruntime

import decode
from extract import racket_length

SIDE, CROP_LENGTHS = 160, 2.4
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
    pair = np.stack([crop, crop[:, ::-1]]).transpose(0, 3, 1, 2).astype(np.float32)
    heat, seen = session.run(None, {"image": pair})
    # The mean of what it says of the picture and of its mirror image.
    chance, seen = (decode.chances(heat[0]) + decode.chances(heat[1])[:, :, ::-1]) / 2, seen.mean(0)
    found = decode.candidates(chance, seen)
    places = lambda candidate: (candidate[0] * SIDE - 0.5 - turn[:, 2]) / zoom
    return found, places


def frames(session, film_path, truth_path, frames_path, least=0.5):
    """For each frame with truth, where the racket isn't foreshortened under `least`: its number, the answer as above, the
    true points, the length of a racket square to the lens."""
    rackets, data, right = truth(truth_path)
    bodies, film, index = body_points(frames_path), cv2.VideoCapture(film_path), -1
    every = 1 if data is None else max(1, len(rackets) // 200)
    while True:
        ok, picture = film.read()
        index += 1
        if not ok:
            return
        body = bodies.get(index)
        if index not in rackets or index % every or body is None or not np.isfinite(body[[11, 12, 23, 24, 25, 26, 27, 28]]).all():
            continue
        wrist, points, length = body[16 if right else 15], rackets[index], racket_length(body)
        full = length
        if data is not None:
            height, width = picture.shape[:2]
            share, full = foreshortened(data, index, points)
            inside = (points >= 0).all() and (points[:, 0] < width).all() and (points[:, 1] < height).all()
            if share < least or not inside:
                continue
        if not np.isfinite(wrist).all():
            continue
        found, places = answer(session, picture, wrist, length)
        if found[0][2] < 0.5:
            again = answer(session, picture, places(found[0])[0], length)
            if again[0][0][2] > found[0][2]:
                found, places = again
        yield index, found, places, points, full


def main():
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    session = onnxruntime.InferenceSession(sys.argv[1], options)
    print("clip, frames, tip < 10 %, < 20 %, axis median deg | confident share, < 10 %, < 20 %, off by more than 20 %")
    for film_path, truth_path, frames_path in zip(*[iter(sys.argv[2:])] * 3):
        errors = []
        for index, found, places, points, full in frames(session, film_path, truth_path, frames_path):
            best = places(found[0])
            off = np.linalg.norm(best[2] - points[2]) / full
            axis, true_axis = best[2] - best[0], points[2] - points[0]
            cross, dot = true_axis[0] * axis[1] - true_axis[1] * axis[0], axis @ true_axis
            errors.append((off, abs(np.degrees(np.arctan2(cross, dot))), found[0][2], index))
        e = np.array(errors)
        sure = e[e[:, 2] > 0.5]
        labelled = truth_path.endswith(".csv")
        name = film_path.split("/")[-2 if labelled else -1]
        print(f"{name:28} {len(e):4} {np.mean(e[:, 0] < .1):6.1%} {np.mean(e[:, 0] < .2):6.1%} {np.median(e[:, 1]):5.1f} | {len(sure) / len(e):6.1%} {np.mean(sure[:, 0] < .1):6.1%} {np.mean(sure[:, 0] < .2):6.1%} {int((sure[:, 0] > .2).sum())}", flush=True)
        if labelled:
            print("  ", [(int(i), round(o, 2), round(c, 2)) for o, _, c, i in errors if o > 0.1])


if __name__ == "__main__":
    main()
