"""The racket network: a small U-shaped net of inverted residuals. In: 160 × 160 RGB bytes as floats. Out: logits of where
butt, throat, tip and the middle of the strings are (40 × 40 cells each), and for each the chance that it is in the crop."""
import torch
import torch.nn as nn
import torch.nn.functional as F

SIDE = 160
CELLS = 40
POINTS = ("butt", "throat", "tip", "middle")


def conv(inputs, outputs, kernel=1, stride=1, groups=1, act=True):
    layers = [nn.Conv2d(inputs, outputs, kernel, stride, kernel // 2, groups=groups, bias=False), nn.BatchNorm2d(outputs)]
    return nn.Sequential(*layers, *([nn.ReLU(inplace=True)] if act else []))


class Residual(nn.Module):
    def __init__(self, inputs, outputs, wide, kernel=3, stride=1):
        super().__init__()
        self.adds = inputs == outputs and stride == 1
        self.body = nn.Sequential(
            conv(inputs, wide), conv(wide, wide, kernel, stride, wide), conv(wide, outputs, act=False)
        )

    def forward(self, x):
        return x + self.body(x) if self.adds else self.body(x)


class RacketNet(nn.Module):
    def __init__(self, width=1.0):
        super().__init__()
        c = lambda v: int(round(v * width / 8) * 8)
        a, b, d, e, f = c(16), c(24), c(48), c(96), c(128)
        self.stem = conv(3, a, 3, 2)
        self.e1 = nn.Sequential(Residual(a, b, c(64), 3, 2), Residual(b, b, c(96)))
        self.e2 = nn.Sequential(Residual(b, d, c(96), 5, 2), *[Residual(d, d, c(192), 5) for _ in range(2)])
        self.e3 = nn.Sequential(Residual(d, e, c(192), 5, 2), *[Residual(e, e, c(384), 5) for _ in range(3)])
        self.e4 = nn.Sequential(Residual(e, f, c(384), 5, 2), *[Residual(f, f, c(384), 5) for _ in range(2)])
        self.l4, self.d3 = conv(f, e, act=False), Residual(e, e, c(288), 5)
        self.l3, self.s2, self.d2 = conv(e, c(64), act=False), conv(d, c(64), act=False), Residual(c(64), c(64), c(160), 5)
        self.l2, self.s1, self.d1 = conv(c(64), c(40), act=False), conv(b, c(40), act=False), Residual(c(40), c(40), c(96), 5)
        self.heat = nn.Conv2d(c(40), len(POINTS), 1)
        self.seen = nn.Linear(f, len(POINTS))

    def forward(self, x):
        up = lambda t: F.interpolate(t, scale_factor=2.0, mode="nearest")
        x1 = self.e1(self.stem(x))
        x2 = self.e2(x1)
        x3 = self.e3(x2)
        x4 = self.e4(x3)
        y = self.d3(x3 + up(self.l4(x4)))
        y = self.d2(self.s2(x2) + up(self.l3(y)))
        y = self.d1(self.s1(x1) + up(self.l2(y)))
        return self.heat(y), self.seen(x4.mean((2, 3)))


class Exported(nn.Module):
    """The net as it is shipped: bytes in, logits and chances out."""

    def __init__(self, net):
        super().__init__()
        self.net = net

    def forward(self, x):
        heat, seen = self.net(x * (2 / 255.0) - 1)
        return heat, torch.sigmoid(seen)


def loss(heat, seen, points, visible):
    """Cross-entropy of each heat map against a small blob, distance of its mean, and the chance of being in the crop.

    points [B,4,2] in −1…1 of the crop, visible [B,4]. Also the mean distance of each point in crop sides, for the log.
    """
    grid = torch.arange(CELLS, device=heat.device).float()
    place = (points + 1) / 2 * CELLS - 0.5
    inside = (points.abs().amax(-1) < 1.02).float() * visible
    blob = lambda axis: torch.exp(-0.5 * ((grid[None, None] - place[..., axis : axis + 1]) / 1.1) ** 2)
    target = (blob(0)[:, :, None, :] * blob(1)[:, :, :, None]).flatten(2)
    target = target / (target.sum(-1, keepdim=True) + 1e-6)
    logs = F.log_softmax(heat.float().flatten(2), -1)
    entropy = -(target * logs).sum(-1)
    chances = logs.exp().view(*heat.shape)
    mean = torch.stack([(chances.sum(2) * grid).sum(-1), (chances.sum(3) * grid).sum(-1)], -1)
    distance = (mean - place).abs().sum(-1).clamp(max=12) / CELLS * 4
    count = inside.sum() + 1
    # The tip decides most of what is measured.
    weight = torch.tensor([0.8, 0.9, 1.4, 0.9], device=heat.device)
    total = ((entropy + distance) * inside * weight).sum() / count
    total = total + 0.5 * F.binary_cross_entropy_with_logits(seen.float(), visible)
    error = ((mean - place).norm(dim=-1) / CELLS * inside).sum(0) / (inside.sum(0) + 1e-6)
    return total, error.detach()
