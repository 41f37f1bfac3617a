"""Makes movements: bodies that nobody filmed, and rendered and recorded players' strokes made different.

Frames of reference: x to the player's right, y up from the ground, z to the front; lengths in statures.
"""

import math

import torch

from body import ARMS, HIPS, LEGS, LENGTH, LH, RH, SHOULDERS, UPPER, Dice, turn_x, turn_y, turn_z, turned

# Known movement is kept at this rate; one in two makes real time.
KEPT_RATE = 60.0
# Share of recorded stretches that have a stroke in them for certain.
STROKE_SHARE = 0.6


class Known:
    """Movements that are known, at `KEPT_RATE`: `space` [takes, time, 14, 3] in statures (x right, y forward, z up), padded;
    `counts` [takes]; where strokes are told, `strokes` [strokes, 2] has each one's take and frame of contact."""

    def __init__(self, space, counts, strokes=None):
        self.space, self.counts, self.strokes = space, counts, strokes


def girdles(points):
    """Width of the shoulders, width of the hips and length of the trunk, statures, over all of [..., 14, 3]."""
    apart = lambda a, b: (a - b).norm(dim=-1).mean()
    shoulders, hips = points[..., SHOULDERS, :], points[..., HIPS, :]
    return torch.stack([apart(*shoulders.unbind(-2)), apart(*hips.unbind(-2)), apart(shoulders.mean(-2), hips.mean(-2))])


def refitted(points, shares):
    """Joints [time, 14, 3] with the shoulders, the hips and the trunk `shares` (as `girdles` has them) as wide and long; arms and
    legs go with them as they are."""
    shoulders, hips = points[:, SHOULDERS], points[:, HIPS]
    middle = hips.mean(1, keepdim=True)
    chest = shoulders.mean(1, keepdim=True)
    out = points.clone()
    for girdle, place, share, limbs in (
        (shoulders, middle + (chest - middle) * shares[2], shares[0], ARMS),
        (hips, middle, shares[1], LEGS),
    ):
        moved = place + (girdle - girdle.mean(1, keepdim=True)) * share - girdle
        for side, limb in enumerate(limbs):
            out[:, limb] = points[:, limb] + moved[:, side : side + 1]
    return out


class Movements:
    def __init__(self, rendered: Known, recorded: Known, general: Known, dice: Dice):
        self.rendered, self.recorded, self.general, self.dice = rendered, recorded, general, dice

    def curve(self, n, clock):
        """Makes curves between two values: slow waves for a third of the bodies, moves from pose to pose for the others."""
        dice = self.dice
        wavy = dice.rand(n, 1) < 0.35

        def made(low, high, fastest=1.2):
            return torch.where(wavy, dice.waves(n, low, high, fastest=fastest), dice.moves(clock, low, high))

        return made

    def proportions(self, n):
        share = lambda middle: middle * (1 + 0.06 * self.dice.randn(n, 1))
        return {"thigh": share(0.24), "shank": share(0.245), "upper": share(0.148), "fore": share(0.146), "hips": share(0.061),
                "shoulders": share(0.103), "trunk": share(0.27), "foot": share(0.12), "sole": share(0.045)}

    def standing(self, n, yaw, hips, sizes, curve):
        """Legs that carry a pelvis turned by `yaw` [n, LENGTH], whose hip joints lie at `hips` [n, LENGTH, 2, 3] about its middle.

        Feet stand still, step, and turn on their toes; knees follow from the lengths of thigh and shank. Returns the pelvis'
        middle [n, LENGTH, 3] and knees, ankles, toes by side.
        """
        dice = self.dice
        steps = 12
        clock = (0.25 * 8.0 ** dice.rand(n, steps)).cumsum(1) - 2.0 * dice.rand(n, 1) - 1.0
        share = dice.uniform(0.25, 1.0, n, steps)
        path = dice.waves(n, -0.4, 0.4, fastest=0.4), dice.waves(n, -0.4, 0.4, fastest=0.4)
        # The line between the feet: as the hips for the most part, or turned against them as in open and closed stances.
        stance = dice.uniform(-100, 100, n, 1) + 15 * dice.randn(n, steps)
        half = dice.uniform(0.05, 0.26, n, 1)
        hop = dice.waves(n, -0.25, 0.08, fastest=1.5).clamp(min=0.0)
        ankles, toes, facings = [], [], []
        for side in (-1, 1):
            times = clock + side * 0.08 + 0.1 * dice.rand(n, 1)
            beat = ((times * 30.0).long()).clamp(0, LENGTH - 1)
            angle = torch.deg2rad(stance + 10 * dice.randn(n, steps))
            width = side * half * dice.uniform(0.7, 1.3, n, steps)
            x = path[0].gather(1, beat) + width * torch.cos(angle) + 0.02 * dice.randn(n, steps)
            z = path[1].gather(1, beat) + width * torch.sin(angle) + 0.02 * dice.randn(n, steps)
            # A step may be none: the foot stays where it was.
            stays = dice.rand(n, steps) < 0.4
            for i in range(1, steps):
                x[:, i] = torch.where(stays[:, i], x[:, i - 1], x[:, i])
                z[:, i] = torch.where(stays[:, i], z[:, i - 1], z[:, i])
            facing = yaw.gather(1, beat) + side * dice.uniform(0, 30, n, 1) + 20 * dice.randn(n, steps)
            place = dice.between(times, torch.stack([x, z, facing], -1), share)
            pace = torch.zeros_like(place[..., 0])
            pace[:, 1:] = (place[:, 1:, :2] - place[:, :-1, :2]).norm(dim=-1)
            lift = (pace / 0.1).clamp(max=1.0) * dice.uniform(0.0, 0.12, n, 1) + hop
            heel = curve(0, 60) * (dice.rand(n, 1) < 0.5) + 40 * (pace / 0.1).clamp(max=1.0)
            pitch = torch.deg2rad(heel.clamp(0, 75))
            back, up = sizes["foot"] * torch.cos(pitch) - sizes["sole"] * torch.sin(pitch), sizes["foot"] * torch.sin(pitch) + sizes["sole"] * torch.cos(pitch)
            about = torch.deg2rad(place[..., 2])
            forward = torch.stack([torch.sin(about), torch.zeros_like(about), torch.cos(about)], -1)
            toe = torch.stack([place[..., 0], 0.012 + lift, place[..., 1]], -1)
            ankle = toe - forward * back[..., None]
            ankle = torch.stack([ankle[..., 0], toe[..., 1] + up, ankle[..., 2]], -1)
            ankles.append(ankle), toes.append(toe), facings.append(forward)
        weight = curve(0.15, 0.85)[..., None]
        middle = ankles[0] * (1 - weight) + ankles[1] * weight
        aside = lambda: dice.waves(n, -0.04, 0.04)
        x, z = middle[..., 0] + aside(), middle[..., 2] + aside()
        reach = sizes["thigh"] + sizes["shank"]
        bent = curve(0.84, 1.0).clamp(max=0.99)
        heights = []
        for k in range(2):
            apart = torch.hypot(x + hips[:, :, k, 0] - ankles[k][..., 0], z + hips[:, :, k, 2] - ankles[k][..., 2])
            high = ((bent * reach).square() - apart.square()).clamp(min=0.04).sqrt()
            heights.append(ankles[k][..., 1] + high - hips[:, :, k, 1])
        pelvis = torch.stack([x, torch.minimum(*heights), z], -1)
        knees = []
        for k, ankle in enumerate(ankles):
            hip = pelvis + hips[:, :, k]
            line = ankle - hip
            far = line.norm(dim=-1, keepdim=True).clamp(min=1e-3)
            line = line / far
            along = (sizes["thigh"].square()[..., None] - sizes["shank"].square()[..., None] + far.square()) / (2 * far)
            out = (sizes["thigh"].square()[..., None] - along.square()).clamp(min=0.0).sqrt()
            forward = facings[k] + torch.stack([torch.sin(torch.deg2rad(yaw)), torch.zeros_like(yaw), torch.cos(torch.deg2rad(yaw))], -1)
            forward = forward - (forward * line).sum(-1, keepdim=True) * line
            knees.append(hip + along * line + out * forward / forward.norm(dim=-1, keepdim=True).clamp(min=1e-3))
        return pelvis, knees, ankles, toes

    def made(self, n):
        """Random movements of random bodies, [n, LENGTH, 14, 3]."""
        dice = self.dice
        sizes = self.proportions(n)
        curve = self.curve(n, dice.clock(n))
        yaw = dice.uniform(-180, 180, n, 1) + curve(-70, 70)
        pelvis = turn_y(yaw) @ turn_x(curve(-5, 25)) @ turn_z(curve(-10, 10))
        chest = pelvis @ turn_y(curve(-60, 60)) @ turn_x(curve(-15, 35)) @ turn_z(curve(-20, 20))
        zero = torch.zeros(n, LENGTH, device=dice.dev)
        at = lambda frame, x, y, z: (frame @ torch.stack([zero + x, zero + y, zero + z], -1)[..., None])[..., 0]
        hips = torch.stack([at(pelvis, side * sizes["hips"], 0.0, 0.0) for side in (-1, 1)], 2)
        middle, knees, ankles, toes = self.standing(n, yaw, hips, sizes, curve)
        neck = middle + at(chest, 0.0, sizes["trunk"], 0.0)
        points = [None] * 14
        for k, side in enumerate((-1, 1)):
            s, e, w = ARMS[k]
            h, knee, ankle, toe = LEGS[k]
            points[s] = neck + at(chest, side * sizes["shoulders"], curve(-0.01, 0.03), curve(-0.03, 0.04))
            # The arm hangs down; it is raised forward, out and turned about itself; the elbow bends forward.
            arm = chest @ turn_y(side * curve(-110, 70, 2.0)) @ turn_x(-curve(-50, 150, 2.0)) @ turn_y(side * curve(-90, 90))
            points[e] = points[s] + at(arm, 0.0, -sizes["upper"], 0.0)
            points[w] = points[e] + at(arm @ turn_x(-curve(0, 140, 2.0)), 0.0, -sizes["fore"], 0.0)
            points[h], points[knee], points[ankle], points[toe] = middle + hips[:, :, k], knees[k], ankles[k], toes[k]
        return torch.stack(points, 2)

    def strokes(self, n):
        """Stretches of rendered players' movement, most of them made different, half of them on other legs."""
        return self.varied(self.stretches(self.rendered, n), 0.85, 0.5)

    def takes(self, n):
        """Stretches of recorded players' movement, some of them made different or on other legs."""
        return self.varied(self.stretches(self.recorded, n), 0.5, 0.2)

    def others(self, n):
        """Stretches of recorded movement that is no tennis, some of them made different or on other legs."""
        return self.varied(self.stretches(self.general, n), 0.5, 0.2)

    def stretches(self, known, n):
        """Stretches of known movement, [n, LENGTH, 14, 3]; where strokes are told, three in five have one in them."""
        dice = self.dice
        which = dice.pick(len(known.space), n)
        first = dice.rand(n)
        place = torch.arange(LENGTH, device=dice.dev) * (KEPT_RATE / 30.0) * dice.uniform(0.75, 1.4, n, 1)
        if known.strokes is None:
            first = first * (known.counts[which] - 2 - place[:, -1]).clamp(min=0)
        else:
            stroke = known.strokes[dice.pick(len(known.strokes), n)]
            about = dice.rand(n) < STROKE_SHARE
            which = torch.where(about, stroke[:, 0], which)
            latest = (known.counts[which] - 2 - place[:, -1]).clamp(min=0)
            first = torch.where(about, stroke[:, 1] - place[:, -1] * first, first * latest).clamp(min=0).minimum(latest)
        place = place + first[:, None]
        low = place.floor().long()
        low = torch.minimum(low, known.counts[which][:, None] - 2)
        part = (place - low)[..., None, None]
        out = known.space[which[:, None], low] * (1 - part) + known.space[which[:, None], low + 1] * part
        return torch.stack([out[..., 0], out[..., 2], out[..., 1]], -1)

    def varied(self, out, bent, stepped):
        """Movement made different: a share `bent` with trunk and arms turned further at random, every body of other proportions, a
        share `stepped` on other legs."""
        dice, n = self.dice, len(out)
        amount = dice.rand(n, 1) * (dice.rand(n, 1) < bent)
        bend = lambda reach: dice.waves(n, -reach, reach) * amount
        hips = out[:, :, HIPS].mean(2, keepdim=True)
        out[:, :, UPPER] = turned(out[:, :, UPPER], turn_y(bend(40)) @ turn_x(bend(15)) @ turn_z(bend(12)), hips)
        for s, e, w in ARMS:
            shoulder, arm, elbow, hand = (slice(s, s + 1), slice(e, w + 1, 2), slice(e, e + 1), slice(w, w + 1))
            out[:, :, arm] = turned(out[:, :, arm], turn_y(bend(40)) @ turn_x(bend(30)) @ turn_z(bend(30)), out[:, :, shoulder])
            out[:, :, hand] = turned(out[:, :, hand], turn_y(bend(40)) @ turn_x(bend(35)) @ turn_z(bend(35)), out[:, :, elbow])
        moved = self.proportioned(out)
        # Other legs under the same pelvis, which turns with the whole upper body against them.
        middle = out[:, :, HIPS].mean(2)
        across = out[:, :, RH] - out[:, :, LH]
        yaw = torch.rad2deg(torch.atan2(-across[..., 2], across[..., 0]))
        yaw = torch.rad2deg(unwrapped(torch.deg2rad(yaw)))
        sizes = self.proportions(n)
        curve = self.curve(n, dice.clock(n))
        about = out[:, :, HIPS] - middle[:, :, None]
        pelvis, knees, ankles, toes = self.standing(n, yaw, about, sizes, curve)
        other = moved + (pelvis - middle)[:, :, None]
        for k, (_hip, knee, ankle, toe) in enumerate(LEGS):
            other[:, :, knee], other[:, :, ankle], other[:, :, toe] = knees[k], ankles[k], toes[k]
        return torch.where((dice.rand(n, 1, 1, 1) < stepped), moved, other)


    def proportioned(self, out):
        """Bodies of other proportions that move alike: trunk, shoulders and hips, and limbs, both sides by nearly as much."""
        dice, n = self.dice, len(out)
        share = lambda size: 1 + size * dice.randn(n, 1, 1)
        hips, shoulders = out[:, :, HIPS], out[:, :, SHOULDERS]
        middle, chest = hips.mean(2), shoulders.mean(2)
        neck = middle + (chest - middle) * share(0.04)
        moved = out.clone()
        for limbs, girdle, old, new, long in ((ARMS, 0.07, chest, neck, (0.05, 0.05)), (LEGS, 0.07, middle, middle, (0.04, 0.04, 0.06))):
            wide, stretch = share(girdle), [share(size) for size in long]
            for chain in limbs:
                moved[:, :, chain[0]] = new + (out[:, :, chain[0]] - old) * wide
                for a, b, longer in zip(chain, chain[1:], stretch):
                    moved[:, :, b] = moved[:, :, a] + (out[:, :, b] - out[:, :, a]) * longer * share(0.02)
        return moved


def unwrapped(angle):
    """Angles in time without jumps of a whole turn, radians."""
    step = angle[:, 1:] - angle[:, :-1]
    step = torch.remainder(step + math.pi, 2 * math.pi) - math.pi
    return torch.cat([angle[:, :1], angle[:, :1] + step.cumsum(1)], 1)
