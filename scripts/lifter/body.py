"""Joints that the depth network reads, and turning them: shared by what makes, films and learns movements."""

import math

import torch

JOINTS = [11, 12, 13, 14, 15, 16, 23, 24, 25, 26, 27, 28, 31, 32]
LS, RS, LE, RE, LW, RW, LH, RH, LK, RK, LA, RA, LT, RT = range(14)
ARMS = ((LS, LE, LW), (RS, RE, RW))
LEGS = ((LH, LK, LA, LT), (RH, RK, RA, RT))
SHOULDERS, HIPS, UPPER = slice(LS, RS + 1), slice(LH, RH + 1), slice(LS, RW + 1)
LENGTH = 64
RATE = 30.0


def rotation(degrees, axis):
    c, s = torch.cos(torch.deg2rad(degrees)), torch.sin(torch.deg2rad(degrees))
    one, zero = torch.ones_like(c), torch.zeros_like(c)
    rows = {
        "x": [one, zero, zero, zero, c, -s, zero, s, c],
        "y": [c, zero, s, zero, one, zero, -s, zero, c],
        "z": [c, -s, zero, s, c, zero, zero, zero, one],
    }[axis]
    return torch.stack(rows, -1).unflatten(-1, (3, 3))


def turn_x(degrees):
    return rotation(degrees, "x")


def turn_y(degrees):
    return rotation(degrees, "y")


def turn_z(degrees):
    return rotation(degrees, "z")


def turned(points, by, about=None):
    """Points [n, time, joints, 3] turned by [n, time, 3, 3], about the origin or a point."""
    if about is None:
        return torch.einsum("ntij,ntkj->ntki", by, points)
    return about + torch.einsum("ntij,ntkj->ntki", by, points - about)


def exchanged(values, axis):
    """Left for right along an axis of joints."""
    return values.unflatten(axis, (7, 2)).flip(axis + 1).flatten(axis, axis + 1)


def eased(part):
    """From 0 to 1 with the least jerk (Flash and Hogan 1985), held outside."""
    part = part.clamp(0.0, 1.0)
    return part**3 * (10.0 - 15.0 * part + 6.0 * part**2)


# Lengths of a body that tell how far a limb can reach: pairs of points, each the middle of some joints; both sides of one limb.
BONES = [
    [((LS,), (RS,))], [((LH,), (RH,))], [((LS, RS), (LH, RH))], [((LS,), (LE,)), ((RS,), (RE,))], [((LE,), (LW,)), ((RE,), (RW,))],
    [((LH,), (LK,)), ((RH,), (RK,))], [((LK,), (LA,)), ((RK,), (RA,))], [((LA,), (LT,)), ((RA,), (RT,))],
]
LONG = 0.95


def lengths(points):
    """Lengths of the bones, [n, time, joints, k] to [n, 8, sides (2), time]; a bone without sides counts twice."""
    middle = lambda of: sum(points[:, :, k] for k in of) / len(of)
    return torch.stack([torch.stack([(middle(a) - middle(b)).norm(dim=-1) for a, b in (sides * 2)[:2]], 1) for sides in BONES], 1)


def longest(values, share=LONG):
    """A high quantile along the last axis."""
    place = share * (values.shape[-1] - 1)
    low = int(place)
    ordered = values.sort(-1).values
    return torch.lerp(ordered[..., low], ordered[..., min(low + 1, values.shape[-1] - 1)], place - low)


class Dice:
    """Random numbers and curves on one device, from one seed."""

    def __init__(self, seed, dev):
        self.dev = dev
        self.gen = torch.Generator(device=dev).manual_seed(seed)
        self.time = torch.arange(LENGTH, device=dev) / RATE

    def rand(self, *shape):
        return torch.rand(*shape, generator=self.gen, device=self.dev)

    def randn(self, *shape):
        return torch.randn(*shape, generator=self.gen, device=self.dev)

    def pick(self, most, n):
        return torch.randint(most, (n,), generator=self.gen, device=self.dev)

    def uniform(self, low, high, *shape):
        return low + (high - low) * self.rand(*shape)

    def waves(self, n, low, high, slowest=0.15, fastest=1.2, parts=4):
        """Curves in time [n, LENGTH] between about `low` and `high`: sums of slow waves."""
        pace = slowest * (fastest / slowest) ** self.rand(n, parts, 1)
        size = self.rand(n, parts, 1) / pace.sqrt()
        wave = (size * torch.sin(2 * math.pi * (pace * self.time + self.rand(n, parts, 1)))).sum(1)
        wave = wave / (wave.abs().amax(1, keepdim=True) + 1e-6)
        reach, middle = self.rand(n, 1), self.uniform(-1, 1, n, 1)
        return (low + high) / 2 + (high - low) / 2 * (middle * (1 - reach) + reach * wave)

    def clock(self, n, keys=16):
        """Times at which a body takes up a new pose, [n, keys]: now quick, now waiting."""
        gap = 0.1 * 10.0 ** self.rand(n, keys)
        return gap.cumsum(1) - gap[:, :1] - self.rand(n, 1)

    def moves(self, clock, low, high, late=0.1):
        """Curves [n, LENGTH] that go from one random value to the next at the beats of `clock`, each up to `late` s after it."""
        n, keys = clock.shape
        middle, reach = self.uniform(low, high, n, 1), self.rand(n, 1)
        values = middle + reach * (self.uniform(low, high, n, keys) - middle)
        times = clock + late * self.rand(n, 1)
        return self.between(times, values[..., None])[..., 0]

    def between(self, times, values, share=None):
        """Values [n, keys, k] at `times`, taken up with the least jerk, [n, LENGTH, k]; the last `share` of each gap moves."""
        place = (self.time[None, :, None] >= times[:, None, :]).sum(-1).clamp(1, times.shape[1] - 1)
        t0, t1 = times.gather(1, place - 1), times.gather(1, place)
        part = (self.time - t0) / (t1 - t0).clamp(min=1e-3)
        if share is not None:
            share = share.gather(1, place - 1)
            part = (part - 1.0 + share) / share
        at = lambda i: values.gather(1, i[..., None].expand(-1, -1, values.shape[-1]))
        return torch.lerp(at(place - 1), at(place), eased(part)[..., None])
