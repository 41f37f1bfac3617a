"""From the network's maps to places of the racket; src/racket/decode.rs does the same and explains the constants."""
import numpy as np

THROAT, MIDDLE = 0.465, 0.75
LENGTH_OF_SIDE = 1 / 2.4
FLOOR = 5e-5
WEIGHTS = (0.5, 0.5, 1.0, 0.5)
BUTTS, TIPS = 48, 256
APART, FINE_TIP, FINE_BUTT = 0.1, 0.0625, 0.075
LEAST = 1e-4
WINDOW, OWN = 0.05, 0.3
MOST_OF_SEEN = 2.0
LOGISTIC = (0.03, 0.19, 1.34, 0.43)


def chances(heat):
    """Softmax of each map [4,H,W] of logits."""
    logits = heat.reshape(len(heat), -1).astype(np.float64)
    chance = np.exp(logits - logits.max(1, keepdims=True))
    return (chance / chance.sum(1, keepdims=True)).reshape(heat.shape)


def logit(p):
    p = np.clip(p, 0.02, 0.98)
    return np.log(p / (1 - p))


def between(field, y, x):
    height, width = field.shape
    y, x = np.clip(y, 0, height - 1), np.clip(x, 0, width - 1)
    top, left = np.minimum(y.astype(int), height - 2), np.minimum(x.astype(int), width - 2)
    a, b = y - top, x - left
    upper = field[top, left] * (1 - b) + field[top, left + 1] * b
    lower = field[top + 1, left] * (1 - b) + field[top + 1, left + 1] * b
    return upper * (1 - a) + lower * a


def window(field, place):
    """Mean place [x,y] within the window around a place, and its chance."""
    height, width = field.shape
    reach = round(WINDOW * width)
    x, y = int(np.clip(np.floor(place[0] + 0.5), 0, width - 1)), int(np.clip(np.floor(place[1] + 0.5), 0, height - 1))
    y0, y1, x0, x1 = max(y - reach, 0), min(y + reach + 1, height), max(x - reach, 0), min(x + reach + 1, width)
    part = field[y0:y1, x0:x1]
    mass = part.sum()
    if mass <= 0:
        return np.array(place, float), 0.0
    return np.array([(part.sum(0) * np.arange(x0, x1)).sum(), (part.sum(1) * np.arange(y0, y1)).sum()]) / mass, mass


def candidates(chance, seen, limit=5):
    """Places [(points [4,2] butt, throat, tip, middle in 0…1 of the crop, score, confidence, the confidence's terms)], best first."""
    _, height, width = chance.shape
    logs = np.log(chance + FLOOR)
    largest = lambda field, count: np.argsort(-field.ravel(), kind="stable")[:count]
    butts, tips = largest(chance[0], BUTTS), largest(chance[2], TIPS)
    by, bx = np.divmod(butts, width)
    ty, tx = np.divmod(tips, width)
    on = lambda k, part: between(logs[k], by[:, None] + part * (ty - by[:, None]), bx[:, None] + part * (tx - bx[:, None]))
    total = WEIGHTS[0] * logs[0].ravel()[butts][:, None] + WEIGHTS[2] * logs[2].ravel()[tips][None]
    total = total + WEIGHTS[1] * on(1, THROAT) + WEIGHTS[3] * on(3, MIDDLE)
    pairs = np.exp(total - total.max())
    pairs /= pairs.sum()
    column, best = pairs.sum(0), pairs.max(0)
    free, found = np.ones(len(tips), bool), []
    while len(found) < limit and free.any():
        j = int(np.argmax(np.where(free, best, -1)))
        i = int(pairs[:, j].argmax())
        away = np.hypot(tx - tx[j], ty - ty[j])
        basin = free & (away <= APART * width)
        mass = column[basin].sum()
        free &= ~basin
        if found and mass < LEAST:
            continue
        fine = pairs * (basin & (away <= FINE_TIP * width))[None] * (np.hypot(bx - bx[i], by - by[i]) <= FINE_BUTT * width)[:, None]
        fine /= fine.sum()
        tip = np.array([(fine.sum(0) * tx).sum(), (fine.sum(0) * ty).sum()])
        butt = np.array([(fine.sum(1) * bx).sum(), (fine.sum(1) * by).sum()])
        points = [butt, None, tip, None]
        for k, part in ((1, THROAT), (3, MIDDLE)):
            points[k] = butt + part * (tip - butt)
            own, share = window(chance[k], points[k])
            if share >= OWN:
                points[k] = own
        within = lambda reach, tip=tip: column[np.hypot(tx - tip[0], ty - tip[1]) <= reach * LENGTH_OF_SIDE * width].sum()
        around = within(0.2)
        terms = (1, logit(around), logit(window(chance[2], tip)[1]), logit(seen[3]))
        fitted = 1 / (1 + np.exp(-np.dot(LOGISTIC, terms)))
        confidence = min(fitted, within(0.4), MOST_OF_SEEN * seen[3])
        places = (np.array(points) + 0.5) / [width, height]
        found.append((places, np.log(mass), confidence, terms))
    found.sort(key=lambda f: -f[1])
    return [(places, score - found[0][1], confidence, terms) for places, score, confidence, terms in found]
