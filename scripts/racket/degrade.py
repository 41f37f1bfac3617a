"""What cameras and encoders do to a picture: blur, low resolution, colour, noise, blocks, a black border. [B,3,S,S], 0…1."""
import math

import torch
import torch.nn.functional as F


def uniform(count, low, high, device):
    return torch.rand(count, device=device) * (high - low) + low


def log_uniform(count, low, high, device):
    return torch.exp(uniform(count, math.log(low), math.log(high), device))


def cosine_basis(device):
    k, n = torch.arange(8.0)[:, None], torch.arange(8.0)[None]
    basis = torch.cos(math.pi * (2 * n + 1) * k / 16) * 0.5
    basis[0] /= math.sqrt(2)
    return basis.to(device)


def blocks(x, strength):
    """Rounds the cosine coefficients of 8 × 8 blocks, as encoders do."""
    count, channels, height, width = x.shape
    basis = cosine_basis(x.device)
    tiles = x.view(count, channels, height // 8, 8, width // 8, 8)
    spectrum = torch.einsum("ui,bcyixj,vj->bcyuxv", basis, tiles, basis)
    k = torch.arange(8, device=x.device).float()
    step = (1 + 0.9 * (k[:, None] + k[None]))[None, None, None, :, None, :] * strength[:, None, None, None, None, None]
    spectrum = torch.round(spectrum / step) * step
    return torch.einsum("ui,bcyuxv,vj->bcyixj", basis, spectrum, basis).reshape(count, channels, height, width)


def soften(x, sigma):
    count, channels, height, width = x.shape
    reach = torch.arange(-4, 5, device=x.device).float()
    kernel = torch.exp(-0.5 * (reach[None] / sigma[:, None].clamp_min(0.05)) ** 2)
    kernel = (kernel / kernel.sum(1, keepdim=True)).repeat_interleave(channels, 0)
    y = x.reshape(1, count * channels, height, width)
    y = F.conv2d(F.pad(y, (4, 4, 0, 0), mode="reflect"), kernel[:, None, None, :], groups=count * channels)
    y = F.conv2d(F.pad(y, (0, 0, 4, 4), mode="reflect"), kernel[:, None, :, None], groups=count * channels)
    return y.view(count, channels, height, width)


def colours(x):
    count, dev = len(x), x.device
    orders = torch.stack([torch.randperm(3, device=dev) for _ in range(6)])[torch.randint(0, 6, (count,), device=dev)]
    orders = torch.where((torch.rand(count, device=dev) < 0.2)[:, None], orders, torch.arange(3, device=dev)[None])
    x = torch.gather(x, 1, orders[:, :, None, None].expand_as(x))
    grey = x.mean(1, keepdim=True)
    saturation = torch.where(torch.rand(count, device=dev) < 0.1, torch.zeros(count, device=dev), uniform(count, 0.4, 1.5, dev))
    x = grey + (x - grey) * saturation[:, None, None, None]
    x = x.clamp(1e-3, 1) ** log_uniform(count, 0.7, 1.45, dev)[:, None, None, None]
    mean = x.mean((1, 2, 3), keepdim=True)
    x = (x - mean) * uniform(count, 0.6, 1.4, dev)[:, None, None, None] + mean + uniform(count, -0.13, 0.13, dev)[:, None, None, None]
    return x * (1 + 0.08 * torch.randn(count, 3, device=dev))[:, :, None, None]


def coarse_colour(x):
    """Colour kept at a half or a quarter of the resolution of light, as films keep it, for two thirds of the pictures."""
    light = (x * torch.tensor([0.3, 0.59, 0.11], device=x.device)[None, :, None, None]).sum(1, keepdim=True)
    kind = torch.randint(0, 3, (len(x),), device=x.device)[:, None, None, None]
    for k, factor in ((1, 2), (2, 4)):
        low = F.avg_pool2d(x - light, factor)
        x = torch.where(kind == k, light + F.interpolate(low, size=x.shape[-2:], mode="bilinear"), x)
    return x


def degrade(x, points, visible):
    """A worse picture of the same, and which points a black border has not taken."""
    count, _, side, _ = x.shape
    dev = x.device
    chance = lambda p: torch.rand(count, device=dev) < p
    x = soften(x, chance(0.4).float() * uniform(count, 0.3, 1.8, dev) + 1e-3)
    group = torch.randint(0, 6, (count,), device=dev)
    for k, size in ((2, 104), (3, 72), (4, 56), (5, 40)):
        some = (group == k).nonzero()[:, 0]
        if len(some):
            low = F.interpolate(x[some], size=size, mode="bilinear", antialias=True, align_corners=False)
            # Encoded as small as it was filmed.
            coded = blocks(low, log_uniform(len(some), 0.01, 0.1, dev))
            low = torch.where((torch.rand(len(some), device=dev) < 0.5)[:, None, None, None], coded, low)
            x[some] = F.interpolate(low, size=(side, side), mode="bilinear", align_corners=False)
    x = coarse_colour(x)
    # Phones sharpen until edges have halos.
    x = x + (x - soften(x, uniform(count, 0.8, 2.0, dev))) * (uniform(count, 0, 1.5, dev) * chance(0.3).float())[:, None, None, None]
    x = colours(x)
    x = x + torch.randn_like(x) * (uniform(count, 0, 0.045, dev) * chance(0.6).float())[:, None, None, None]
    x = x.clamp(0, 1)
    x = torch.where(chance(0.7)[:, None, None, None], blocks(x, log_uniform(count, 0.01, 0.13, dev)), x)
    # Where the crop leaves the picture it is black.
    axis, edge, on = torch.randint(0, 4, (count,), device=dev), uniform(count, 0.4, 1.0, dev), chance(0.12)
    grid = (torch.arange(side, device=dev) + 0.5) / side * 2 - 1
    sign = torch.where(axis % 2 == 0, 1.0, -1.0)
    columns, rows = grid[None, None, :].expand(count, side, side), grid[None, :, None].expand(count, side, side)
    along = torch.where((axis < 2)[:, None, None], columns, rows) * sign[:, None, None]
    border = ((along > edge[:, None, None]) & on[:, None, None]).float()[:, None]
    of_points = torch.where((axis < 2)[:, None], points[..., 0], points[..., 1]) * sign[:, None]
    visible = visible * (1 - ((of_points > edge[:, None]) & on[:, None]).float())
    return (x * (1 - border)).clamp(0, 1), visible
