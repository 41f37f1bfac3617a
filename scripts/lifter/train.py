"""Trains the depth network: how far each joint is from the lens, from how the joints move in the picture.

Usage: train.py DATA.npz OUT_DIR [--minutes M] [--without PLAYER] [--seed S]

DATA comes from prepare.py. The network sees 14 joints in the picture (relative to the middle of the hips, in units of the
apparent body), the pose network's own depth where it has one, and where the player stands in the picture, over a second and
a half; it gives each joint's depth relative to the hips in the same unit and the logarithm of its standard deviation.

It learns from
- movements without end, made here: a skeleton of random proportions whose joints turn smoothly at random within the limits of
  human joints;
- the rendered players' strokes, filmed from everywhere by made-up cameras, their trunk and limbs turned at random so that no
  kind of stroke is taken for granted;
- what the pose network really gave on the rendered clips.
Clips that replay recorded people (`captured_*`) are never learned from. `--without PLAYER` keeps one player out, for checking.
"""

import argparse
import math
import time
from pathlib import Path

import numpy as np
import torch
from torch import nn

JOINTS = [11, 12, 13, 14, 15, 16, 23, 24, 25, 26, 27, 28, 31, 32]
LS, RS, LE, RE, LW, RW, LH, RH, LK, RK, LA, RA, LT, RT = range(14)
MIRRORED = [RS, LS, RE, LE, RW, LW, RH, LH, RK, LK, RA, LA, RT, LT]
LENGTH = 64
RATE = 30.0
CHANNELS = 14 * 3 + 3
BATCH = 384


class Lifter(nn.Module):
    """Convolutions over time with widening gaps: each output sees 1.5 s to either side."""

    def __init__(self, width=160):
        super().__init__()
        self.first = nn.Conv1d(CHANNELS, width, 3, padding=1)
        self.blocks = nn.ModuleList()
        for gap in (1, 2, 4, 8, 4, 2, 1):
            self.blocks.append(
                nn.Sequential(
                    nn.BatchNorm1d(width), nn.ReLU(), nn.Conv1d(width, width, 3, padding=gap, dilation=gap),
                    nn.BatchNorm1d(width), nn.ReLU(), nn.Dropout(0.05), nn.Conv1d(width, width, 1),
                )
            )
        self.last = nn.Sequential(nn.BatchNorm1d(width), nn.ReLU(), nn.Conv1d(width, 28, 1))

    def forward(self, x):
        x = self.first(x)
        for block in self.blocks:
            x = x + block(x)
        out = self.last(x)
        return torch.cat([out[:, :14], out[:, 14:].clamp(-6.0, 0.5)], 1)


class Maker:
    """Makes training sequences on the device `dev`."""

    def __init__(self, data, without, seed, dev):
        self.dev = dev
        self.gen = torch.Generator(device=dev).manual_seed(seed)
        chosen = [n for n, player, _ in data["names"] if not n.startswith("captured_") and player != without]
        stack = lambda key: padded([torch.tensor(data[f"{n}/{key}"]) for n in chosen]).to(dev)
        count = lambda key: torch.tensor([len(data[f"{n}/{key}"]) for n in chosen], device=dev)
        self.space, self.space_count = stack("space"), count("space")
        self.real = {key: stack(key) for key in ("xy", "scale", "world", "depth")}
        self.real_count = count("xy")
        self.picture = torch.stack([torch.tensor(data[f"{n}/size"]) for n in chosen]).to(dev)

    def rand(self, *shape):
        return torch.rand(*shape, generator=self.gen, device=self.dev)

    def randn(self, *shape):
        return torch.randn(*shape, generator=self.gen, device=self.dev)

    def uniform(self, low, high, *shape):
        return low + (high - low) * self.rand(*shape)

    def smooth(self, n, low, high, slowest=0.15, fastest=1.2, parts=4):
        """Curves in time [n, LENGTH] between about `low` and `high`: sums of slow waves."""
        t = torch.arange(LENGTH, device=self.dev) / RATE
        pace = slowest * (fastest / slowest) ** self.rand(n, parts, 1)
        size = self.rand(n, parts, 1) / pace.sqrt()
        wave = (size * torch.sin(2 * math.pi * (pace * t + self.rand(n, parts, 1)))).sum(1)
        wave = wave / (wave.abs().amax(1, keepdim=True) + 1e-6)
        reach, middle = self.rand(n, 1), self.uniform(-1, 1, n, 1)
        middle = middle * (1 - reach)
        return (low + high) / 2 + (high - low) / 2 * (middle + reach * wave)

    # Frames of reference: x to the player's right, y up, z to the front of a player who stands straight.

    def made(self, n):
        """Random movements of random bodies, [n, LENGTH, 14, 3] in statures."""
        share = lambda middle: middle * (1 + 0.06 * self.randn(n, 1))
        thigh, shank, upper, fore = share(0.24), share(0.245), share(0.148), share(0.146)
        hips, shoulders, trunk, foot = share(0.061), share(0.103), share(0.27), share(0.12)
        yaw = self.smooth(n, -60, 60)
        pelvis = turn_y(yaw) @ turn_x(self.smooth(n, -5, 25)) @ turn_z(self.smooth(n, -10, 10))
        chest = pelvis @ turn_y(self.smooth(n, -60, 60)) @ turn_x(self.smooth(n, -15, 35)) @ turn_z(self.smooth(n, -20, 20))
        zero = torch.zeros(n, LENGTH, device=self.dev)
        at = lambda frame, x, y, z: (frame @ torch.stack([zero + x, zero + y, zero + z], -1)[..., None])[..., 0]
        middle = at(chest, 0.0, trunk, 0.0)
        points = [None] * 14
        for side, (s, e, w, h, k, a, t) in ((-1, (LS, LE, LW, LH, LK, LA, LT)), (1, (RS, RE, RW, RH, RK, RA, RT))):
            points[s] = middle + at(chest, side * shoulders, self.smooth(n, -0.01, 0.02), self.smooth(n, -0.02, 0.03))
            # The arm hangs down; it is raised forward, out and turned about itself; the elbow bends forward.
            arm = chest @ turn_y(side * self.smooth(n, -110, 60, fastest=2.0)) @ turn_x(-self.smooth(n, -40, 110, fastest=2.0))
            arm = arm @ turn_y(side * self.smooth(n, -90, 90))
            points[e] = points[s] + at(arm, 0.0, -upper, 0.0)
            fore_turn = arm @ turn_x(-self.smooth(n, 0, 140, fastest=2.0))
            points[w] = points[e] + at(fore_turn, 0.0, -fore, 0.0)
            points[h] = at(pelvis, side * hips, 0.0, 0.0)
            leg = pelvis @ turn_z(side * self.smooth(n, -5, 40)) @ turn_x(-self.smooth(n, -30, 70)) @ turn_y(side * self.smooth(n, -20, 45))
            points[k] = points[h] + at(leg, 0.0, -thigh, 0.0)
            below = leg @ turn_x(self.smooth(n, 0, 90))
            points[a] = points[k] + at(below, 0.0, -shank, 0.0)
            tip = below @ turn_x(self.smooth(n, -25, 45))
            points[t] = points[a] + at(tip, 0.0, -0.03, foot)
        return torch.stack(points, 2)

    def strokes(self, n):
        """Stretches of rendered players' movement, trunk and limbs turned further at random."""
        which = torch.randint(len(self.space), (n,), generator=self.gen, device=self.dev)
        # 60 frames a second are kept; one in two makes real time.
        place = torch.arange(LENGTH, device=self.dev) * 2 * self.uniform(0.75, 1.4, n, 1)
        place = place + self.rand(n, 1) * (self.space_count[which][:, None] - 2 - place[:, -1:]).clamp(min=0)
        low = place.floor().long()
        part = (place - low)[..., None, None]
        out = self.space[which[:, None], low] * (1 - part) + self.space[which[:, None], low + 1] * part
        # World: x right of a player facing the net, y toward the net, z up.
        out = out[..., [0, 2, 1]]
        out = out - out[:, :, [LH, RH]].mean(2, keepdim=True)
        amount = self.rand(n, 1) * (self.rand(n, 1) < 0.8)
        bend = lambda reach: self.smooth(n, -reach, reach) * amount
        upper = [LS, RS, LE, RE, LW, RW]
        out[:, :, upper] = turned(out[:, :, upper], turn_y(bend(35)) @ turn_x(bend(15)) @ turn_z(bend(12)))
        for s, e, w in ((LS, LE, LW), (RS, RE, RW)):
            out[:, :, [e, w]] = turned(out[:, :, [e, w]], turn_y(bend(40)) @ turn_x(bend(30)) @ turn_z(bend(30)), out[:, :, [s]])
            out[:, :, [w]] = turned(out[:, :, [w]], turn_y(bend(35)) @ turn_x(bend(30)) @ turn_z(bend(30)), out[:, :, [e]])
        for h, k, a, t in ((LH, LK, LA, LT), (RH, RK, RA, RT)):
            out[:, :, [k, a, t]] = turned(out[:, :, [k, a, t]], turn_y(bend(25)) @ turn_x(bend(15)) @ turn_z(bend(15)), out[:, :, [h]])
        # Bodies differ in proportion: every limb is made a little longer or shorter.
        stretch = lambda: 1 + 0.05 * self.randn(n, 1, 1, 1)
        moved = out.clone()
        for s, e, w in ((LS, LE, LW), (RS, RE, RW)):
            moved[:, :, [s]] = out[:, :, [s]] * (stretch() if s == LS else 1.0)
        for chain in ((LS, LE, LW), (RS, RE, RW), (LH, LK, LA, LT), (RH, RK, RA, RT)):
            for a, b in zip(chain, chain[1:]):
                moved[:, :, b] = moved[:, :, a] + (out[:, :, b] - out[:, :, a]) * stretch()[:, :, 0]
        return moved

    def filmed(self, body):
        """Pictures of movements by made-up cameras: inputs [n, CHANNELS, LENGTH] and depths [n, 14, LENGTH]."""
        n = len(body)
        constant = lambda v: v[:, None].expand(n, LENGTH)
        body = turned(body, turn_y(constant(self.uniform(-180, 180, n))))
        focal = self.uniform(0.6, 1.1, n, 1)
        away = self.uniform(2.0, 7.5, n, 1)
        # The player walks a little and is not quite in the middle; the camera looks a little up or down and is not level.
        walk = lambda reach: self.smooth(n, -reach, reach, fastest=0.5)
        hips = torch.stack([self.uniform(-0.3, 0.3, n, 1) * away / focal * 0.8 + walk(0.5),
                            self.uniform(-0.25, 0.35, n, 1) + walk(0.05), away + walk(0.5)], -1)
        tilt, roll = 4.0 * self.randn(n), 1.0 * self.randn(n)
        points = turned(body, turn_z(constant(roll)) @ turn_x(constant(tilt))) + hips[:, :, None]
        z = points[..., 2].clamp(min=0.5)
        xy = focal[..., None, None] * points[..., :2] / z[..., None]
        xy = xy * torch.tensor([1.0, -1.0], device=self.dev)
        middle_z = points[:, :, [LH, RH], 2].mean(2)
        unit = focal / middle_z
        metre = size_of(xy).quantile(0.9, dim=1, keepdim=True)
        depth = (points[..., 2] - middle_z[..., None]) * (unit / metre)[..., None]
        xy = xy + self.slips(n, depth) * metre[..., None, None]
        world = self.own_depth(depth)
        return self.inputs(xy, metre, world), depth.transpose(1, 2)

    def wander(self, n, joints, pace):
        """Errors that change over time, [n, LENGTH, joints], standard deviation 1."""
        keep = math.exp(-1.0 / (RATE * pace))
        white = self.randn(n, LENGTH, joints)
        out = [white[:, 0]]
        for i in range(1, LENGTH):
            out.append(keep * out[-1] + math.sqrt(1 - keep * keep) * white[:, i])
        return torch.stack(out, 1)

    def slips(self, n, depth):
        """Errors of landmarks in units of the body (1.3 m): of the whole clip, of a pose, of a moment; hidden joints more."""
        fixed = torch.tensor([0.02] * 2 + [0.015] * 4 + [0.028] * 2 + [0.015] * 6, device=self.dev)
        loud = self.uniform(0.2, 1.8, n, 1, 1)
        out = []
        for axis in range(2):
            slow = self.wander(n, 14, 0.3) * 0.010 * loud
            quick = self.wander(n, 14, 0.05) * 0.004 * loud
            hidden = (depth > 0.06) * self.wander(n, 14, 0.25) * 0.02 * self.rand(n, 1, 14)
            out.append(self.randn(n, 1, 14) * fixed + slow + quick + hidden)
        return torch.stack(out, -1)

    def own_depth(self, depth):
        """The pose network's own depth as it tends to be: flattened, unsteady, the shoulders following the hips."""
        n = len(depth)
        own = depth.clone()
        pull = 0.7 * self.rand(n, 1)
        line = (depth[..., RH] - depth[..., LH]) * 1.6
        for s, side in ((LS, -0.5), (RS, 0.5)):
            middle = depth[..., [LS, RS]].mean(-1)
            own[..., s] = (1 - pull) * depth[..., s] + pull * (middle + side * line)
        for a, b in ((LS, LE), (RS, RE), (LE, LW), (RE, RW), (LH, LK), (RH, RK), (LK, LA), (RK, RA), (LA, LT), (RA, RT)):
            share = self.uniform(0.3, 1.1, n, 1)
            own[..., b] = own[..., a] + share * (depth[..., b] - depth[..., a])
        loud = torch.tensor([0.03] * 2 + [0.06] * 2 + [0.08] * 2 + [0.01] * 2 + [0.06] * 2 + [0.08] * 2 + [0.1] * 2, device=self.dev)
        own = own + loud * (0.6 * self.randn(n, 1, 14) + 0.8 * self.wander(n, 14, 0.3))
        return own - own[..., [LH, RH]].mean(-1, keepdim=True)

    def inputs(self, xy, metre, world):
        """Picture points in the picture's longer side, y down, [n, LENGTH, 14, 2], made into the network's input."""
        n = len(xy)
        hips = xy[:, :, [LH, RH]].mean(2)
        local = (xy - hips[:, :, None]) / metre[..., None, None]
        told = (self.rand(n, 1, 1) < 0.7).float()
        parts = [local.flatten(2), world * told, told.expand(n, LENGTH, 1), hips]
        return torch.cat(parts, -1).transpose(1, 2)

    def followed(self, n):
        """What the pose network gave on rendered clips, with the true depth."""
        which = torch.randint(len(self.picture), (n,), generator=self.gen, device=self.dev)
        first = (self.rand(n) * (self.real_count[which] - LENGTH)).long()
        frames = first[:, None] + torch.arange(LENGTH, device=self.dev)
        xy, scale, world, depth = (self.real[k][which[:, None], frames] for k in ("xy", "scale", "world", "depth"))
        size = self.picture[which]
        longer = size.amax(1)
        xy = (xy - size[:, None, None] / 2) / longer[:, None, None, None]
        metre = scale / longer[:, None]
        xy = xy + 0.006 * metre[..., None, None] * self.randn(n, 1, 14, 2)
        return self.inputs(xy, metre, world), depth.transpose(1, 2)

    def batch(self):
        parts = [self.filmed(self.made(BATCH * 3 // 10)), self.filmed(self.strokes(BATCH * 3 // 10)), self.followed(BATCH * 4 // 10)]
        x, y = torch.cat([p[0] for p in parts]), torch.cat([p[1] for p in parts])
        flip = self.rand(len(x)) < 0.5
        return torch.where(flip[:, None, None], mirrored_inputs(x), x), torch.where(flip[:, None, None], y[:, MIRRORED], y)


def padded(parts):
    return nn.utils.rnn.pad_sequence(parts, batch_first=True)


def mirrored_inputs(x):
    local = x[:, :28].unflatten(1, (14, 2))[:, MIRRORED]
    local = torch.stack([-local[:, :, 0], local[:, :, 1]], 2).flatten(1, 2)
    hips = torch.stack([-x[:, 43], x[:, 44]], 1)
    return torch.cat([local, x[:, 28:42][:, MIRRORED], x[:, 42:43], hips], 1)


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
    if about is None:
        return torch.einsum("ntij,ntkj->ntki", by, points)
    return about + torch.einsum("ntij,ntkj->ntki", by, points - about)


def size_of(xy):
    """Apparent size of the body: trunk plus the longer leg, [n, LENGTH]."""
    length = lambda a, b: (a - b).norm(dim=-1)
    trunk = length(xy[:, :, [LS, RS]].mean(2), xy[:, :, [LH, RH]].mean(2))
    legs = [length(xy[:, :, h], xy[:, :, k]) + length(xy[:, :, k], xy[:, :, a]) for h, k, a in ((LH, LK, LA), (RH, RK, RA))]
    return trunk + torch.maximum(*legs)


def loss_of(out, depth):
    mean, log_sd = out[:, :14], out[:, 14:]
    error = mean - depth
    # Likelihood of a normal error; its weight by the deviation keeps doubtful joints from being given up (Seitzer et al. 2022).
    likelihood = 0.5 * (error / log_sd.exp()).square() + log_sd
    return (likelihood * (2 * 0.5 * log_sd).exp().detach()).mean() + 0.5 * error.abs().mean()


def checked(model, data, only, dev):
    """Root mean square depth error by joint and share within two deviations, over a player's clips, metres."""
    lines = []
    for name, player, view in data["names"]:
        if only is not None and player != only:
            continue
        xy, size = data[f"{name}/xy"], data[f"{name}/size"]
        longer = size.max()
        points = torch.tensor((xy - size / 2) / longer, dtype=torch.float32)[None]
        metre = torch.tensor(data[f"{name}/scale"] / longer, dtype=torch.float32)[None]
        hips = points[:, :, [LH, RH]].mean(2)
        local = (points - hips[:, :, None]) / metre[..., None, None]
        world = torch.tensor(data[f"{name}/world"])[None]
        result = [name, view]
        for told in (1.0, 0.0):
            x = torch.cat([local.flatten(2), world * told, torch.full((1, len(xy), 1), told), hips], -1).transpose(1, 2).to(dev)
            with torch.no_grad():
                out = model(x)[0].cpu().numpy()
            mean, sd = out[:14].T, np.exp(out[14:]).T
            unit = data[f"{name}/metres"][:, None]
            error = (mean - data[f"{name}/depth"]) * unit
            inside = np.abs(error) <= 1.96 * sd * unit
            group = lambda e: [np.sqrt((e[:, k : k + 2] ** 2).mean()) * 100 for k in (0, 2, 4, 8, 10, 12)]
            result.append(" ".join(f"{v:4.1f}" for v in group(error)) + f" in {inside.mean():.2f}")
            if told == 1.0:
                own = (data[f"{name}/world"] - data[f"{name}/depth"]) * unit
                result.append("own " + " ".join(f"{v:4.1f}" for v in group(own)))
        lines.append(" | ".join(result))
    return lines


def main():
    words = argparse.ArgumentParser()
    words.add_argument("data")
    words.add_argument("out")
    words.add_argument("--minutes", type=float, default=4.0)
    words.add_argument("--without")
    words.add_argument("--seed", type=int, default=7)
    words.add_argument("--device", default="cuda")
    args = words.parse_args()
    started = time.time()
    torch.manual_seed(args.seed)
    data = np.load(args.data)
    data = {k: data[k] for k in data.files}
    dev = torch.device(args.device)
    maker = Maker(data, args.without, args.seed, dev)
    model = Lifter().to(dev)
    optimiser = torch.optim.AdamW(model.parameters(), lr=2e-3, weight_decay=1e-3)
    step, budget = 0, args.minutes * 60
    while (spent := time.time() - started) < budget:
        # The rate falls along a cosine of the time left.
        for group in optimiser.param_groups:
            group["lr"] = 2e-3 * (0.5 + 0.5 * math.cos(math.pi * min(1.0, spent / budget))) * min(1.0, (step + 1) / 100) + 1e-6
        x, y = maker.batch()
        loss = loss_of(model(x), y)
        optimiser.zero_grad()
        loss.backward()
        nn.utils.clip_grad_norm_(model.parameters(), 1.0)
        optimiser.step()
        if step % 500 == 0:
            print(f"{spent:6.1f} s step {step} loss {loss.item():.4f}", flush=True)
        step += 1
    model.eval()
    name = "pose_lifter" if args.without is None else f"pose_lifter_without_{args.without}"
    print(f"{name}: {step} steps, depth error cm (shoulder elbow wrist knee ankle toe), told the pose network's depth | that depth | untold")
    print("\n".join(checked(model, data, args.without, dev)))
    out = Path(args.out)
    out.mkdir(parents=True, exist_ok=True)
    torch.onnx.export(
        model.cpu(), torch.zeros(1, CHANNELS, 60), out / f"{name}.onnx", input_names=["joints"], output_names=["depth"],
        dynamic_axes={"joints": {0: "batch", 2: "frames"}, "depth": {0: "batch", 2: "frames"}}, opset_version=13, dynamo=False,
    )


if __name__ == "__main__":
    main()
