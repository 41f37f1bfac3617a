"""The recogniser: convolutions over time, two samples to one step."""

import torch
from torch import nn
from window import EXCHANGED, POINTS

# Points in the picture, distance of the wrists, speeds of the wrists.
CHANNELS = 2 * POINTS + 3
# none, {forehand, backhand, overhead} x {right, left}; volley; two hands; contact: seconds ahead and logarithm of their spread.
OUTPUTS = 7 + 1 + 1 + 2
STROKES, VOLLEY, BOTH, AHEAD, SPREAD = slice(0, 7), 7, 8, 9, 10


class Recogniser(nn.Module):
    """Each answer sees 1 s to either side."""

    def __init__(self, first=64, width=112):
        super().__init__()
        self.first = nn.Conv1d(CHANNELS, first, 5, padding=2)
        self.halve = nn.Conv1d(first, width, 4, stride=2, padding=1)
        self.blocks = nn.ModuleList(
            nn.Sequential(
                nn.BatchNorm1d(width), nn.ReLU(), nn.Conv1d(width, width, 3, padding=gap, dilation=gap),
                nn.BatchNorm1d(width), nn.ReLU(), nn.Dropout(0.1), nn.Conv1d(width, width, 1),
            )
            for gap in (1, 2, 4, 8, 8, 4, 2, 1)
        )
        self.last = nn.Sequential(nn.BatchNorm1d(width), nn.ReLU(), nn.Dropout(0.1), nn.Conv1d(width, OUTPUTS, 1))

    def forward(self, x):
        x = self.halve(torch.relu(self.first(x)))
        for block in self.blocks:
            x = x + block(x)
        x = self.last(x)
        return torch.cat([x[:, :SPREAD], x[:, SPREAD:].clamp(-6.0, 0.0)], 1)


def inputs(points, size, rate):
    """The network's input [n, CHANNELS, time] from points in the picture [n, time, 17, 2], y down, and the body's apparent size
    [n, time]: see src/recogniser."""
    hips = points[:, :, [9, 10]].mean(2, keepdim=True)
    local = (points - hips) / size[..., None, None]
    wrists = local[:, :, 7:9]
    apart = (wrists[:, :, 0] - wrists[:, :, 1]).norm(dim=-1)[..., None]
    speed = torch.zeros_like(wrists[..., 0])
    speed[:, 1:-1] = (wrists[:, 2:] - wrists[:, :-2]).norm(dim=-1) * (rate / 2)
    return torch.cat([2 * local.flatten(2), 2 * apart, 0.2 * speed], -1).transpose(1, 2)


def mirrored_inputs(x):
    points = x[:, : 2 * POINTS].unflatten(1, (POINTS, 2))[:, EXCHANGED]
    points = torch.stack([-points[:, :, 0], points[:, :, 1]], 2).flatten(1, 2)
    return torch.cat([points, x[:, 34:35], x[:, 36:37], x[:, 35:36]], 1)


def mirrored_outputs(out):
    return out[:, [0, 4, 5, 6, 1, 2, 3, *range(7, OUTPUTS)]]
