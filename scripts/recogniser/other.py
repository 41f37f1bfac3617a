"""Makes movements that are no tennis: walking and running, swings of other sports, dancing arms, bodies that go from pose to pose.

Frame of reference as in takes.py: x to the body's right, y to its front, z up, metres of a body 1.7 m high.
"""

import math
import sys
from pathlib import Path

import torch
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
    STATURE,
)
from window import LENGTH, RATE, Chance, Labels, Takes, mirrored

sys.path.append(str(Path(__file__).resolve().parent.parent / "lifter"))

import body as lifter_body
import movement as lifter_movement

ARMS = ((LSH, LEL, LWR), (RSH, REL, RWR))


class Others:
    def __init__(self, takes: Takes, chance: Chance):
        self.takes, self.chance = takes, chance
        self.poses = lifter_movement.Movements(None, None, None, lifter_body.Dice(chance.gen.initial_seed() + 1, chance.dev))

    def windows(self, n):
        """Points [n, LENGTH, 17, 3] and labels that say none."""
        parts = [n // 4, n // 5, n // 5, n // 10]
        makers = [self.swings, self.short_strokes, self.dances, self.gaits]
        made = [make(k) for make, k in zip(makers, parts)] + [self.from_pose_to_pose(n - sum(parts))]
        points = torch.cat(made)
        left = self.chance.rand(n) < 0.5
        return torch.where(left[:, None, None, None], mirrored(points), points), Labels.none(n, self.chance.dev)

    def clock(self):
        return torch.arange(LENGTH, device=self.chance.dev)[None] / RATE

    def base(self, n):
        """Bodies to give other arms: what players do between strokes, slower than they do it."""
        take, centre = self.takes.anywhere(n)
        pace = self.chance.uniform(0.0, 0.4, n, 1)
        return self.takes.at(take, centre[:, None] + pace * (self.clock() - 0.5 * LENGTH / RATE))

    def twisted(self, points, yaw, lean):
        """The trunk turned by `yaw` about the upright and bent forward by `lean` [n, LENGTH] against the hips; the body faces y."""
        hips = points[:, :, [LHIP, RHIP]].mean(2, keepdim=True)
        across = points[:, :, RHIP] - points[:, :, LHIP]
        points = turned_z(points - hips, -torch.atan2(across[..., 1], across[..., 0]))
        upper = turned_z(turned_x(points[:, :, : RWR + 1], -lean), yaw)
        return torch.cat([upper, points[:, :, LHIP:]], 2)

    def with_hand(self, points, side, at):
        """An arm whose hand is at `at` [n, LENGTH, 3] as far as it reaches, the elbow out and down."""
        shoulder, elbow, wrist = ARMS[side]
        root = points[:, :, shoulder]
        upper, fore = 0.29 * (0.06 * self.chance.randn(len(points), 1, 1)).exp(), 0.26
        line = at - root
        far = line.norm(dim=-1, keepdim=True).clamp(min=0.12)
        line, far = line / far, torch.minimum(far, 0.99 * (upper + fore))
        along = (upper**2 - fore**2 + far**2) / (2 * far)
        out = (upper**2 - along**2).clamp(min=0).sqrt()
        pole = torch.tensor([0.5 if side else -0.5, -0.3, -1.0], device=at.device) + 0.5 * self.chance.randn(len(points), 1, 3)
        pole = pole - (pole * line).sum(-1, keepdim=True) * line
        points = points.clone()
        points[:, :, elbow] = root + along * line + out * pole / pole.norm(dim=-1, keepdim=True).clamp(min=1e-3)
        points[:, :, wrist] = root + far * line
        return points

    def beats(self, n, durations):
        """Share of the way through a chain of movements with the least jerk, [n, LENGTH, k], for durations [n, k] in seconds."""
        ends = durations.cumsum(1)
        begins = ends - durations
        start = self.chance.uniform(-0.5, 1.2, n, 1)
        part = ((self.clock()[..., None] - start[..., None] - begins[:, None]) / durations[:, None]).clamp(0, 1)
        return part**3 * (10 - 15 * part + 6 * part**2)

    def swings(self, n):
        """A club, bat or stick swung once in a slanted plane with both hands together: golf, cricket, hockey, an axe; or with one
        hand from below: bowling."""
        chance = self.chance
        draw = lambda low, high: chance.uniform(low, high, n, 1)
        golf = chance.rand(n, 1) < 0.55
        back, hold, through, stay = draw(0.4, 1.1), draw(0.02, 0.4), draw(0.16, 0.45), draw(0.3, 1.0)
        share = self.beats(n, torch.cat([back, hold, through, stay], 1))
        top = torch.where(golf, draw(100, 190), draw(40, 130))
        finish = torch.where(golf, draw(-200, -110), draw(-130, -30))
        rest = draw(-15, 20)
        angle = torch.deg2rad(rest + (top - rest) * share[..., 0] + (finish - top) * share[..., 2])
        lean = torch.deg2rad(torch.where(golf, draw(25, 45), draw(5, 35))) * (1 - 0.6 * share[..., 2])
        points = self.twisted(self.base(n), -draw(0.2, 0.6) * angle, lean)
        slant = torch.deg2rad(torch.where(golf, draw(25, 50), draw(5, 45)))[..., None]
        centre = points[:, :, [LSH, RSH]].mean(2)
        reach = draw(0.42, 0.56)[..., None]
        below = torch.sin(slant) * torch.tensor([0, 1.0, 0], device=chance.dev) - torch.cos(slant) * torch.tensor([0, 0, 1.0], device=chance.dev)
        aside = torch.tensor([1.0, 0, 0], device=chance.dev)
        bowled = chance.rand(n, 1, 1) < 0.2
        # Bowled, the plane runs forward and one hand swings.
        forward = torch.tensor([0, 1.0, 0], device=chance.dev)
        down = torch.tensor([0, 0, -1.0], device=chance.dev)
        angle = angle[..., None]
        hand = torch.where(bowled, centre + 0.18 * aside + reach * (-torch.sin(angle) * forward + torch.cos(angle) * down),
                           centre + reach * (torch.sin(angle) * aside + torch.cos(angle) * below))
        one = self.with_hand(points, 1, hand)
        return torch.where(bowled[..., None], one, self.with_hand(one, 0, hand + 0.08 * chance.randn(n, 1, 3)))

    def short_strokes(self, n):
        """Small quick strokes one after another, elbow bent, close to the body: table tennis, badminton before the body, a shaken
        racket or a bounced ball."""
        chance = self.chance
        draw = lambda low, high: chance.uniform(low, high, n, 1)
        points = self.twisted(self.base(n), 0.25 * chance.waves(n), torch.deg2rad(draw(0, 40)))
        middle = points[:, :, RSH] + torch.stack([draw(-0.3, 0.25), draw(0.2, 0.4), draw(-0.45, 0.1)], -1)
        way = chance.randn(n, 1, 3)
        way = way / way.norm(dim=-1, keepdim=True) * draw(0.05, 0.22)[..., None]
        beat = torch.sin(2 * math.pi * (draw(0.6, 2.5) * self.clock() + chance.rand(n, 1)))
        # Now in even beats, now in single jerks.
        beat = torch.where(chance.rand(n, 1) < 0.5, beat, beat.sign() * beat.abs() ** draw(1.0, 6.0))
        points = self.with_hand(points, 1, middle + way * beat[..., None] + 0.03 * chance.waves(n, 3))
        return self.with_hand(points, 0, points[:, :, LSH] + torch.stack([draw(-0.2, 0.1), draw(0.1, 0.35), draw(-0.45, -0.1)], -1) + 0.05 * chance.waves(n, 3))

    def dances(self, n):
        """Both arms in waves, alike, opposite or each for itself, slow to quick; the trunk turns with them."""
        chance = self.chance
        pace = chance.log_uniform(0.25, 2.2, n, 1)
        turn = lambda phase: torch.sin(2 * math.pi * (pace * self.clock() + phase))
        phase = chance.rand(n, 1)
        points = self.twisted(self.base(n), chance.uniform(0, 0.8, n, 1) * turn(chance.rand(n, 1)), chance.uniform(0, 0.4, n, 1) * turn(phase).abs())
        own, apart = chance.rand(n, 1, 1) < 0.35, chance.rand(n, 1, 1) < 0.5
        about = torch.cat([chance.uniform(-0.1, 0.5, n, 1), chance.uniform(-0.1, 0.45, n, 1), chance.uniform(-0.5, 0.5, n, 1)], 1)[:, None]
        reach = 0.45 * chance.rand(n, 1, 3)
        wave = torch.stack([turn(phase + chance.rand(n, 1) * k) for k in range(3)], -1)
        other = torch.stack([turn(chance.rand(n, 1)) for _ in range(3)], -1)
        aside = torch.tensor([-1.0, 1, 1], device=chance.dev)
        right = about + reach * wave
        left = torch.where(own, about + reach * other, torch.where(apart, about - reach * wave, right)) * aside
        return self.with_hand(self.with_hand(points, 1, points[:, :, RSH] + right), 0, points[:, :, LSH] + left)

    def gaits(self, n):
        """Walking and running: legs and arms swing against each other."""
        chance = self.chance
        draw = lambda low, high: chance.uniform(low, high, n, 1)
        runs = chance.rand(n, 1) < 0.5
        phase = 2 * math.pi * (torch.where(runs, draw(1.2, 1.7), draw(0.6, 1.1)) * self.clock() + chance.rand(n, 1))
        stride = torch.deg2rad(torch.where(runs, draw(25, 50), draw(12, 28)))
        points = self.twisted(self.base(n), draw(0.0, 0.3) * torch.sin(phase), torch.deg2rad(draw(0, 20)))
        limb = lambda length, angle: torch.stack([torch.zeros_like(angle), length * torch.sin(angle), -length * torch.cos(angle)], -1)
        for k, (hip, knee, ankle, toe) in enumerate(((LHIP, LKNEE, LANK, LTOE), (RHIP, RKNEE, RANK, RTOE))):
            swing = phase + math.pi * k
            thigh = stride * torch.sin(swing) + 0.1
            bend = torch.where(runs, draw(0.9, 1.7), draw(0.5, 1.0)) * (0.5 + 0.5 * torch.cos(swing)) ** 2 + 0.05
            points[:, :, knee] = points[:, :, hip] + limb(0.42, thigh)
            points[:, :, ankle] = points[:, :, knee] + limb(0.41, thigh - bend)
            points[:, :, toe] = points[:, :, ankle] + limb(0.17, thigh - bend + 1.4)
        crooked = torch.where(runs, draw(1.0, 1.9), draw(0.1, 0.6))
        for k, (shoulder, elbow, wrist) in enumerate(ARMS):
            swing = -draw(0.6, 1.2) * stride * torch.sin(phase + math.pi * k)
            points[:, :, elbow] = points[:, :, shoulder] + limb(0.28, swing - 0.15)
            points[:, :, wrist] = points[:, :, elbow] + limb(0.26, swing - 0.15 + crooked)
        return points

    def from_pose_to_pose(self, n):
        """The depth network's made-up movements with a head."""
        made = self.poses.made(n)[..., [0, 2, 1]] * STATURE
        # Its frames are fewer and farther apart.
        place = torch.linspace(0, made.shape[1] - 1.001, LENGTH, device=made.device)
        low, share = place.long(), (place - place.long())[:, None, None]
        made = made[:, low] * (1 - share) + made[:, low + 1] * share
        shoulders, hips = made[:, :, :2].mean(2), made[:, :, 6:8].mean(2)
        up = (shoulders - hips) / (shoulders - hips).norm(dim=-1, keepdim=True)
        right = made[:, :, 1] - made[:, :, 0]
        right = right / right.norm(dim=-1, keepdim=True)
        front = torch.cross(up, right, dim=-1)
        yaw = 0.6 * self.chance.waves(n)[..., None]
        face, side = torch.cos(yaw) * front + torch.sin(yaw) * right, torch.cos(yaw) * right - torch.sin(yaw) * front
        crown = shoulders + 0.22 * up + 0.03 * front
        head = torch.stack([crown + 0.11 * face, crown - 0.075 * side, crown + 0.075 * side], 2)
        return torch.cat([head, made], 2)


def turned_z(points, angle):
    c, s = torch.cos(angle)[..., None], torch.sin(angle)[..., None]
    x, y, z = points.unbind(-1)
    return torch.stack([c * x - s * y, s * x + c * y, z], -1)


def turned_x(points, angle):
    c, s = torch.cos(angle)[..., None], torch.sin(angle)[..., None]
    x, y, z = points.unbind(-1)
    return torch.stack([x, c * y - s * z, s * y + c * z], -1)


assert [NOSE, LEAR, REAR, POINTS] == [0, 1, 2, 17]
