"""Trains the depth network: how far each joint is from the lens, from how the joints move in the picture.

Usage: train.py DATA.npz TAKES.npz GENERAL.npz OUT_DIR [--minutes M] [--without PLAYER…] [--seed S]

DATA comes from prepare.py, TAKES (recorded tennis) from ../recogniser/takes.py, GENERAL (recorded movement of other kinds) from
general.py. The network sees 14 joints in the picture (relative to the middle of the hips, in units of the apparent body), the pose
network's own depth where it has one, and where the player stands in the picture, over a second and a half, and how long the
clip has shown each bone to be. It gives how much farther than the hips each joint is over the ground, along the way from the camera
to the hips, in the same unit, and the logarithm of its standard deviation.

It learns from
- movements without end: bodies of random proportions that stand, step and turn on the ground, their joints going from pose to
  pose at random within human limits (`movement.py`);
- the rendered players' strokes, filmed from everywhere by made-up cameras, their trunk and arms turned at random and half of them
  on other legs, so that no kind of stroke or stance is taken for granted;
- recorded tennis players' strokes of every kind, and other recorded movement, filmed in the same way;
- what the pose network really gave on the rendered clips.
Pictures of all but the last err as the pose network does, or as it did on other rendered strokes (`film.py`).
Clips that replay recorded people (`captured_*`) are never learned from. `--without PLAYER` keeps a rendered player out, for
checking, and with it the recorded players whose movement that player's clips replay.
"""

import argparse
import copy
import math
import time
from pathlib import Path

import numpy as np
import torch
from torch import nn

from body import LENGTH, Dice, exchanged
from film import Film, inputs, mirrored_inputs
from movement import KEPT_RATE, Known, Movements, girdles, refitted
from net import CHANNELS, WIDTH, Lifter, loss_of

BATCH = 512
# Batches that are made at a time: making many costs little more than making one.
AT_A_TIME = 4
# Shares of a batch from made movements, and from rendered strokes, recorded tennis and other recorded movement filmed anew; the rest
# is what the pose network gave.
MADE, STROKES, TAKES, OTHERS = 0.2, 0.2, 0.3, 0.2
# Making a movement costs more than filming it: each is filmed from so many sides.
FILMED = 2
# The recorded points' rate, the height to which their bodies were made alike, and where the network's joints begin among them.
TAKE_RATE, TAKE_STATURE, FIRST_JOINT = 100.0, 1.7, 3


class Maker:
    """Makes training sequences on the device `dev`."""

    def __init__(self, data, takes, general, without, seed, dev):
        self.dice = Dice(seed, dev)
        chosen = [n for n, player, _, _ in data["names"] if not n.startswith("captured_") and player not in without]
        stack = lambda key: nn.utils.rnn.pad_sequence([torch.tensor(data[f"{n}/{key}"]) for n in chosen], batch_first=True).to(dev)
        count = lambda key: torch.tensor([len(data[f"{n}/{key}"]) for n in chosen], device=dev)
        self.real = {key: stack(key) for key in ("xy", "scale", "world", "depth")}
        self.bones = torch.stack([torch.tensor(data[f"{n}/bones"]) for n in chosen]).to(dev)
        self.real_count = count("xy")
        self.picture = torch.stack([torch.tensor(data[f"{n}/size"]) for n in chosen]).to(dev)
        kept_out = {int(source[1:]) for _, player, _, source in data["names"] if source and player in without}
        body = torch.stack([girdles(torch.tensor(data[f"{n}/space"])) for n in chosen]).mean(0)
        rendered = Known(stack("space"), count("space"))
        tennis, strokes = recorded(takes, kept_out)
        others = [torch.tensor(general[name]) for name in general]
        self.movements = Movements(rendered, alike(tennis, body, dev, strokes), alike(others, body, dev), self.dice)
        self.film = Film(stack("errors"), self.real_count, self.dice)

    def followed(self, n):
        """What the pose network gave on rendered clips, with the true depth."""
        dice = self.dice
        which = dice.pick(len(self.picture), n)
        first = (dice.rand(n) * (self.real_count[which] - LENGTH)).long()
        frames = first[:, None] + torch.arange(LENGTH, device=dice.dev)
        xy, scale, world, depth = (self.real[k][which[:, None], frames] for k in ("xy", "scale", "world", "depth"))
        size = self.picture[which]
        longer = size.amax(1)
        xy = (xy - size[:, None, None] / 2) / longer[:, None, None, None]
        metre = scale / longer[:, None]
        xy = xy + 0.006 * metre[..., None, None] * dice.randn(n, 1, 14, 2)
        bones = self.bones[which] * (0.03 * dice.randn(n, 8)).exp()
        return inputs(xy, metre, world, bones, dice), depth.transpose(1, 2)

    def batches(self):
        """Inputs and depths of some batches, well mixed."""
        total = BATCH * AT_A_TIME
        makers = ((self.movements.made, MADE), (self.movements.strokes, STROKES), (self.movements.takes, TAKES), (self.movements.others, OTHERS))
        bodies = torch.cat([make(int(total * share / FILMED)) for make, share in makers]).repeat(FILMED, 1, 1, 1)
        parts = [self.film.filmed(bodies), self.followed(total - len(bodies))]
        x, y = torch.cat([p[0] for p in parts]), torch.cat([p[1] for p in parts])
        flip = self.dice.rand(len(x)) < 0.5
        x, y = torch.where(flip[:, None, None], mirrored_inputs(x), x), torch.where(flip[:, None, None], exchanged(y, 1), y)
        # Every so many-th sequence goes into one batch.
        return [(x[i::AT_A_TIME], y[i::AT_A_TIME]) for i in range(AT_A_TIME)]


def recorded(takes, without):
    """Recorded takes of all players but those `without` (their numbers), and the take and frame of each stroke."""
    spaces, strokes = [], []
    for i, (player, _, _) in enumerate(takes["takes"]):
        if player in without:
            continue
        points = torch.tensor(takes[f"{i:03d}"][:, FIRST_JOINT:].astype(np.float32) / TAKE_STATURE)
        frames = int((len(points) - 1) * KEPT_RATE / TAKE_RATE)
        even = nn.functional.interpolate(points.flatten(1).T[None], frames, mode="linear", align_corners=True)[0].T
        strokes += [(len(spaces), int(t * KEPT_RATE)) for t in takes[f"{i:03d}/contacts"]]
        spaces.append(even.unflatten(1, (14, 3)))
    return spaces, strokes


def alike(spaces, body, dev, strokes=None):
    """Recorded movements as known. Where recordings put shoulders and hips is not where the rendered bodies have these joints: on
    average they are made as wide and as far apart as `body` (`girdles`)."""
    shares = body / torch.stack([girdles(space) for space in spaces]).mean(0)
    spaces = [refitted(space, shares) for space in spaces]
    count = torch.tensor([len(s) for s in spaces], device=dev)
    strokes = None if strokes is None else torch.tensor(strokes, device=dev)
    return Known(nn.utils.rnn.pad_sequence(spaces, batch_first=True).to(dev), count, strokes)


def checked(model, data, only, dev):
    """Root mean square depth error by joint and share within two deviations, over a player's clips, metres."""
    lines = []
    for name, player, view, _ in data["names"]:
        if only and player not in only:
            continue
        xy, size = data[f"{name}/xy"], data[f"{name}/size"]
        longer = size.max()
        points = torch.tensor((xy - size / 2) / longer, dtype=torch.float32)[None]
        metre = torch.tensor(data[f"{name}/scale"] / longer, dtype=torch.float32)[None]
        world = torch.tensor(data[f"{name}/world"])[None]
        result = [name, view]
        for told in (1.0, 0.0):
            bones = torch.tensor(data[f"{name}/bones"])[None]
            x = inputs(points, metre, world, bones, told=told).to(dev)
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


def replayed(steps, generator):
    """Steps that the GPU repeats by itself: their many small kernels cost more to launch than to run."""
    aside = torch.cuda.Stream()
    aside.wait_stream(torch.cuda.current_stream())
    with torch.cuda.stream(aside):
        for _ in range(3):
            steps()
    torch.cuda.current_stream().wait_stream(aside)
    graph = torch.cuda.CUDAGraph()
    graph.register_generator_state(generator)
    with torch.cuda.graph(graph):
        loss = steps()

    def repeat():
        graph.replay()
        return loss

    return repeat


def main():
    words = argparse.ArgumentParser()
    words.add_argument("data")
    words.add_argument("takes")
    words.add_argument("general")
    words.add_argument("out")
    words.add_argument("--minutes", type=float, default=4.0)
    words.add_argument("--without", nargs="*", default=[])
    words.add_argument("--seed", type=int, default=7)
    words.add_argument("--width", type=int, default=WIDTH)
    words.add_argument("--device", default="cuda")
    args = words.parse_args()
    started = time.time()
    torch.manual_seed(args.seed)
    data = np.load(args.data)
    data = {k: data[k] for k in data.files}
    takes, general = np.load(args.takes), np.load(args.general)
    dev = torch.device(args.device)
    maker = Maker(data, takes, general, args.without, args.seed, dev)
    model = Lifter(args.width).to(dev)
    # What is kept is the running mean of the weights.
    kept = copy.deepcopy(model)
    rate = torch.tensor(0.0, device=dev)
    graphed = dev.type == "cuda"
    optimiser = torch.optim.AdamW(model.parameters(), lr=rate, weight_decay=1e-3, capturable=graphed)
    share = torch.tensor(0.0, device=dev)
    pairs = list(zip(kept.state_dict().values(), model.state_dict().values()))

    def some_steps():
        for x, y in maker.batches():
            # Half precision in the network, where the GPU has it; weights and loss stay whole.
            with torch.autocast(dev.type, torch.bfloat16, enabled=graphed, cache_enabled=False):
                out = model(x)
            loss = loss_of(out.float(), y)
            optimiser.zero_grad()
            loss.backward()
            nn.utils.clip_grad_norm_(model.parameters(), 1.0)
            optimiser.step()
            with torch.no_grad():
                for mean, now in pairs:
                    mean.lerp_(now, 1 - share) if mean.is_floating_point() else mean.copy_(now)
        return loss.detach()

    repeat = replayed(some_steps, maker.dice.gen) if graphed else some_steps
    step, budget = 0, args.minutes * 60
    while (spent := time.time() - started) < budget:
        # The rate falls along a cosine of the time left.
        rate.fill_(2e-3 * (0.5 + 0.5 * math.cos(math.pi * min(1.0, spent / budget))) * min(1.0, (step + 1) / 100) + 1e-6)
        share.fill_(min(0.999, 1 - 1 / (step + 1)))
        loss = repeat()
        if step % (20 * AT_A_TIME) == 0:
            value = loss.item()
            if step % (1000 * AT_A_TIME) == 0:
                print(f"{spent:6.1f} s step {step} loss {value:.4f}", flush=True)
        step += AT_A_TIME
    model = kept.eval()
    name = "_without_".join(["pose_lifter", *args.without])
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
