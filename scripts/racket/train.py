"""Trains the racket network on made rackets and on crops of rendered players; made images without end, so no epoch.

    train.py --data DIR --out DIR --seconds N [--from WEIGHTS.pt] [--seed N]

On several GPUs: torchrun --nproc_per_node=N train.py …; each makes its own images. Writes racket.pt every minute and racket.onnx at the
end. The same seed on the same number of cards begins alike, but GPU sums are not bit-exact, and --seconds ends a run by the clock.
"""
import argparse
import math
import os
import time

import torch
import torch.distributed as dist
import torch.nn as nn
import torch.nn.functional as F

import made
from degrade import degrade, log_uniform
from export import export
from net import RacketNet, loss
from sources import Sources, turn

# Shares of a batch: rendered players, sharp made rackets, blurred ones, much blurred ones (the rest).
SHARES = (0.34, 0.22, 0.22)
# Moments of an exposure and the least and most turn in it, radians, for the three kinds of made rackets.
KINDS = ((1, (0.003, 0.03)), (5, (0.03, 0.35)), (11, (0.3, 1.5)))

# The clock is read every so many steps: reading it makes the cards wait for each other.
CLOCK_EVERY = 20


class Batches:
    def __init__(self, folder, device):
        self.sources = Sources(folder, device)
        self.made = made.Made(self.sources)

    def next(self, count):
        sizes = [int(count * share) for share in SHARES]
        sizes.append(count - sum(sizes))
        kinds = [(size, *kind) for size, kind in zip(sizes[1:], KINDS)]
        parts = [self.sources.rendered(sizes[0]), self.made.batch(kinds)]
        first = tuple(torch.cat(part) for part in zip(*parts))
        # Making pictures takes longer than learning from them: each is used twice, differently cut and differently degraded.
        x, points, visible = (torch.cat(part) for part in zip(first, cut_again(*first)))
        x, visible = degrade(x.contiguous(), points, visible)
        return x, points, visible


def cut_again(x, points, visible):
    """Mirror images of the pictures, somewhat turned, moved and zoomed."""
    count, device = len(x), x.device
    frame = turn(torch.randn(count, device=device) * 0.12) * log_uniform(count, 0.85, 1.15, device)[:, None, None]
    frame = frame @ torch.diag(torch.tensor([-1.0, 1.0], device=device))
    shift = torch.randn(count, 2, device=device) * 0.06
    grid = F.affine_grid(torch.cat([frame, shift[..., None]], -1), list(x.shape), align_corners=False)
    x = F.grid_sample(x, grid, padding_mode="border", align_corners=False)
    points = torch.linalg.solve_ex(frame[:, None], (points - shift[:, None])[..., None])[0][..., 0]
    return x, points, visible * (points.abs().amax(-1) < 0.98).float()


class Mean:
    """Running mean of weights: what is shipped."""

    def __init__(self, net):
        self.state = {k: v.detach().clone().float() for k, v in net.state_dict().items()}
        self.net, self.steps = net, 0

    @torch.no_grad()
    def update(self):
        self.steps += 1
        keep = min(0.9985, (self.steps + 1) / (self.steps + 20))
        now = [v.float() for v in self.net.state_dict().values()]
        torch._foreach_lerp_(list(self.state.values()), now, 1 - keep)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--data", required=True)
    parser.add_argument("--out", required=True)
    parser.add_argument("--seconds", type=float, required=True, help="from now, loading included")
    parser.add_argument("--from", dest="start", default="")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--width", type=float, default=1.3)
    parser.add_argument("--batch", type=int, default=384, help="new pictures for each card and step; each is used twice")
    parser.add_argument("--rate", type=float, default=4e-3)
    args = parser.parse_args()
    began = time.time()
    rank, cards = int(os.environ.get("RANK", 0)), int(os.environ.get("WORLD_SIZE", 1))
    device = torch.device(f"cuda:{rank}" if torch.cuda.is_available() else "cpu")
    if cards > 1:
        torch.cuda.set_device(device)
        dist.init_process_group("nccl")
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    torch.backends.cudnn.benchmark = True
    torch.manual_seed(args.seed)
    net = RacketNet(args.width).to(device)
    if args.start:
        net.load_state_dict(torch.load(args.start, map_location=device))
    net = net.to(memory_format=torch.channels_last)
    torch.manual_seed(1000 * args.seed + rank)
    say = print if rank == 0 else lambda *a, **k: None
    say("cards", cards, torch.cuda.get_device_name() if device.type == "cuda" else "cpu", "parameters", sum(p.numel() for p in net.parameters()))
    if device.type == "cuda":
        made.pixels = torch.compile(made.pixels, dynamic=True)
    batches, mean = Batches(args.data, device), Mean(net)
    weights = list(net.parameters())
    optimiser = torch.optim.AdamW(weights, lr=args.rate, weight_decay=0.02)
    say(f"loaded after {time.time() - began:.0f} s", flush=True)
    start, step, last, share = time.time(), 0, time.time(), 0.0
    length = args.seconds - (start - began)
    while True:
        if step % CLOCK_EVERY == 0:
            share = (time.time() - start) / length
            if cards > 1:
                # All stop at the same step.
                agreed = torch.tensor([share], device=device)
                dist.all_reduce(agreed, dist.ReduceOp.MAX)
                share = agreed.item()
        if share >= 1:
            break
        for group in optimiser.param_groups:
            group["lr"] = args.rate * min(1, (step + 1) / 200) * (0.5 + 0.5 * math.cos(math.pi * share)) + 1e-6
        with torch.no_grad():
            x, points, visible = batches.next(args.batch)
            x = (x * 2 - 1).contiguous(memory_format=torch.channels_last)
        with torch.autocast(device.type, dtype=torch.bfloat16):
            heat, seen = net(x)
        total, error = loss(heat, seen, points, visible)
        optimiser.zero_grad()
        total.backward()
        if cards > 1:
            share_gradients(weights, cards)
        nn.utils.clip_grad_norm_(weights, 5.0)
        optimiser.step()
        mean.update()
        step += 1
        if step in (5, 100) or (step % CLOCK_EVERY == 0 and time.time() - last > 30):
            last = time.time()
            errors = " ".join(f"{e:.3f}" for e in (error * 2.4).tolist())
            say(f"{time.time() - start:.0f} s step {step} loss {total.item():.3f} error (lengths) {errors}", flush=True)
            if rank == 0:
                torch.save(mean.state, os.path.join(args.out, "racket.pt"))
    if rank == 0:
        net.load_state_dict({k: mean.state[k].to(v.dtype) for k, v in net.state_dict().items()})
        net = net.to(memory_format=torch.contiguous_format)
        torch.save(net.state_dict(), os.path.join(args.out, "racket.pt"))
        export(net, os.path.join(args.out, "racket.onnx"))
    say(f"{step} steps, {2 * step * args.batch * cards} images, {time.time() - began:.0f} s", flush=True)
    if cards > 1:
        dist.destroy_process_group()


def share_gradients(weights, cards):
    flat = torch.cat([w.grad.flatten() for w in weights])
    dist.all_reduce(flat)
    flat /= cards
    at = 0
    for w in weights:
        w.grad.copy_(flat[at : at + w.numel()].view_as(w))
        at += w.numel()


if __name__ == "__main__":
    main()
