"""Reads recorded tennis movement: joints in metres, and when each stroke meets the ball.

Usage: takes.py BVH_DIR OUT.npz [FIRST_PLAYER [CONTACTS.csv]]

BVH_DIR holds takes of one kind of stroke each, named PLAYER_KIND….bvh. Players get codes in alphabetical order of their
prefixes, from FIRST_PLAYER (1) on. OUT has, per take, 17 points [time, 17, 3] at 100 per second (x to the player's side, y,
z up, metres of a body 1.7 m high) and its strokes. CONTACTS.csv lists the strokes for `score --recorded`.

The recordings have no ball. Contact is taken 30 ms after the right hand moves fastest relative to the hips, as in the rendered clips
that replay such takes; which of the hand's peaks are strokes follows from where the hand goes (see `contacts`).
"""

import hashlib
import sys
from pathlib import Path

import numpy as np
from scipy.ndimage import gaussian_filter1d
from scipy.signal import find_peaks

# The program's points, left before right.
POINTS = 17
NOSE, LEAR, REAR, LSH, RSH, LEL, REL, LWR, RWR, LHIP, RHIP, LKNEE, RKNEE, LANK, RANK, LTOE, RTOE = range(POINTS)
NAMES = ["LeftShoulder", "RightShoulder", "LeftElbow", "RightElbow", "LeftWrist", "RightWrist", "LeftHip", "RightHip", "LeftKnee",
         "RightKnee", "LeftAnkle", "RightAnkle", "LeftAnkle end", "RightAnkle end"]
RATE = 100.0
STATURE = 1.7
# What a take's name says: forehand, backhand or overhead (0, 1, 2), and whether it is a volley.
KINDS = {"derecha": (0, 0), "reves": (1, 0), "servicio": (2, 0), "remate": (2, 0), "vderecha": (0, 1), "vreves": (1, 1)}
FOREHAND, BACKHAND, OVERHEAD = range(3)
AFTER_PEAK = 0.030
# Wrists closer than this (metres) hold the racket together.
TOGETHER = 0.33
# A stroke that the take's end cuts off this soon after contact (seconds) is not whole.
WHOLE = 0.25
# A hand that is back where it was (metres) didn't swing: its marker leapt. Volleys may only block the ball.
LEAST_WAY = 0.3
# After a serve or smash the hand comes down by this much (metres) within `COME_DOWN` seconds; where it stays up it was only raised.
LEAST_DROP, COME_DOWN = 0.2, 0.35


def hierarchy(text):
    """Names, parents, offsets and channels of a BVH file's joints and end sites."""
    names, parents, offsets, channels, open_, last = [], [], [], [], [], -1
    for line in text.splitlines():
        words = line.split()
        if not words:
            continue
        if words[0] in ("ROOT", "JOINT", "End"):
            parents.append(open_[-1] if open_ else -1)
            names.append(words[1] if words[0] != "End" else names[open_[-1]] + " end")
            channels.append([])
            last = len(names) - 1
        elif words[0] == "{":
            open_.append(last)
        elif words[0] == "}":
            open_.pop()
        elif words[0] == "OFFSET":
            offsets.append([float(w) for w in words[1:4]])
        elif words[0] == "CHANNELS":
            channels[open_[-1]] = words[2:]
    return names, parents, np.array(offsets), channels


def turned(axis, degrees):
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    zero, one = np.zeros_like(c), np.ones_like(c)
    rows = {"X": [one, zero, zero, zero, c, -s, zero, s, c], "Y": [c, zero, s, zero, one, zero, -s, zero, c],
            "Z": [c, -s, zero, s, c, zero, zero, zero, one]}[axis]
    return np.stack(rows, -1).reshape(*c.shape, 3, 3)


def places(path):
    """Joints' places in the file's frame and unit by name, their turns, and the step between frames."""
    head, motion = path.read_text(errors="replace").split("MOTION", 1)
    names, parents, offsets, channels = hierarchy(head)
    lines = motion.strip().splitlines()
    values = np.array(" ".join(lines[2:]).split(), float).reshape(-1, sum(map(len, channels)))
    found, turns, column = {}, [], 0
    for name, parent, offset, channel in zip(names, parents, offsets, channels):
        shift, turn = np.tile(offset, (len(values), 1)), np.tile(np.eye(3), (len(values), 1, 1))
        for word in channel:
            if word.endswith("position"):
                shift[:, "XYZ".index(word[0])] += values[:, column]
            else:
                turn = turn @ turned(word[0], values[:, column])
            column += 1
        if parent >= 0:
            shift = found[names[parent]] + np.einsum("tij,tj->ti", turns[parent], shift)
            turn = turns[parent] @ turn
        found[name] = shift
        turns.append(turn)
    return found, dict(zip(names, turns)), float(lines[1].split()[-1])


def unit(vectors):
    return vectors / (np.linalg.norm(vectors, axis=-1, keepdims=True) + 1e-9)


def points_of(path):
    """17 points [time, 17, 3], metres, z up; the step between them."""
    frame = np.array([[-1.0, 0, 0], [0, 0, 1], [0, 1, 0]])
    found, turns, step = places(path)
    at = {name: place @ frame.T / 100 for name, place in found.items()}
    forward = facing(at["LeftShoulder"], at["RightShoulder"], at["LeftAnkle end"] - at["LeftAnkle"], at["RightAnkle end"] - at["RightAnkle"])
    up = unit(at["Head end"] - at["Head"])
    # The way the face looks: fixed to the head, forward on average.
    turn = np.einsum("ij,tjk->tik", frame, turns["Head"])
    face = np.einsum("tij,j->ti", turn, np.einsum("tji,tj->ti", turn, forward).mean(0))
    face = unit(face - (face * up).sum(1, keepdims=True) * up)
    side = np.cross(up, face)
    side *= np.sign(np.median((side * (at["LeftShoulder"] - at["RightShoulder"])).sum(1)))
    middle = 0.5 * (at["Head"] + at["Head end"])
    head = [middle + 0.10 * face - 0.02 * up, middle + 0.075 * side, middle - 0.075 * side]
    return np.stack(head + [at[name] for name in NAMES], 1), step


def facing(left, right, *feet):
    """Horizontal way that the chest looks, [time, 3]."""
    forward = unit(np.cross([0, 0, 1.0], right - left))
    return forward * np.sign(np.median((sum(feet) * forward).sum(1)))


def is_whole(hand, step, contact, kind, volley):
    """Whether the hand's way [time, 3] from the hips shows all of a stroke whose contact is told."""
    at = lambda time: hand[min(len(hand) - 1, max(0, round(time / step)))]
    if len(hand) * step - contact < WHOLE:
        return False
    if kind == OVERHEAD:
        return at(contact)[2] - at(contact + COME_DOWN)[2] >= LEAST_DROP
    return volley or np.linalg.norm(at(contact + 0.15) - at(contact - 0.25)) >= LEAST_WAY


def contacts(points, step, kind, volley):
    """Times of contact with whether two hands hold the racket, and of every other peak of the hand's speed."""
    hips = points[:, [LHIP, RHIP]].mean(1)
    smooth = lambda path, width=1.5: gaussian_filter1d(path, width, axis=0)
    velocity = lambda joint: np.gradient(smooth(points[:, joint] - hips), step, axis=0)
    right, left = velocity(RWR), velocity(LWR)
    ground_backhand = kind == BACKHAND and not volley
    speed = np.linalg.norm(right, axis=1)
    if ground_backhand:
        speed = np.maximum(speed, np.linalg.norm(left, axis=1))
    top = np.percentile(speed, 99.5)
    peaks, _ = find_peaks(speed, height=(0.5 if volley else 0.6) * top, distance=85)
    lower, _ = find_peaks(speed, height=(0.4 if volley else 0.5) * top, distance=40)
    forward = facing(points[:, LSH], points[:, RSH], points[:, LTOE] - points[:, LANK], points[:, RTOE] - points[:, RANK])[:, :2].mean(0)
    forward /= np.linalg.norm(forward)
    aside = np.array([forward[1], -forward[0]])
    apart = np.linalg.norm(points[:, RWR] - points[:, LWR], axis=1)
    found = []
    for peak in peaks:
        around = slice(max(0, peak - 8), peak + 9)
        if kind == OVERHEAD:
            # A serve or smash meets the ball about where the hand is highest, over the head; the follow-through can be as fast.
            if points[around, RWR, 2].max() <= points[peak, NOSE, 2]:
                continue
            window = slice(max(0, peak - 30), min(len(points), peak + 11))
            near = window.start + int(smooth(points[window, RWR, 2]).argmax()) + 1
            both = False
        else:
            both = apart[max(0, peak - 12) : peak + 3].max() < TOGETHER
            hand = 0.5 * (right + left) if ground_backhand and both else right
            across = (hand[around, :2] @ aside).mean()
            wrong_way = across > (-0.5 if volley else 0.3) if kind == FOREHAND else across < 0.4
            window = slice(max(0, peak - 22), min(len(points), peak + 13))
            ahead = hand[window, :2] @ forward
            if wrong_way or ahead.max() < 0.4:
                continue
            near = window.start + int(ahead.argmax())
        around = slice(max(0, near - 8), min(len(points), near + 9))
        fastest = around.start + int(np.linalg.norm(right[around], axis=1).argmax())
        contact = fastest * step + AFTER_PEAK
        if is_whole(points[:, RWR] - hips, step, contact, kind, volley):
            found.append((contact, both))
    times = np.array([t for t, _ in found])
    doubtful = [p * step for p in {*peaks, *lower} if len(times) == 0 or np.abs(times - p * step).min() > 0.12]
    return times, np.array([both for _, both in found], bool), np.array(sorted(doubtful))


def main():
    folder, out = Path(sys.argv[1]), Path(sys.argv[2])
    first = int(sys.argv[3]) if len(sys.argv) > 3 else 1
    files = sorted(folder.glob("*.bvh"))
    players = sorted({f.name.split("_")[0] for f in files})
    digests = {f: hashlib.sha256(f.read_bytes()).hexdigest() for f in files}
    arrays, rows, table = {}, [], ["file,kind,volley,hands,contact_s,sure"]
    for path in files:
        kind, volley = KINDS[path.stem.split("_")[1].split()[0].lower()]
        # One player's forehand volleys are, byte for byte, the backhand volleys.
        twin = any(digests[other] == digests[path] for other in files if other != path)
        if twin and volley and kind == FOREHAND:
            continue
        points, step = points_of(path)
        times, both, doubtful = contacts(points, step, kind, volley)
        # Head to toes, from the segments: bodies of one size.
        high = np.median(np.linalg.norm(points[:, [LEAR, REAR]].mean(1) - points[:, [LTOE, RTOE]].mean(1), axis=1)) + 0.08
        grid = np.arange(0, (len(points) - 1) * step, 1 / RATE)
        place = np.clip(grid / step, 0, len(points) - 1.001)
        low = place.astype(int)
        share = (place - low)[:, None, None]
        even = (points[low] * (1 - share) + points[low + 1] * share) * (STATURE / high)
        name = f"{len(rows):03d}"
        arrays[name] = (even - even[:, [LHIP, RHIP]].mean(1).mean(0) * [1, 1, 0]).astype(np.float16)
        arrays[f"{name}/contacts"], arrays[f"{name}/two_hands"], arrays[f"{name}/doubtful"] = times, both, doubtful
        word = ("forehand", "backhand", "overhead")[kind]
        for time, hands in zip(times, both):
            hands = 2 if hands and kind == BACKHAND else 1
            table.append(f"{path.name},{word},{'yes' if volley else ''},{hands},{time:.3f},yes")
        table += [f"{path.name},{word},{'yes' if volley else ''},1,{time:.3f}," for time in doubtful]
        rows.append((players.index(path.name.split("_")[0]) + first, kind, volley))
    arrays["takes"] = np.array(rows)
    np.savez_compressed(out, **arrays)
    if len(sys.argv) > 4:
        Path(sys.argv[4]).write_text("\n".join(table) + "\n")
    for kind, volley in sorted(set(KINDS.values())):
        which = [i for i, r in enumerate(rows) if tuple(r[1:]) == (kind, volley)]
        strokes = sum(len(arrays[f"{i:03d}/contacts"]) for i in which)
        print(f"kind {kind} volley {volley}: {len(which)} takes, {strokes} strokes, with two hands {sum(arrays[f'{i:03d}/two_hands'].sum() for i in which)}, doubtful {sum(len(arrays[f'{i:03d}/doubtful']) for i in which)}")


if __name__ == "__main__":
    main()
