"""Pieces of recorded movement with what they show: what the recogniser learns from, before any camera."""

import math

import numpy as np
import torch
from takes import (
    BACKHAND,
    LANK,
    LEAR,
    LEL,
    LHIP,
    LKNEE,
    LSH,
    LTOE,
    LWR,
    NOSE,
    OVERHEAD,
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
from takes import RATE as TAKE_RATE

# Samples of a window a second, and how many; the network answers at half that rate.
RATE, LENGTH = 60.0, 144
STEPS = LENGTH // 2
# A moment this near to contact belongs to the stroke; one farther than the second, to none. Seconds.
STROKE, NONE = 0.10, 0.25
# Contact is asked for this near to it.
ASKED = 0.25
UNKNOWN = -1
# Left for right among the points.
EXCHANGED = [NOSE, REAR, LEAR, RSH, LSH, REL, LEL, RWR, LWR, RHIP, LHIP, RKNEE, LKNEE, RANK, LANK, RTOE, LTOE]
# Limbs, each joint with the one that carries it, trunk outward.
LIMBS = {LEL: LSH, REL: RSH, LWR: LEL, RWR: REL, LKNEE: LHIP, RKNEE: RHIP, LANK: LKNEE, RANK: RKNEE, LTOE: LANK, RTOE: RANK}


class Chance:
    """Random numbers and slow curves on one device, from one seed."""

    def __init__(self, seed, dev):
        self.dev = dev
        self.gen = torch.Generator(device=dev).manual_seed(seed)

    def rand(self, *shape):
        return torch.rand(*shape, generator=self.gen, device=self.dev)

    def randn(self, *shape):
        return torch.randn(*shape, generator=self.gen, device=self.dev)

    def uniform(self, low, high, *shape):
        return low + (high - low) * self.rand(*shape)

    def log_uniform(self, low, high, *shape):
        return (math.log(low) + (math.log(high) - math.log(low)) * self.rand(*shape)).exp()

    def pick(self, most, n):
        return torch.randint(most, (n,), generator=self.gen, device=self.dev)

    def waves(self, n, *of, slowest=0.3, fastest=2.5):
        """Curves over a window, [n, LENGTH, *of], about unit size."""
        u = torch.linspace(0, 1, LENGTH, device=self.dev).view(1, -1, *[1] * len(of))
        pace = lambda: self.uniform(slowest, fastest, n, 1, *of)
        return sum(0.7 * self.randn(n, 1, *of) * torch.sin(2 * math.pi * (pace() * u + self.rand(n, 1, *of))) for _ in range(2))


class Labels:
    """What windows show, at the network's steps: `stroke` 0 none, 1 to 3 forehand, backhand, overhead of the right hand, 4 to 6 of
    the left; `volley` and `both` (two hands) 0 or 1; `to_contact` seconds; UNKNOWN (NaN) where nothing is asked."""

    def __init__(self, stroke, volley, both, to_contact):
        self.stroke, self.volley, self.both, self.to_contact = stroke, volley, both, to_contact

    @classmethod
    def none(cls, n, dev):
        unknown = torch.full((n, STEPS), float(UNKNOWN), device=dev)
        return cls(torch.zeros(n, STEPS, dtype=torch.long, device=dev), unknown, unknown, torch.full((n, STEPS), math.nan, device=dev))

    @classmethod
    def joined(cls, parts):
        return cls(*(torch.cat([getattr(p, k) for p in parts]) for k in ("stroke", "volley", "both", "to_contact")))


class Takes:
    """Recorded takes, on one device."""

    def __init__(self, file, chance):
        data = np.load(file)
        self.chance, dev = chance, chance.dev
        rows = data["takes"]
        takes = [torch.tensor(data[f"{i:03d}"].astype(np.float32)) for i in range(len(rows))]
        self.points = torch.cat(takes).to(dev)
        counts = [len(t) for t in takes]
        self.first = torch.tensor(np.cumsum([0, *counts[:-1]]), device=dev)
        self.count = torch.tensor(counts, device=dev)
        self.player = rows[:, 0]
        most = max(len(data[f"{i:03d}/contacts"]) + len(data[f"{i:03d}/doubtful"]) for i in range(len(rows)))
        # Moments of each take, padded: contact or doubtful peak, its class, volley, both hands.
        self.moment = torch.full((len(rows), most), 1e6, device=dev)
        self.what = torch.full((len(rows), most), UNKNOWN, dtype=torch.long, device=dev)
        self.volley = torch.zeros(len(rows), device=dev)
        self.both = torch.full((len(rows), most), float(UNKNOWN), device=dev)
        groups = {}
        for i, (_, kind, volley) in enumerate(rows):
            contacts, both = data[f"{i:03d}/contacts"], data[f"{i:03d}/two_hands"]
            self.volley[i] = float(volley) if kind != OVERHEAD else UNKNOWN
            for k, (time, two) in enumerate(zip(contacts, both)):
                self.moment[i, k], self.what[i, k] = float(time), int(kind) + 1
                self.both[i, k] = float(two) if kind == BACKHAND else UNKNOWN
                groups.setdefault((int(kind), int(volley), bool(two) and kind == BACKHAND), []).append((i, float(time)))
            doubtful = torch.tensor(data[f"{i:03d}/doubtful"], dtype=torch.float32)
            self.moment[i, len(contacts) : len(contacts) + len(doubtful)] = doubtful
        one_hand = [stroke for (kind, volley, both), group in groups.items() if kind == BACKHAND and not both for stroke in group]
        self.free_arm = torch.tensor(one_hand, device=dev)
        # Rare groups are drawn less often than their equal share, but more often than they occur.
        self.groups = [torch.tensor(g, device=dev) for g in groups.values()]
        self.shares = torch.tensor([len(g) ** 0.4 for g in groups.values()], device=dev)

    def at(self, take, time):
        """Points [n, time, 17, 3] at times [n, time] of takes [n]; held beyond the takes' ends."""
        place = (time * TAKE_RATE).clamp(min=0)
        place = torch.minimum(place, (self.count[take] - 1.01)[:, None])
        low = place.long()
        share = (place - low)[..., None, None]
        row = self.first[take][:, None] + low
        return torch.lerp(self.points[row], self.points[row + 1], share)

    def anchors(self, n):
        """Strokes drawn from all groups: take and time of two of one kind, [n] each."""
        which = torch.multinomial(self.shares, n, replacement=True, generator=self.chance.gen)
        found = [torch.empty(n, device=self.chance.dev) for _ in range(4)]
        for k, group in enumerate(self.groups):
            mine = (which == k).nonzero()[:, 0]
            for pair in (0, 2):
                drawn = group[self.chance.pick(len(group), len(mine))]
                found[pair][mine], found[pair + 1][mine] = drawn[:, 0], drawn[:, 1]
        return found[0].long(), found[1], found[2].long(), found[3]

    def anywhere(self, n):
        take = self.chance.pick(len(self.count), n)
        return take, self.chance.rand(n) * self.count[take] / TAKE_RATE

    def labels(self, take, time, pace, left):
        """What windows show that read their takes at `time` [n, LENGTH], `pace` times faster than the film [n, 1]."""
        middle = 0.5 * (time[:, ::2] + time[:, 1::2])
        off = (self.moment[take][:, None] - middle[..., None]) / pace[..., None]
        near, which = off.abs().min(-1)
        pick = lambda of: of[take].gather(1, which)
        what = pick(self.what)
        is_stroke = what > 0
        stroke = torch.where(near > NONE, 0, torch.where((near < STROKE) & is_stroke, what + 3 * left[:, None].long(), UNKNOWN))
        # About a peak of which nobody knows what it was, nothing is asked.
        stroke = torch.where(~is_stroke & (near < 2 * NONE), UNKNOWN, stroke)
        asked = is_stroke & (near < ASKED)
        told = lambda of: torch.where(asked, of, UNKNOWN)
        to_contact = torch.where(asked, off.gather(2, which[..., None])[..., 0], math.nan)
        return Labels(stroke, told(self.volley[take][:, None].expand_as(near)), told(pick(self.both)), to_contact)

    def windows(self, n, strokes):
        """`n` windows of movement, the first `strokes` of them about a stroke: points, labels, and whether both hands must stay
        together."""
        chance = self.chance
        take, centre, mate, mate_centre = self.anchors(n)
        other, elsewhere = self.anywhere(n)
        free = torch.arange(n, device=chance.dev) >= strokes
        take, centre = torch.where(free, other, take), torch.where(free, elsewhere, centre)
        pace = chance.log_uniform(0.45, 1.9, n, 1)
        aside = chance.uniform(-0.9, 0.9, n, 1)
        film = (torch.arange(LENGTH, device=chance.dev) - (LENGTH - 1) / 2)[None] / RATE + aside
        # The clip begins or ends inside the window: the program holds what it saw first or last.
        cut = chance.rand(n, 1) < 0.4
        begin, end = -chance.uniform(0.25, 1.3, n, 1), chance.uniform(0.12, 1.2, n, 1)
        film = torch.where(cut, torch.minimum(torch.maximum(film, begin), end), film)
        # Before and after contact by turns quicker and slower.
        quick = lambda: (0.15 * chance.randn(n, 1)).exp()
        move = pace * torch.where(film < 0, film * quick(), film * quick())
        sway, phase = chance.uniform(0, 0.04, n, 1), chance.uniform(0, 2 * math.pi, n, 1)
        move = move + sway * (torch.sin(2 * math.pi * move / 0.9 + phase) - torch.sin(phase))
        time = centre[:, None] + move
        left = chance.rand(n) < 0.5
        labels = self.labels(take, time, pace, left)
        points = self.at(take, time)
        swapped = (chance.rand(n) < 0.3) & ~free
        points = torch.where(swapped[:, None, None, None], on_other_legs(points, self.at(mate, mate_centre[:, None] + move)), points)
        apart = (points[:, :, LWR] - points[:, :, RWR]).norm(dim=-1)
        points = bent(points, apart.amin(1) < 0.33, chance)
        points, labels = self.with_one_hand(points, labels, move)
        points = self.wider_or_narrower(points, labels)
        return torch.where(left[:, None, None, None], mirrored(points), points), labels

    def with_one_hand(self, points, labels, move):
        """Half of the backhands with two hands let go of one: nearly all that were recorded are held with two, and one hand alone
        must not mean a volley. The free arm is another player's in a backhand with one hand, turned with the shoulders."""
        chance = self.chance
        chosen = ((labels.both == 1).any(1) & (labels.both != 0).all(1) & (chance.rand(len(points)) < 0.5)).nonzero()[:, 0]
        free = self.free_arm[chance.pick(len(self.free_arm), len(chosen))]
        mate = self.at(free[:, 0].long(), free[:, 1:] + move[chosen])
        own = points[chosen]
        turn = across(own, LSH, RSH) - across(mate, LSH, RSH)
        for joint in (LEL, LWR):
            points[chosen, :, joint] = own[:, :, LSH] + turned(mate[:, :, joint] - mate[:, :, LSH], turn)
        labels.both[chosen] = torch.where(labels.both[chosen] == 1, 0.0, labels.both[chosen])
        return points, labels

    def wider_or_narrower(self, points, labels):
        """Arms that swing more or less than they did, about where they were on average. A volley may only block the ball; a backhand
        volley with one hand that swings far is a slice."""
        chance, n = self.chance, len(points)
        volley = (labels.volley == 1).any(1)
        backhand = ((labels.stroke == 2) | (labels.stroke == 5)).any(1) & (labels.both != 1).all(1)
        slice_ = volley & backhand & (chance.rand(n) < 0.5)
        share = torch.where(volley, chance.log_uniform(0.35, 1.0, n), chance.log_uniform(0.8, 1.25, n))
        share = torch.where(slice_, chance.uniform(1.4, 2.2, n), share)[:, None, None, None]
        labels.volley = torch.where(slice_[:, None] & (labels.volley == 1), 0.0, labels.volley)
        arms = points[:, :, LEL : RWR + 1] - points[:, :, [LSH, RSH, LSH, RSH]]
        middle = arms[:, LENGTH // 4 : -LENGTH // 4].mean(1, keepdim=True)
        arms = middle + share * (arms - middle)
        # No arm becomes longer than it is: what would reach farther swings farther round.
        for elbow, wrist, upper, fore in ((0, 2, 0.30, 0.28), (1, 3, 0.30, 0.28)):
            bone = arms[:, :, elbow]
            arms[:, :, elbow] = torch.where(slice_[:, None, None], bone * (upper / bone.norm(dim=-1, keepdim=True)).clamp(max=1), bone)
            bone = arms[:, :, wrist] - arms[:, :, elbow]
            within = arms[:, :, elbow] + bone * (fore / bone.norm(dim=-1, keepdim=True)).clamp(max=1)
            arms[:, :, wrist] = torch.where(slice_[:, None, None], within, arms[:, :, wrist])
        return torch.cat([points[:, :, :LEL], points[:, :, [LSH, RSH, LSH, RSH]] + arms, points[:, :, LHIP:]], 2)

    def idle(self, n):
        """Players who hardly move: strokes and what lies between them, far too slow to be any."""
        take, centre = self.anywhere(n)
        pace = self.chance.log_uniform(0.02, 0.25, n, 1)
        film = (torch.arange(LENGTH, device=self.chance.dev) - (LENGTH - 1) / 2)[None] / RATE
        points = bent(self.at(take, centre[:, None] + pace * film), torch.zeros(n, dtype=torch.bool, device=self.chance.dev), self.chance)
        left = self.chance.rand(n) < 0.5
        return torch.where(left[:, None, None, None], mirrored(points), points), Labels.none(n, self.chance.dev)

    def reversed(self, n):
        """Strokes that run backward, quickly: no strokes."""
        take, centre, *_ = self.anchors(n)
        pace = self.chance.log_uniform(0.6, 1.6, n, 1)
        film = (torch.arange(LENGTH, device=self.chance.dev) - (LENGTH - 1) / 2)[None] / RATE + self.chance.uniform(-0.5, 0.5, n, 1)
        points = self.at(take, centre[:, None] - pace * film)
        left = self.chance.rand(n) < 0.5
        return torch.where(left[:, None, None, None], mirrored(points), points), Labels.none(n, self.chance.dev)


def mirrored(points):
    return points[:, :, EXCHANGED] * torch.tensor([-1.0, 1, 1], device=points.device)


def across(points, left, right):
    """How a line across the body lies about the upright, radians."""
    line = points[:, :, right] - points[:, :, left]
    return torch.atan2(line[..., 1], line[..., 0])


def turned(vectors, angle):
    c, s = torch.cos(angle), torch.sin(angle)
    x, y, z = vectors.unbind(-1)
    return torch.stack([c * x - s * y, s * x + c * y, z], -1)


def on_other_legs(points, mate):
    """Trunk and arms of one player on the legs of another who makes the same stroke, turned with the hips."""
    turn = across(points, LHIP, RHIP) - across(mate, LHIP, RHIP)
    middle = lambda p: p[:, :, [LHIP, RHIP]].mean(2, keepdim=True)
    legs = turned(mate[:, :, LHIP:] - middle(mate), turn[..., None])
    return torch.cat([points[:, :, :LHIP] - middle(points) + middle(mate), legs + middle(mate)], 2)


def bent(points, together, chance):
    """The movement of another body: bones of other lengths, bent slowly to other directions; arms that hold one racket stay."""
    n = len(points)
    hips, shoulders = (points[:, :, pair].mean(2, keepdim=True) for pair in ([LHIP, RHIP], [LSH, RSH]))
    share = lambda spread: (spread * chance.randn(n, 1, 1, 1)).exp()
    slow = chance.waves(n, POINTS, 3, slowest=0.1, fastest=1.5) * chance.uniform(0, 0.12, n, 1, 1, 1)

    def leaning(bone, joint):
        length = bone.norm(dim=-1, keepdim=True)
        aslant = bone + length * slow[:, :, joint]
        return aslant * length / (aslant.norm(dim=-1, keepdim=True) + 1e-6)

    out = torch.empty_like(points)
    out[:, :, LHIP : RHIP + 1] = hips + (points[:, :, LHIP : RHIP + 1] - hips) * share(0.1)
    trunk = leaning((shoulders - hips)[:, :, 0], NOSE) * share(0.07)[..., 0]
    out[:, :, LSH : RSH + 1] = hips + trunk[:, :, None] + (points[:, :, LSH : RSH + 1] - shoulders) * share(0.09)
    head = points[:, :, NOSE : REAR + 1]
    crown = head.mean(2, keepdim=True)
    neck = leaning((crown - shoulders)[:, :, 0], LEAR) * share(0.08)[..., 0]
    out[:, :, NOSE : REAR + 1] = hips + trunk[:, :, None] + neck[:, :, None] + (head - crown) * share(0.1)
    sizes = {LEL: share(0.08), LWR: share(0.08), LKNEE: share(0.08), LANK: share(0.08), LTOE: share(0.1)}
    for joint, carrier in LIMBS.items():
        bone = points[:, :, joint] - points[:, :, carrier]
        stays = together[:, None, None] & (joint in (LEL, REL, LWR, RWR))
        size = sizes[joint if joint in sizes else joint - 1][..., 0]
        out[:, :, joint] = out[:, :, carrier] + torch.where(stays, bone, leaning(bone, joint)) * size
    return out
