"""Films movements with made-up cameras, and errs as the pose network does."""

import math

import numpy as np
import torch
from errors import SIZE_QUANTILE
from net import inputs
from scipy.signal import butter, filtfilt
from takes import (
    LANK,
    LEAR,
    LEL,
    LHIP,
    LKNEE,
    LSH,
    LTOE,
    LWR,
    NOSE,
    POINTS,
    RANK,
    REAR,
    REL,
    RHIP,
    RKNEE,
    RSH,
    RTOE,
    RWR,
)
from window import EXCHANGED, LENGTH, RATE, Chance

# Frames a second of the film, at the network's pace: 15 stands for 30 frames a second of which half are repeated, too.
FRAME_RATES = (15, 20, 24, 25, 25, 30, 30, 30, 30, 50, 60, 60, 60, 120)
PHASES = 3
SHOULDERS, HIPS = [LSH, RSH], [LHIP, RHIP]


def smoothed(rate):
    """The program's smoothing of paths as a matrix [samples, samples] at a rate: see src/pose/smooth.rs."""
    samples = int(LENGTH / RATE * rate) + 3
    cutoff = (12.0 if rate >= 100 else 8.0) / 0.802
    if cutoff >= 0.5 * rate:
        return np.eye(samples)
    return filtfilt(*butter(2, cutoff, fs=rate), np.eye(samples), axis=0, padlen=min(samples - 1, 12))


def straight(at, knots):
    """Matrix that reads values at `at` from values at even `knots`, straight between."""
    low = np.clip(np.searchsorted(knots, at, "right") - 1, 0, len(knots) - 2)
    share = np.clip((at - knots[low]) / (knots[low + 1] - knots[low]), 0, 1)
    out = np.zeros((len(at), len(knots)))
    rows = np.arange(len(at))
    out[rows, low], out[rows, low + 1] = 1 - share, share
    return out


def exposures(seed):
    """Matrices [k, LENGTH, LENGTH] from what there is to what is known of it at some frame rate: sampled, smoothed, joined."""
    rng, found = np.random.default_rng(seed), []
    even = np.arange(LENGTH) / RATE
    for rate in FRAME_RATES:
        for _ in range(PHASES):
            taken = (np.arange(int(LENGTH / RATE * rate) + 3) - 1 + rng.random()) / rate
            found.append(straight(even, taken) @ smoothed(rate) @ straight(taken, even))
    return np.array(found, np.float32)


class Film:
    def __init__(self, errors, chance: Chance):
        """`errors`: the file that errors.py has written."""
        data, self.chance, dev = np.load(errors), chance, chance.dev
        names = [k for k in data.files if k.isdigit() and len(data[k]) > LENGTH]
        self.errors = torch.cat([torch.tensor(data[k].astype(np.float32)) for k in names]).to(dev).clamp(-1.5, 1.5)
        counts = [len(data[k]) for k in names]
        self.first = torch.tensor(np.cumsum([0, *counts[:-1]]), device=dev)
        self.count = torch.tensor(counts, device=dev)
        self.exposures = torch.tensor(exposures(3), device=dev)

    def seen(self, points):
        """Network inputs [n, channels, LENGTH] of movements [n, LENGTH, 17, 3]."""
        flat, away = self.projected(self.fleshed(points))
        size = size_of(flat).quantile(SIZE_QUANTILE, dim=1)[:, None, None, None]
        flat = flat / size
        flat = self.exposed(self.disturbed(flat, away))
        flat = flat + self.transplanted(len(flat))
        size = size_of(flat).quantile(SIZE_QUANTILE, dim=1)[:, None]
        size = size * (0.06 * self.chance.randn(len(flat), 1)).exp() * (1 + 0.05 * self.chance.waves(len(flat)))
        return inputs(flat, size, RATE)

    def fleshed(self, points):
        """From the recorded skeleton to the places that the pose network marks: shoulders and hips lie closer together, wrists that
        hold one racket too, the head's points differ from build to build. Ranges about the rendered players' proportions."""
        chance, n = self.chance, len(points)
        share = lambda low, high: chance.uniform(low, high, n, 1, 1, 1)
        middle = lambda pair: points[:, :, pair].mean(2, keepdim=True)
        out = points.clone()
        for pair, carried, narrow, longer in (
            (SHOULDERS, ((LEL, LWR), (REL, RWR)), share(0.76, 0.98), share(0.98, 1.1)),
            (HIPS, ((LKNEE, LANK, LTOE), (RKNEE, RANK, RTOE)), share(0.76, 0.98), share(0.94, 1.06)),
        ):
            out[:, :, pair] = middle(pair) + (points[:, :, pair] - middle(pair)) * narrow
            for root, joints in zip(pair, carried):
                for joint in joints:
                    out[:, :, joint] = out[:, :, root] + (points[:, :, joint] - points[:, :, root]) * longer[:, :, 0]
        ears, shoulders = middle([LEAR, REAR]), middle(SHOULDERS)
        head = points[:, :, NOSE : REAR + 1] - ears
        head = torch.cat([head[:, :, :1] * share(0.5, 1.2), head[:, :, 1:] * share(0.6, 1.1)], 2)
        out[:, :, NOSE : REAR + 1] = shoulders + (ears - shoulders) * share(0.72, 1.02) + head
        wrists = out[:, :, [LWR, RWR]]
        grip = wrists.mean(2, keepdim=True)
        apart = (wrists[:, :, :1] - wrists[:, :, 1:]).norm(dim=-1, keepdim=True)
        close = share(0.35, 1.0)
        out[:, :, [LWR, RWR]] = grip + (wrists - grip) * (close + (1 - close) * ((apart - 0.22) / 0.2).clamp(0, 1))
        return out

    def projected(self, points):
        """Points in the picture [n, LENGTH, 17, 2], y down, metres at the body's middle, and how far behind it each is."""
        chance, n = self.chance, len(points)
        points = points - points[:, LENGTH // 2, HIPS].mean(1)[:, None, None]
        drift = lambda size, share: chance.waves(n, slowest=0.1, fastest=0.8) * size * (chance.rand(n, 1) < share)
        curve = lambda value: (value + torch.zeros(n, LENGTH, device=chance.dev))[..., None]
        # All round, from the ground to high on a fence; a carried camera walks, pans and zooms a little.
        round_ = curve(chance.uniform(0, 2 * math.pi, n, 1) + drift(0.12, 0.4))
        high = chance.rand(n, 1) < 0.08
        down = curve(torch.deg2rad(torch.where(high, chance.uniform(25, 50, n, 1), chance.uniform(-10, 25, n, 1))) + drift(0.03, 0.4))
        roll = curve(torch.deg2rad(3.0 * chance.randn(n, 1)) + drift(0.03, 0.4))
        away = curve(chance.log_uniform(2.6, 18.0, n, 1) * (1 + drift(0.06, 0.3)))
        c, s = torch.cos, torch.sin
        x, y, z = points.unbind(-1)
        across, depth = c(round_) * x + s(round_) * y, c(round_) * y - s(round_) * x
        behind, up = c(down) * depth - s(down) * z, s(down) * depth + c(down) * z
        scale = away / (away + behind).clamp(min=0.8)
        across, below = across * scale, -up * scale
        flat = torch.stack([c(roll) * across - s(roll) * below, s(roll) * across + c(roll) * below], -1)
        return flat, behind

    def transplanted(self, n):
        """The pose network's own errors at other moments, for half of the windows."""
        chance = self.chance
        which = chance.pick(len(self.count), n)
        first = (chance.rand(n) * (self.count[which] - LENGTH)).long() + self.first[which]
        errors = self.errors[first[:, None] + torch.arange(LENGTH, device=chance.dev)]
        flip = chance.rand(n, 1, 1, 1) < 0.5
        errors = torch.where(flip, errors[:, :, EXCHANGED] * torch.tensor([-1.0, 1], device=chance.dev), errors)
        return errors * (chance.rand(n, 1, 1, 1) < 0.5) * chance.uniform(0.5, 1.3, n, 1, 1, 1)

    def exposed(self, flat):
        which = self.chance.pick(len(self.exposures), len(flat))
        return torch.bmm(self.exposures[which], flat.flatten(2)).unflatten(2, (POINTS, 2))

    def spans(self, n, shortest, longest, share):
        """Some stretch of each window, for a share of them, [n, LENGTH]."""
        chance = self.chance
        steps = torch.arange(LENGTH, device=chance.dev)[None]
        first = chance.uniform(-0.5 * longest, LENGTH, n, 1)
        last = first + chance.uniform(shortest, longest, n, 1)
        return (steps >= first) & (steps < last) & (chance.rand(n, 1) < share)

    def disturbed(self, flat, behind):
        """Errors that the network makes on real pictures and hardly on rendered ones: points that slip, lag in blur, stay behind, are
        drawn to the trunk where they are hidden, sides taken for each other, another person for the player. In units of the body."""
        chance, n = self.chance, len(flat)
        hard = torch.where(chance.rand(n, 1, 1, 1) < 0.35, 2.2, 1.0)
        flat = flat + hard * (0.012 * chance.randn(n, 1, POINTS, 2) + chance.randn(n, LENGTH, POINTS, 2) * chance.log_uniform(0.001, 0.008, n, 1, 1, 1))
        flat = flat + hard * chance.waves(n, POINTS, 2, slowest=0.5, fastest=5.0) * chance.uniform(0, 0.02, n, 1, 1, 1)
        # Arms that lag in blur: a running mean of what was.
        lag = int(chance.pick(4, 1)) + 1
        arms = flat[:, :, LEL : RWR + 1]
        late = torch.stack([torch.cat([arms[:, :1].expand(-1, k, -1, -1), arms[:, : LENGTH - k]], 1) for k in range(lag + 1)]).mean(0)
        flat = torch.where((torch.arange(POINTS, device=flat.device) // 4 == 1)[:, None] & (chance.rand(n, 1, 1, 1) < 0.3),
                           torch.cat([flat[:, :, :LEL], late, flat[:, :, LHIP:]], 2), flat)
        # Another person, before or after.
        steps = torch.arange(LENGTH, device=chance.dev)[None]
        edge = chance.uniform(0.05, 0.3, n, 1) * LENGTH
        other = torch.where(chance.rand(n, 1) < 0.5, steps < edge, steps > LENGTH - edge) & (chance.rand(n, 1) < 0.08)
        flat = torch.where(other[..., None, None], flat.roll(1, 0), flat)
        for share in (1.0, 0.35):
            for joints, often in ((range(LSH, POINTS), 0.08), (range(LHIP, POINTS), 0.1), (range(LSH, LHIP), 0.08), (range(LEAR, LEAR + 2), 0.05)):
                picked = torch.zeros(POINTS, dtype=torch.bool, device=flat.device)
                picked[list(joints)] = True
                where = self.spans(n, 4, 30, often * share)[..., None, None] & picked[:, None]
                flat = torch.where(where, flat[:, :, EXCHANGED], flat)
            # One joint that stays where it was, one arm guessed near the trunk, one wrist that slides along racket or forearm.
            joint = torch.nn.functional.one_hot(chance.pick(POINTS, n), POINTS).bool()[:, None, :, None]
            still = flat.gather(1, chance.pick(LENGTH, n)[:, None, None, None].expand(n, 1, POINTS, 2)) + 0.03 * chance.randn(n, 1, POINTS, 2)
            where = self.spans(n, 4, 30, 0.4 * share)[..., None, None]
            hips = flat[:, :, HIPS].mean(2, keepdim=True)
            flat = torch.where(where & joint, still - hips[:, :1] + hips, flat)
            far = behind[:, LENGTH // 2, RSH] > behind[:, LENGTH // 2, LSH]
            where = self.spans(n, 15, 80, 0.3 * share)[..., None]
            pull = chance.uniform(0.3, 0.9, n, 1, 1)
            guess = 0.5 * (flat[:, :, HIPS] + flat[:, :, SHOULDERS]) + 0.08 * chance.randn(n, 1, 2, 2)
            flat = flat.clone()
            for k, (elbow, wrist) in enumerate(((LEL, LWR), (REL, RWR))):
                mine = where & (far == bool(k))[:, None, None]
                for j in (elbow, wrist):
                    flat[:, :, j] = torch.where(mine, torch.lerp(flat[:, :, j], guess[:, :, k], pull), flat[:, :, j])
                slid = self.spans(n, 4, 24, 0.1 * share)[..., None]
                along = flat[:, :, elbow] + (flat[:, :, wrist] - flat[:, :, elbow]) * chance.uniform(0.5, 1.8, n, 1, 1)
                flat[:, :, wrist] = torch.where(slid, along + 0.03 * chance.randn(n, 1, 2), flat[:, :, wrist])
        # Sides taken for each other throughout, but for the head; legs hidden.
        whole = (chance.rand(n, 1, 1, 1) < 0.012) & (torch.arange(POINTS, device=flat.device) >= LSH)[:, None]
        flat = torch.where(whole, flat[:, :, EXCHANGED], flat)
        legs = (chance.rand(n, 1, 1, 1) < 0.1) & (torch.arange(POINTS, device=flat.device) >= LKNEE)[:, None]
        return flat + legs * (0.1 * chance.randn(n, 1, POINTS, 2) + 0.02 * chance.randn(n, LENGTH, POINTS, 2))


def size_of(flat):
    """Apparent size of the body: trunk plus the longer leg, [n, LENGTH]."""
    length = lambda a, b: (flat[:, :, a] - flat[:, :, b]).norm(dim=-1)
    trunk = (flat[:, :, SHOULDERS].mean(2) - flat[:, :, HIPS].mean(2)).norm(dim=-1)
    return trunk + torch.maximum(length(LHIP, LKNEE) + length(LKNEE, LANK), length(RHIP, RKNEE) + length(RKNEE, RANK))
