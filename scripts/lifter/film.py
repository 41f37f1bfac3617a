"""Films movements with made-up cameras, and errs as the pose network does."""

import math

import torch

from body import ARMS, HIPS, LA, LEGS, LENGTH, LH, LK, LS, RA, RATE, RH, RK, RS, SHOULDERS, Dice, exchanged, lengths, longest, turn_x, turn_y, turn_z, turned

# Where a standing player's middle is, statures over the ground.
MIDDLE = 0.5


class Film:
    def __init__(self, errors, counts, dice: Dice):
        """`errors` [clips, time, 14, 2]: where the pose network put joints of rendered players less where they are in the
        picture, in units of the apparent body, padded."""
        self.errors, self.counts, self.dice = errors, counts, dice
        steps = torch.arange(LENGTH, device=dice.dev)
        behind = (steps[:, None] - steps[None, :]).clamp(min=0).float()
        seen = (steps[:, None] >= steps[None, :]).float()
        # Rows that make white noise into noise that forgets at a pace: x_t = k x_(t-1) + sqrt(1 - k²) w_t.
        self.forget = {}
        for pace in (0.05, 0.25, 0.3):
            keep = math.exp(-1.0 / (RATE * pace))
            rows = seen * keep**behind * math.sqrt(1 - keep * keep)
            rows[:, 0] /= math.sqrt(1 - keep * keep)
            self.forget[pace] = rows
        per_joint = lambda values: torch.tensor(values, device=dice.dev)
        self.on_ground = per_joint([1.0, 0.0, 1.0])
        self.downward = per_joint([1.0, -1.0])
        # How far landmarks lie off, in units of the body: for the whole clip, for a pose, for a moment (from rendered players; joints
        # by pairs, as everywhere).
        by_pair = lambda values: per_joint([v for v in values for _ in range(2)])
        self.slow = by_pair([0.023, 0.027, 0.020, 0.013, 0.007, 0.008, 0.010])
        self.quick = by_pair([0.006, 0.013, 0.014, 0.004, 0.004, 0.005, 0.005])
        self.fixed = by_pair([0.020, 0.015, 0.015, 0.028, 0.015, 0.019, 0.015])
        self.loud = per_joint([0.03] * 2 + [0.06] * 2 + [0.08] * 2 + [0.01] * 2 + [0.06] * 2 + [0.08] * 2 + [0.1] * 2)

    def wander(self, n, joints, pace):
        """Errors that change over time, [n, LENGTH, joints], standard deviation 1."""
        return torch.einsum("ts,nsj->ntj", self.forget[pace], self.dice.randn(n, LENGTH, joints))

    def filmed(self, body):
        """Pictures of movements by made-up cameras: inputs [n, channels, LENGTH] and depths [n, 14, LENGTH]."""
        dice, n = self.dice, len(body)
        constant = lambda v: v[:, None].expand(n, LENGTH)
        middle = body[:, :, HIPS].mean(2, keepdim=True).mean(1, keepdim=True) * self.on_ground
        body = turned(body - middle, turn_y(constant(dice.uniform(-180, 180, n))))
        focal = 0.42 * (1.3 / 0.42) ** dice.rand(n, 1)
        away = dice.uniform(2.0, 7.5, n, 1) * (focal / 0.8).sqrt().clamp(0.8, 1.2)
        high = dice.uniform(0.05, 1.2, n, 1) + (dice.rand(n, 1) < 0.25) * dice.uniform(0.0, 1.2, n, 1)
        aside = dice.uniform(-0.25, 0.25, n, 1) * away / focal
        camera = torch.stack([aside, -high, away], -1)
        # The camera looks a little up or down, some as far as the player's middle; it is not quite level, and a hand may shake it.
        shake = lambda size: dice.waves(n, -size, size, fastest=2.0) * (dice.rand(n, 1) < 0.3)
        aimed = torch.rad2deg(torch.atan2(MIDDLE - high, away)) * dice.rand(n, 1) * (dice.rand(n, 1) < 0.4)
        tilt = 3.0 * dice.randn(n, 1) + aimed + shake(1.0)
        roll = 1.0 * dice.randn(n, 1) + shake(0.5)
        level = body + camera[:, :, None]
        points = turned(level, turn_z(roll.expand(n, LENGTH)) @ turn_x(tilt.expand(n, LENGTH)))
        z = points[..., 2].clamp(min=0.5)
        xy = focal[..., None, None] * points[..., :2] / z[..., None] * self.downward
        middle_z = points[:, :, HIPS, 2].mean(2)
        metre = longest(size_of(xy), 0.9)[:, None]
        depth = beyond_hips(level, self.on_ground) * (focal / middle_z / metre)[..., None]
        xy = xy + self.slips(n, depth) * metre[..., None, None]
        # A clip shows more of a limb's length than a second or two of it.
        seen = longest(lengths(xy)) / metre[..., None]
        whole = lengths(body).mean(-1) * (focal / middle_z / metre).mean(-1)[:, None, None]
        bones = torch.lerp(seen, whole, dice.rand(n, 8, 1).sqrt()).mean(-1) * (0.04 * dice.randn(n, 8)).exp()
        return inputs(xy, metre, self.own_depth(depth), bones, dice), depth.transpose(1, 2)

    def slips(self, n, depth):
        """Errors of landmarks in units of the body (1.3 m): made up (of the whole clip, of a pose, of a moment; hidden joints
        more), or the pose network's own of other moments."""
        dice = self.dice
        loud = dice.uniform(0.0, 1.8, n, 1, 1)
        made = []
        for _ in range(2):
            slow = self.wander(n, 14, 0.3) * self.slow * loud
            quick = self.wander(n, 14, 0.05) * self.quick * loud
            hidden = (depth > 0.06) * self.wander(n, 14, 0.25) * 0.02 * dice.rand(n, 1, 14) * loud.clamp(max=1.0)
            made.append(dice.randn(n, 1, 14) * self.fixed * loud.clamp(max=1.0) + slow + quick + hidden)
        made = torch.stack(made, -1)
        which = dice.pick(len(self.errors), n)
        first = (dice.rand(n) * (self.counts[which] - LENGTH)).long()
        seen = self.errors[which[:, None], first[:, None] + torch.arange(LENGTH, device=dice.dev)]
        return torch.where(dice.rand(n, 1, 1, 1) < 0.4, seen + 0.3 * made, made)

    def own_depth(self, depth):
        """The pose network's own depth as it tends to be: flattened, unsteady, the shoulders following the hips."""
        dice, n = self.dice, len(depth)
        own = depth.clone()
        pull = 0.7 * dice.rand(n, 1)
        line = (depth[..., RH] - depth[..., LH]) * 1.6
        for s, side in ((LS, -0.5), (RS, 0.5)):
            middle = depth[..., SHOULDERS].mean(-1)
            own[..., s] = (1 - pull) * depth[..., s] + pull * (middle + side * line)
        for chain in (*ARMS, *LEGS):
            for a, b in zip(chain, chain[1:]):
                share = dice.uniform(0.3, 1.1, n, 1)
                if chain in ARMS:
                    # Arms before the body are taken for arms behind it and the other way round.
                    share = torch.where(dice.rand(n, 1) < 0.35, dice.uniform(-0.8, 0.6, n, 1), share)
                own[..., b] = own[..., a] + share * (depth[..., b] - depth[..., a])
        own = own + self.loud * (1.2 * dice.randn(n, 1, 14) + 0.8 * self.wander(n, 14, 0.3))
        return own - own[..., HIPS].mean(-1, keepdim=True)


def beyond_hips(points, on_ground):
    """How much farther than the middle of the hips joints are from a camera at the origin, over the ground along the way to the
    hips: [..., 14, 3] to [..., 14]. No lens, crop or tilt of the camera changes this. `on_ground` [3] is 0 for the upward axis."""
    hips = points[..., HIPS, :].mean(-2, keepdim=True)
    way = hips * on_ground
    return ((points - hips) * way).sum(-1) / way.norm(dim=-1)


def inputs(xy, metre, world, bones, dice=None, told=1.0):
    """The network's input from picture points in the picture's longer side, y down, [n, LENGTH, 14, 2]: see
    src/pose/lifter.rs. `bones` [n, 8] are the longest readings of the clip. With `dice` the pose network's depth is told to six in ten."""
    n, length = xy.shape[:2]
    hips = xy[:, :, HIPS].mean(2)
    local = (xy - hips[:, :, None]) / metre[..., None, None]
    if dice is not None:
        told = (dice.rand(n, 1, 1) < 0.6).float()
    else:
        told = torch.full((n, 1, 1), told, device=xy.device)
    parts = [local.flatten(2), world * told, told.expand(n, length, 1), hips, bones[:, None].expand(n, length, 8)]
    return torch.cat(parts, -1).transpose(1, 2)


def mirrored_inputs(x):
    """Inputs [n, channels, LENGTH] as a mirror shows them."""
    local = exchanged(x[:, :28].unflatten(1, (14, 2)), 1)
    local = torch.stack([-local[:, :, 0], local[:, :, 1]], 2).flatten(1, 2)
    hips = torch.stack([-x[:, 43], x[:, 44]], 1)
    return torch.cat([local, exchanged(x[:, 28:42], 1), x[:, 42:43], hips, x[:, 45:]], 1)


def size_of(xy):
    """Apparent size of the body: trunk plus the longer leg, [n, LENGTH]."""
    length = lambda a, b: (a - b).norm(dim=-1)
    trunk = length(xy[:, :, SHOULDERS].mean(2), xy[:, :, HIPS].mean(2))
    legs = [length(xy[:, :, h], xy[:, :, k]) + length(xy[:, :, k], xy[:, :, a]) for h, k, a in ((LH, LK, LA), (RH, RK, RA))]
    return trunk + torch.maximum(*legs)
