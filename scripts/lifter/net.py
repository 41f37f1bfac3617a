"""The depth network."""

import torch
from torch import nn

CHANNELS = 14 * 3 + 3 + 8
WIDTH = 256


class Lifter(nn.Module):
    """Convolutions over time with widening gaps: each output sees 1.5 s to either side."""

    def __init__(self, width=WIDTH):
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


def loss_of(out, depth):
    mean, log_sd = out[:, :14], out[:, 14:]
    error = mean - depth
    # Likelihood of a normal error; its weight by the deviation keeps doubtful joints from being given up (Seitzer et al. 2022).
    likelihood = 0.5 * (error / log_sd.exp()).square() + log_sd
    return (likelihood * log_sd.exp().detach()).mean() + 0.5 * error.abs().mean()
