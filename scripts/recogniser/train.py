"""Trains the recogniser: which stroke, by which hand, volley or not, with one hand or two, and when the ball is met, from how 17
points of a body move in the picture.

Usage: train.py TAKES.npz ERRORS.npz OUT_DIR [--name NAME] [--minutes M] [--seed S] [--check HELD.npz]

TAKES comes from takes.py, ERRORS from errors.py. HELD (players kept out, as takes.py writes them) is only scored.
"""

import argparse
import copy
import math
import time
from pathlib import Path

import numpy as np
import torch
from film import Film
from net import (
    AHEAD,
    BOTH,
    CHANNELS,
    SPREAD,
    STROKES,
    VOLLEY,
    Recogniser,
    mirrored_inputs,
    mirrored_outputs,
)
from other import Others
from torch import nn
from window import LENGTH, STEPS, UNKNOWN, Chance, Labels, Takes

BATCH = 768
# Batches that are made at a time: making many costs little more than making one.
AT_A_TIME = 4
# Shares of a batch: about strokes, anywhere in the takes, strokes backward, players who hardly move; the rest is no tennis.
STROKE_SHARE, ANYWHERE_SHARE, BACKWARD_SHARE, IDLE_SHARE = 0.52, 0.11, 0.04, 0.05
# What a moment without a stroke counts beside one with: there are ten times as many.
NONE_WEIGHT = 0.4


class Maker:
    """Makes training windows on one device."""

    def __init__(self, takes, errors, seed, dev):
        self.chance = Chance(seed, dev)
        self.takes = Takes(takes, self.chance)
        self.film = Film(errors, self.chance)
        self.others = Others(self.takes, self.chance)

    def made(self, n):
        strokes, anywhere, backward, idle = (int(n * share) for share in (STROKE_SHARE, ANYWHERE_SHARE, BACKWARD_SHARE, IDLE_SHARE))
        parts = [self.takes.windows(strokes + anywhere, strokes), self.takes.reversed(backward), self.takes.idle(idle)]
        parts.append(self.others.windows(n - sum(len(points) for points, _ in parts)))
        mixed = torch.randperm(n, device=self.chance.dev)
        labels = Labels.joined([labels for _, labels in parts])
        for key, value in vars(labels).items():
            setattr(labels, key, value[mixed])
        return self.film.seen(torch.cat([points for points, _ in parts])[mixed]), labels


def loss_of(out, labels, rows):
    stroke, volley, both, ahead = (getattr(labels, k)[rows] for k in ("stroke", "volley", "both", "to_contact"))
    weight = torch.ones(7, device=out.device)
    weight[0] = NONE_WEIGHT
    loss = nn.functional.cross_entropy(out[:, STROKES], stroke, weight=weight, ignore_index=UNKNOWN, label_smoothing=0.03)
    for row, told in ((VOLLEY, volley), (BOTH, both)):
        asked = (told != UNKNOWN).float()
        each = nn.functional.binary_cross_entropy_with_logits(out[:, row], told.clamp(0.02, 0.98), reduction="none")
        loss = loss + 0.25 * (each * asked).sum() / (asked.sum() + 1)
    asked = ~ahead.isnan()
    error = (out[:, AHEAD] - torch.where(asked, ahead, 0)).abs()
    # Likelihood of an error with long tails; weighed by the spread so that doubtful strokes are not given up.
    spread = out[:, SPREAD].exp()
    likelihood = (error / spread + out[:, SPREAD]) * (spread.detach() / 0.03).clamp(max=3.0)
    return loss + 0.15 * (likelihood * asked).sum() / (asked.sum() + 1) + 4.0 * (error * asked).sum() / (asked.sum() + 1)


def scored(model, maker, n):
    """Windows about strokes and about none: how they are read, in words."""
    model.eval()
    with torch.no_grad():
        points, labels = maker.takes.windows(n, n)
        x = maker.film.seen(points)
        out = 0.5 * (model(x) + mirrored_outputs(model(mirrored_inputs(x))))
        chances = out[:, STROKES].softmax(1)
        # The answer at the moment nearest contact, of windows in which that lies.
        off = labels.to_contact.abs().nan_to_num(9.0)
        near, place = off.min(1)
        ok = (near < 0.03) & (labels.stroke.gather(1, place[:, None])[:, 0] > 0)
        pick = lambda of: of.gather(-1, (place[:, None] if of.dim() == 2 else place[:, None, None].expand(-1, of.shape[1], 1)))[ok, ..., 0]
        p, y = pick(chances), pick(labels.stroke)
        best = p[:, 1:].argmax(1) + 1
        kind, hand = (best - 1) % 3 == (y - 1) % 3, (best > 3) == (y > 3)
        volley, both = pick(labels.volley), pick(labels.both)
        v, b = pick(out[:, VOLLEY]), pick(out[:, BOTH])
        share = lambda right, asked: f"{(right & asked).sum() / asked.sum():.3f}"
        error = (pick(out[:, AHEAD]) - pick(labels.to_contact)).abs()
        within = (error < 1.5 * pick(out[:, SPREAD]).exp()).float().mean()
        words = [f"found .5 {(p[:, 0] < 0.5).float().mean():.3f} .3 {(p[:, 0] < 0.7).float().mean():.3f} kind {kind.float().mean():.3f} hand {hand.float().mean():.3f}"]
        words.append(f"volley {share((v > 0) == (volley > 0.5), volley != UNKNOWN)} both {share((b > 0) == (both > 0.5), both != UNKNOWN)}")
        words.append(f"contact {1000 * error.median():.0f} ms p90 {1000 * error.quantile(0.9):.0f} inside {within:.2f}")
        points, labels = maker.others.windows(n)
        x = maker.film.seen(points)
        out = 0.5 * (model(x) + mirrored_outputs(model(mirrored_inputs(x))))
        most = (1 - out[:, STROKES].softmax(1)[:, 0]).amax(1)
        words.append(f"no tennis over .5 {(most > 0.5).float().mean():.3f} .7 {(most > 0.7).float().mean():.3f}")
        per_kind = [f"{(kind & hand)[(y - 1) % 3 + 3 * (volley > 0) == k].float().mean():.3f}" for k in range(5)]
        words.append("kind and hand fh bh oh fv bv " + " ".join(per_kind))
    model.train()
    return ", ".join(words)


def main():
    words = argparse.ArgumentParser()
    words.add_argument("takes")
    words.add_argument("errors")
    words.add_argument("out")
    words.add_argument("--name", default="recogniser")
    words.add_argument("--minutes", type=float, default=5.0)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--width", type=int, default=112)
    words.add_argument("--check")
    words.add_argument("--device", default="cuda")
    args = words.parse_args()
    dev = torch.device(args.device)
    torch.manual_seed(args.seed)
    maker = Maker(args.takes, args.errors, args.seed, dev)
    checks = Maker(args.check, args.errors, 99, dev) if args.check else None
    model = Recogniser(width=args.width).to(dev)
    kept = copy.deepcopy(model)
    optimiser = torch.optim.AdamW(model.parameters(), lr=1e-3, weight_decay=2e-2)
    started, budget, step, next_words = time.time(), args.minutes * 60, 0, 20.0
    fast = dev.type == "cuda"
    while (spent := time.time() - started) < budget:
        x, labels = maker.made(BATCH * AT_A_TIME)
        for part in range(AT_A_TIME):
            rate = 2e-3 * (0.5 + 0.5 * math.cos(math.pi * min(1.0, spent / budget))) * min(1.0, (step + 1) / 200) + 1e-6
            for group in optimiser.param_groups:
                group["lr"] = rate
            rows = slice(part, None, AT_A_TIME)
            with torch.autocast(dev.type, torch.bfloat16, enabled=fast):
                out = model(x[rows])
            loss = loss_of(out.float(), labels, rows)
            optimiser.zero_grad()
            loss.backward()
            nn.utils.clip_grad_norm_(model.parameters(), 1.0)
            optimiser.step()
            step += 1
            with torch.no_grad():
                keep = min(0.999, 1 - 1 / step)
                for mean, now in zip(kept.state_dict().values(), model.state_dict().values()):
                    mean.lerp_(now, 1 - keep) if mean.is_floating_point() else mean.copy_(now)
        if spent > next_words:
            next_words = max(spent * 1.7, spent + 20)
            print(f"{args.name} {spent:5.0f} s step {step} loss {loss.item():.3f}" + (f" {scored(kept, checks, 2000)}" if checks else ""), flush=True)
    model = kept.eval()
    print(f"{args.name} {step} steps" + (f" {scored(model, checks, 6000)}" if checks else ""), flush=True)
    out = Path(args.out)
    out.mkdir(parents=True, exist_ok=True)
    weights = {k: v.cpu().numpy().astype(np.float32) for k, v in model.state_dict().items()}
    np.savez_compressed(out / f"{args.name}.npz", **weights)
    model = model.cpu().eval()
    torch.onnx.export(
        model, torch.zeros(1, CHANNELS, LENGTH), out / f"{args.name}.onnx", input_names=["points"], output_names=["strokes"],
        dynamic_axes={"points": {0: "batch", 2: "time"}, "strokes": {0: "batch", 2: "steps"}}, opset_version=13, dynamo=False,
    )


assert STEPS * 2 == LENGTH

if __name__ == "__main__":
    main()
