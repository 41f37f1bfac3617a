"""Kept crops and backgrounds on the GPU, and network crops cut out of them at random."""
import io
import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np
import torch
import torch.nn.functional as F
from PIL import Image

from degrade import log_uniform, uniform
from net import SIDE

# As in extract.py: side of a kept crop in pixels and in racket lengths.
KEPT = 256
LENGTH = KEPT / 3.6
# Side of the network's crop in racket lengths.
CROP_LENGTHS = 2.4


def turn(angle):
    c, s = torch.cos(angle), torch.sin(angle)
    return torch.stack([torch.stack([c, -s], -1), torch.stack([s, c], -1)], -2)


def load(path, device):
    kept = np.load(path)
    data, offsets = kept["data"], kept["offsets"]
    read = lambda i: np.array(Image.open(io.BytesIO(data[offsets[i] : offsets[i + 1]].tobytes())).convert("RGB"))
    with ThreadPoolExecutor(16) as pool:
        pictures = np.stack(list(pool.map(read, range(len(offsets) - 1))))
    return torch.from_numpy(pictures).permute(0, 3, 1, 2).contiguous().to(device), torch.tensor(kept["meta"], device=device)


def pixel_grid(device):
    axis = (torch.arange(SIDE, device=device) + 0.5) / SIDE * 2 - 1
    y, x = torch.meshgrid(axis, axis, indexing="ij")
    return torch.stack([x, y], -1).view(-1, 2)


def displaced(count, device):
    """How far the crop's middle lies from the wrist, racket lengths: mostly little, sometimes as if the wrist were wrong."""
    wide = torch.where(torch.rand(count, 1, device=device) < 0.25, 0.33, 0.07)
    return torch.randn(count, 2, device=device) * wide


def smear(x, shift):
    """Blurs each picture along its own shift (in −1…1 of the crop), as a moving camera does."""
    dev = x.device
    grid = pixel_grid(dev).view(1, SIDE, SIDE, 2)
    total = 0
    parts = [k / 6 - 0.5 for k in range(7)]
    for part in parts:
        moved = grid + part * shift[:, None, None]
        total = total + F.grid_sample(x, moved, mode="bilinear", padding_mode="border", align_corners=False)
    return total / len(parts)


def recoloured(x):
    """Gives what has the colour of some pixel another colour, light and shade kept: other clothes, walls, courts."""
    count, dev = len(x), x.device
    weights = torch.tensor([0.3, 0.59, 0.11], device=dev)[None, :, None, None]
    for _ in range(3):
        spot = uniform((count, 1, 1, 2), -0.8, 0.8, dev)
        chosen = F.grid_sample(x, spot, align_corners=False)
        off = x - chosen
        light = (off * weights).sum(1, keepdim=True)
        away = ((off - light) ** 2).sum(1, keepdim=True) + 0.25 * light**2
        near = torch.exp(-0.5 * away / uniform(count, 0.03, 0.1, dev)[:, None, None, None] ** 2)
        on = (torch.rand(count, device=dev) < 0.5).float()[:, None, None, None]
        grey, kind = torch.rand(count, 1, device=dev), torch.rand(count, 1, device=dev)
        wanted = torch.where(kind < 0.35, 0.8 + 0.2 * grey.expand(count, 3), torch.rand(count, 3, device=dev))
        wanted = torch.where(kind > 0.8, 0.2 * grey.expand(count, 3), wanted)
        shade = ((x * weights).sum(1, keepdim=True) / ((chosen * weights).sum(1, keepdim=True) + 0.03)).clamp(0.3, 2)
        x = x + (wanted[:, :, None, None] * shade - x) * near * on
    return x.clamp(0, 1)


class Sources:
    def __init__(self, folder, device):
        self.device = device
        self.crops, self.crop_meta = load(os.path.join(folder, "crops.npz"), device)
        self.grounds, self.ground_meta = load(os.path.join(folder, "backgrounds.npz"), device)
        masks = np.load(os.path.join(folder, "words.npz"))["masks"]
        self.words = torch.from_numpy(masks).to(device)
        self.uv = pixel_grid(device)

    def cut(self, pictures, centre, half, frame):
        """Network crops: place uv of the crop is centre + half·frame·uv of the kept picture."""
        places = torch.einsum("bij,nj->bni", frame, self.uv) * half[:, None, None] + centre[:, None]
        grid = (places + 0.5) / (KEPT / 2) - 1
        grid = grid.view(len(pictures), SIDE, SIDE, 2)
        return F.grid_sample(pictures, grid, mode="bilinear", padding_mode="border", align_corners=False)

    def frames(self, count, spread):
        """Small turns and mirror images."""
        flip = (torch.rand(count, device=self.device) < 0.5).float() * 2 - 1
        mirror = torch.diag_embed(torch.stack([flip, torch.ones_like(flip)], -1))
        return turn(torch.randn(count, device=self.device) * spread) @ mirror

    def rendered(self, count):
        """Crops of rendered players with a racket: pictures, points in −1…1 [count,4,2], which are in the picture."""
        dev = self.device
        picks = torch.randint(0, len(self.crops), (count,), device=dev)
        meta, pictures = self.crop_meta[picks], self.crops[picks].float() / 255
        points = meta[:, 1:9].view(count, 4, 2)
        half = CROP_LENGTHS / 2 * LENGTH * log_uniform(count, 0.62, 1.45, dev)
        centre = KEPT / 2 + displaced(count, dev) * LENGTH
        frame = self.frames(count, 0.17)
        x = recoloured(self.cut(pictures, centre, half, frame))
        blurred = torch.rand(count, device=dev) < 0.15
        shift = torch.randn(count, 2, device=dev) * 0.06 * blurred[:, None]
        x = smear(x, shift)
        uv = torch.einsum("bji,bkj->bki", frame, points - centre[:, None]) / half[:, None, None]
        visible = (uv.abs().amax(-1) < 0.98).float() * meta[:, 11:15]
        return x, uv, visible

    def grounds_for(self, count, scale, offset):
        """Pictures without a racket: pictures, whether an arm reaches into their middle, the forearm's direction [count,2],
        and where the hand is in the crop, racket lengths."""
        dev = self.device
        picks = torch.randint(0, len(self.grounds), (count,), device=dev)
        meta, pictures = self.ground_meta[picks], self.grounds[picks].float() / 255
        arm = meta[:, 0] == 1
        fitting = CROP_LENGTHS / 2 * LENGTH * scale * log_uniform(count, 0.85, 1.2, dev)
        half = torch.where(arm, fitting, log_uniform(count, 45, 126, dev))
        frame = self.frames(count, 0.2)
        # The arm's hand, the kept picture's middle, comes to lie at `offset`.
        shift = torch.einsum("bij,bj->bi", frame, offset) / scale[:, None] / CROP_LENGTHS * 2 * half[:, None]
        loose = torch.randn(count, 2, device=dev) * half[:, None] * 0.25
        centre = KEPT / 2 - torch.where(arm[:, None], shift, loose)
        toward = torch.where(arm[:, None], KEPT / 2 - meta[:, 1:3], torch.randn(count, 2, device=dev))
        toward = toward / (toward.norm(dim=-1, keepdim=True) + 1e-6)
        x = recoloured(self.cut(pictures, centre, half, frame))
        moving = (torch.rand(count, device=dev) < 0.15).float()
        x = smear(x, torch.randn(count, 2, device=dev) * 0.1 * moving[:, None])
        return x, arm, torch.einsum("bji,bj->bi", frame, toward)
