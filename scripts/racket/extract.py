"""Cuts training material out of rendered clips with truth and out of freely licensed pictures.

    extract.py --clips DIR --pictures DIR --out DIR [--per-clip N] [--seed N]

--clips     folder with NAME.mp4 and NAME.json.gz (truth)
--pictures  folder that is searched for photographs and films without rackets (see PICTURES)

Writes crops.npz (a racket in each, with its points), backgrounds.npz (none) and words.npz (lettering). Pictures are kept as WebP.
Players and scenes of HELD_PLAYERS and HELD_SCENES are left out, so that the network can be judged on them.
"""
import argparse
import glob
import gzip
import io
import json
import os

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

HELD_PLAYERS = {"m2", "f2"}
HELD_SCENES = {3}
# Side of a kept crop in pixels and in racket lengths: wider than what the network sees, so that it can be moved and zoomed.
SIDE = 256
SIDE_LENGTHS = 3.6
# Racket length in the picture as a share of torso + thigh + shank there (a 0.685 m racket, a body of usual proportions).
RACKET_OF_BODY = 0.51
# Photographs with nothing like a tennis racket in them; names as the packages ship them (opencv-doc, scikit-image, scikit-learn).
PICTURES = """fruits baboon left right leuvenA leuvenB aloeL home building board stuff rubberwhale1 graf1 messi5 basketball1
basketball2 ela_original licenseplate_motion butterfly HappyFish squirrel_cls cards box_in_scene sudoku text_motion aero1
aero3 scenetext01 scenetext02 scenetext03 scenetext04 scenetext05 scenetext06 plant astronaut brick camera chelsea coffee coins
grass gravel motorcycle_left motorcycle_right rocket text page china flower wood-l dune-l""".split()
FILMS = ["vtest"]


def webp(picture, quality=78):
    out = io.BytesIO()
    Image.fromarray(cv2.cvtColor(picture, cv2.COLOR_BGR2RGB)).save(out, "WEBP", quality=quality)
    return out.getvalue()


def pack(path, pictures, meta, **more):
    offsets = np.cumsum([0] + [len(p) for p in pictures])
    np.savez(path, data=np.frombuffer(b"".join(pictures), np.uint8), offsets=offsets, meta=np.array(meta, np.float32), **more)


def crop(picture, centre, side):
    """A square of `side` pixels around `centre`, SIDE pixels wide, and the 2×3 map into it."""
    zoom = SIDE / side
    turn = np.array([[zoom, 0, SIDE / 2 - zoom * centre[0]], [0, zoom, SIDE / 2 - zoom * centre[1]]])
    if zoom < 0.6:
        blur = max(1, int(round(0.7 / zoom)))
        picture = cv2.blur(picture, (blur, blur))
    return cv2.warpAffine(picture, turn, (SIDE, SIDE), flags=cv2.INTER_LINEAR, borderValue=(0, 0, 0)), turn


def racket_length(points):
    """Length of a racket in the picture, pixels, from the 33 body points."""
    span = lambda a, b: np.linalg.norm(a - b)
    torso = span((points[11] + points[12]) / 2, (points[23] + points[24]) / 2)
    legs = [span(points[h], points[k]) + span(points[k], points[a]) for h, k, a in ((23, 25, 27), (24, 26, 28))]
    return RACKET_OF_BODY * (torso + max(legs))


def without_racket(frame, plate, racket, before, after, length):
    """The frame with the racket's sweep replaced by the clip's median picture."""
    axis = racket[2] - racket[0]
    across = np.array([-axis[1], axis[0]]) / (np.linalg.norm(axis) + 1e-6)
    hull = [racket[0] + 0.2 * axis + across * s * 0.05 * length for s in (1, -1)]
    for shift in (np.zeros(2), 0.6 * (before[2] - racket[2]), 0.6 * (after[2] - racket[2])):
        for along in (0.45, 0.75, 1.04):
            hull += [racket[0] + axis * along + across * s * 0.26 * length + shift * along for s in (1, -1)]
    mask = np.zeros(frame.shape[:2], np.uint8)
    cv2.fillConvexPoly(mask, cv2.convexHull(np.array(hull, np.float32)).astype(np.int32), 255)
    mask = cv2.blur(mask, (5, 5))[..., None].astype(np.float32) / 255
    return (frame * (1 - mask) + plate * mask).astype(np.uint8)


def median_picture(path, count):
    film, kept = cv2.VideoCapture(path), []
    for index in np.linspace(0, count - 1, 15).astype(int):
        film.set(cv2.CAP_PROP_POS_FRAMES, int(index))
        ok, frame = film.read()
        if ok:
            kept.append(frame)
    return np.median(np.stack(kept), 0).astype(np.uint8)


def from_clip(path, per_clip, rng, crops, backgrounds):
    truth = json.load(gzip.open(path))
    film_path = path[: -len(".json.gz")] + ".mp4"
    if truth["person"]["key"] in HELD_PLAYERS or truth["config"]["scene"] in HELD_SCENES:
        return
    frames, right = truth["frames"], truth["handedness"] == "right"
    wrist, elbow, other, other_elbow = (16, 14, 15, 13) if right else (15, 13, 16, 14)
    rackets = np.array([f["racket2d"] for f in frames], float)
    tip_speed = np.r_[0, np.linalg.norm(np.diff(rackets[:, 2], axis=0), axis=1)]
    # More than half of the frames are taken where the racket is fast.
    share = 0.45 / len(frames) + 0.55 * tip_speed / tip_speed.sum()
    picks = set(rng.choice(len(frames), min(per_clip, len(frames)), replace=False, p=share / share.sum()).tolist())
    still = not any("R" in f for f in frames)
    plate = median_picture(film_path, len(frames)) if still else None
    film = cv2.VideoCapture(film_path)
    for index in range(len(frames)):
        ok, frame = film.read()
        if not ok:
            break
        if index not in picks:
            continue
        body = np.array(frames[index]["lm2d"], float)
        length, racket = racket_length(body), rackets[index]
        side = SIDE_LENGTHS * length
        height, width = frame.shape[:2]
        inside = ((racket >= 0).all(1) & (racket[:, 0] < width) & (racket[:, 1] < height)).astype(float)
        picture, turn = crop(frame, body[wrist], side)
        into = lambda p, turn=turn: p @ turn[:, :2].T + turn[:, 2]
        crops[0].append(webp(picture, 80))
        crops[1].append(np.r_[SIDE / SIDE_LENGTHS, into(racket).ravel(), into(body[elbow]), inside])
        if plate is None or rng.random() > 0.5:
            continue
        clean = without_racket(frame, plate, racket, rackets[max(index - 1, 0)], rackets[min(index + 1, len(frames) - 1)], length)

        def keep(centre, side, kind, toward, clean=clean):
            picture, turn = crop(clean, centre, side)
            backgrounds[0].append(webp(picture))
            backgrounds[1].append(np.r_[kind, toward @ turn[:, :2].T + turn[:, 2]])

        keep(body[wrist], side, 1, body[elbow])
        if rng.random() < 0.3:
            keep(body[other], side * rng.uniform(0.8, 1.2), 1, body[other_elbow])
        if rng.random() < 0.2:
            centre = rng.uniform(0.15, 0.85, 2) * [width, height]
            keep(centre, side * rng.uniform(0.5, 1.4), 0, centre)
    print(os.path.basename(path), len(crops[0]), len(backgrounds[0]), flush=True)


def from_pictures(folder, rng, backgrounds):
    def keep(picture, count):
        height, width = picture.shape[:2]
        for _ in range(count):
            side = rng.uniform(0.3, 1) * min(height, width)
            centre = np.array([rng.uniform(side / 2, width - side / 2), rng.uniform(side / 2, height - side / 2)])
            backgrounds[0].append(webp(crop(picture, centre, side)[0], 72))
            backgrounds[1].append(np.r_[2, SIDE / 2, SIDE / 2])

    for path in sorted(glob.glob(os.path.join(folder, "**", "*"), recursive=True)):
        name, ending = os.path.splitext(os.path.basename(path))
        if name in PICTURES and ending in (".jpg", ".png", ".webp"):
            picture = cv2.imread(path)
            if picture is not None:
                keep(picture, 20)
        if name in FILMS and ending == ".avi":
            film = cv2.VideoCapture(path)
            for index in range(0, 790, 10):
                film.set(cv2.CAP_PROP_POS_FRAMES, index)
                ok, frame = film.read()
                if ok:
                    keep(frame, 5)
    print("pictures", len(backgrounds[0]), flush=True)


def words(rng, count=240):
    """Masks of lettering in a few faces, 96 × 192 pixels."""
    import matplotlib

    fonts = glob.glob(os.path.join(os.path.dirname(matplotlib.__file__), "mpl-data", "fonts", "ttf", "DejaVu*.ttf"))
    letters, masks = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789", []
    for _ in range(count):
        mask = Image.new("L", (192, 96))
        text = "".join(rng.choice(list(letters), rng.integers(1, 7)))
        font = ImageFont.truetype(fonts[rng.integers(len(fonts))], int(rng.integers(30, 100)))
        ImageDraw.Draw(mask).text((96, 48), text, fill=255, font=font, anchor="mm", stroke_width=int(rng.integers(0, 3)))
        masks.append(np.array(mask))
    return np.stack(masks)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--clips", required=True)
    parser.add_argument("--pictures", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--per-clip", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    rng = np.random.default_rng(args.seed)
    crops, backgrounds = ([], []), ([], [])
    for path in sorted(glob.glob(os.path.join(args.clips, "*.json.gz"))):
        from_clip(path, args.per_clip, rng, crops, backgrounds)
    from_pictures(args.pictures, rng, backgrounds)
    os.makedirs(args.out, exist_ok=True)
    pack(os.path.join(args.out, "crops.npz"), *crops)
    pack(os.path.join(args.out, "backgrounds.npz"), *backgrounds)
    np.savez_compressed(os.path.join(args.out, "words.npz"), masks=words(rng))


if __name__ == "__main__":
    main()
