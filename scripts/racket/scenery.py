"""Things that a racket is mistaken for: rails, fences, seats, court lines, lettering, rings, limbs, clothes. All are drawn over
pictures [B,3,S,S]; coordinates are −1…1 of the crop."""
import math

import torch
import torch.nn.functional as F

from degrade import log_uniform, uniform
from net import SIDE


class Scenery:
    def __init__(self, sources):
        self.sources, self.uv, self.device = sources, sources.uv, sources.device

    def chance(self, count, p):
        return (torch.rand(count, device=self.device) < p).float()

    def place(self, count, reach=1.1):
        return uniform((count, 2), -reach, reach, self.device)

    def colour(self, count):
        dev = self.device
        colour = torch.rand(count, 3, device=dev)
        grey, kind = torch.rand(count, 1, device=dev), torch.rand(count, 1, device=dev)
        plain = torch.where(kind < 0.55, 0.72 + 0.28 * grey.expand(count, 3), colour)
        colour = torch.where(kind < 0.3, grey.expand(count, 3) * 0.25, plain)
        return (colour + torch.randn(count, 3, device=dev) * 0.04).clamp(0, 1)

    def skin(self, count):
        dev = self.device
        light = uniform(count, 0.25, 0.95, dev)
        return torch.stack([light, light * uniform(count, 0.6, 0.85, dev), light * uniform(count, 0.4, 0.75, dev)], -1)

    def capsule(self, a, b, ra, rb):
        """Cover [B,S,S] and distance from its axis (0 … 1 at the rim) of round-ended bars from a to b."""
        along = (b - a)[:, None]
        off = self.uv[None] - a[:, None]
        part = ((off * along).sum(-1) / ((along * along).sum(-1) + 1e-8)).clamp(0, 1)
        distance = (off - along * part[..., None]).norm(dim=-1)
        radius = ra[:, None] * (1 - part) + rb[:, None] * part
        cover = ((radius - distance) * SIDE / 2 + 0.5).clamp(0, 1)
        return cover.view(-1, SIDE, SIDE), (distance / radius.clamp_min(1e-4)).clamp(0, 1).view(-1, SIDE, SIDE)

    @staticmethod
    def over(x, cover, colour):
        if colour.dim() == 2:
            colour = colour[:, :, None, None]
        return x * (1 - cover[:, None]) + colour * cover[:, None]

    def shade(self, rim):
        """Round things are darker toward one rim."""
        return (1.1 - 0.35 * torch.rand(len(rim), 1, 1, device=self.device) * rim)[:, None]

    def region(self, count):
        """A soft half-plane or a blob, so that a pattern need not fill the crop."""
        angle = uniform(count, 0, 2 * math.pi, self.device)
        normal = torch.stack([torch.cos(angle), torch.sin(angle)], -1)
        plane = (self.uv[None] * normal[:, None]).sum(-1) - uniform(count, -0.6, 0.6, self.device)[:, None]
        return (plane * SIDE / 4 + 0.5).clamp(0, 1).view(-1, SIDE, SIDE)

    def stripes(self, count, p):
        """Rails, fences, nets: parallel lines, half of the time crossed by others."""
        dev = self.device
        angle = torch.where(self.chance(count, 0.5) > 0, torch.randn(count, device=dev) * 0.1, uniform(count, 0, math.pi, dev))
        cross = angle + torch.where(self.chance(count, 0.5) > 0, math.pi / 2, uniform(count, 0.7, 2.4, dev))
        period, wide = log_uniform(count, 0.03, 0.5, dev), uniform(count, 0.06, 0.35, dev)

        def lines(angle, phase):
            along = self.uv[None, :, 0] * torch.sin(angle)[:, None] + self.uv[None, :, 1] * torch.cos(angle)[:, None]
            off = ((along / period[:, None] + phase[:, None]) % 1 - 0.5).abs()
            return ((wide[:, None] / 2 - off) * period[:, None] * SIDE / 2 + 0.5).clamp(0, 1)

        cover = lines(angle, torch.rand(count, device=dev))
        crossed = torch.maximum(cover, lines(cross, torch.rand(count, device=dev)))
        cover = torch.where(self.chance(count, 0.5)[:, None] > 0, crossed, cover).view(-1, SIDE, SIDE)
        some = torch.where(self.chance(count, 0.3)[:, None, None] > 0, torch.ones_like(cover), self.region(count))
        return cover * some * (self.chance(count, p) * uniform(count, 0.2, 1, dev))[:, None, None]

    def seats(self, count, p):
        """Rows of rounded boxes."""
        dev = self.device
        cell = log_uniform((count, 2), 0.12, 0.6, dev)
        place = (self.uv[None] / cell[:, None] + torch.rand(count, 1, 2, device=dev)) % 1 - 0.5
        power = uniform(count, 2, 6, dev)[:, None]
        inside = (place[..., 0].abs() / 0.42) ** power + (place[..., 1].abs() / 0.38) ** power
        cover = ((1 - inside) * 4 + 0.5).clamp(0, 1).view(-1, SIDE, SIDE)
        return cover * self.region(count) * self.chance(count, p)[:, None, None]

    def ring(self, count, p):
        """Hoops without a handle, and discs."""
        dev = self.device
        middle, axes = self.place(count), log_uniform((count, 2), 0.06, 0.4, dev)
        angle = uniform(count, 0, math.pi, dev)
        off = self.uv[None] - middle[:, None]
        c, s = torch.cos(angle)[:, None], torch.sin(angle)[:, None]
        x, y = off[..., 0] * c + off[..., 1] * s, off[..., 1] * c - off[..., 0] * s
        distance = (((x / axes[:, :1]) ** 2 + (y / axes[:, 1:]) ** 2 + 1e-9).sqrt() - 1) * axes.amin(1, keepdim=True)
        wide = uniform(count, 0.006, 0.03, dev)[:, None]
        shape = torch.where(self.chance(count, 0.3)[:, None] > 0, -distance, wide - distance.abs())
        return ((shape * SIDE / 2 + 0.5).clamp(0, 1) * self.chance(count, p)[:, None]).view(-1, SIDE, SIDE)

    def lettering(self, count, p):
        dev, words = self.device, self.sources.words
        masks = words[torch.randint(0, len(words), (count,), device=dev)].float()[:, None] / 255
        size, angle = log_uniform(count, 0.15, 1.2, dev), torch.randn(count, device=dev) * 0.3
        off = self.uv[None] - self.place(count)[:, None]
        c, s = torch.cos(angle)[:, None], torch.sin(angle)[:, None]
        grid = torch.stack([off[..., 0] * c + off[..., 1] * s, 2 * (off[..., 1] * c - off[..., 0] * s)], -1) / size[:, None, None]
        cover = F.grid_sample(masks, grid.view(count, SIDE, SIDE, 2), padding_mode="zeros", align_corners=False)[:, 0]
        return cover * self.chance(count, p)[:, None, None]

    def cloth(self, x):
        """Plain, striped or patterned stuff for clothes: other pictures of the batch, tinted."""
        count = len(x)
        flat = self.colour(count)[:, :, None, None].expand_as(x)
        pattern = x[torch.randperm(count, device=self.device)] * 0.4 + flat * 0.7
        folds = F.interpolate(torch.randn(count, 1, 7, 7, device=self.device), size=(SIDE, SIDE), mode="bicubic")
        light = 1 + folds * uniform(count, 0, 0.12, self.device)[:, None, None, None]
        return (torch.where((self.chance(count, 0.6) > 0)[:, None, None, None], flat, pattern) * light).clamp(0, 1)

    def body(self, x, p):
        """A trunk or a thigh in clothes, and an arm or a leg of two bars."""
        count, dev = len(x), self.device
        a, way = self.place(count), torch.randn(count, 2, device=dev) * 0.5
        radius = uniform(count, 0.15, 0.4, dev)
        cover, rim = self.capsule(a, a + way, radius, radius * uniform(count, 0.6, 1.1, dev))
        x = self.over(x, cover * self.chance(count, p)[:, None, None], self.cloth(x) * self.shade(rim))
        joint, colour = self.place(count), self.skin(count)[:, :, None, None]
        on, first = self.chance(count, p)[:, None, None], uniform(count, 0.05, 0.11, dev)
        for end, thin in ((joint + torch.randn(count, 2, device=dev) * 0.5, 1.3), (joint + torch.randn(count, 2, device=dev) * 0.5, 0.7)):
            cover, rim = self.capsule(joint, end, first, first * thin)
            x = self.over(x, cover * on, colour * self.shade(rim))
        return x

    def clutter(self, count):
        """Blotches of many sizes."""
        dev = self.device
        x = torch.rand(count, 3, 1, 1, device=dev).expand(count, 3, SIDE, SIDE).clone() * 0.9
        for cells in (2, 4, 8, 20, 60):
            strength = (0.22 if cells < 20 else 0.10) * torch.rand(count, 1, 1, 1, device=dev)
            noise = torch.randn(count, 3, cells, cells, device=dev) * strength
            x = x + F.interpolate(noise, size=(SIDE, SIDE), mode="nearest" if cells == 8 else "bilinear")
        return x.clamp(0, 1)

    def dress(self, x, arm):
        """Adds a few of these to a background; fewer where a rendered arm is part of it."""
        count, dev = len(x), self.device
        plain = (torch.rand(count, device=dev) < 0.12) & ~arm
        x = torch.where(plain[:, None, None, None], self.clutter(count), x)
        x = self.over(x, self.region(count) * self.chance(count, 0.12)[:, None, None] * 0.85, self.colour(count))
        x = self.over(x, self.seats(count, 0.10), self.colour(count))
        x = self.over(x, self.stripes(count, 0.22), self.colour(count))
        for _ in range(3):
            wide = log_uniform(count, 0.006, 0.06, dev)
            cover, _ = self.capsule(self.place(count, 1.4), self.place(count, 1.4), wide, wide)
            x = self.over(x, cover * (self.chance(count, 0.2) * uniform(count, 0.4, 1, dev))[:, None, None], self.colour(count))
        x = self.over(x, self.lettering(count, 0.14), self.colour(count))
        x = self.over(x, self.ring(count, 0.14), self.colour(count))
        return self.body(x, 0.25)
