"""The face reader: is it a disc, how large, which side, pressed or recordable, which format?"""

from __future__ import annotations

import math
from pathlib import Path

import torch
from torch import Tensor, nn
from torch.nn import functional as F

from models.training.augment import covered, jitter
from models.training.learn import Pool, fit, fit_temperature, write
from models.training.nets import FaceReader

SATURATION = (0.6, 1.5)
"""Dyes are told by their colour, formats by that of the rainbow: it is changed less than for the other nets."""
HEADS = ("disc", "large", "data", "recordable")
UNTOLD = 3
"""In place of a format: the answer should be even odds."""
STRANGE = 0.12
"""Share of the views whose colours no track and no dye makes: there is nothing to be told from them but odds."""


def face_loss(logits: Tensor, label: Tensor) -> Tensor:
    total = logits.new_zeros(())
    for k in range(4):
        asked = label[:, k] >= 0
        if asked.any():
            total = total + F.binary_cross_entropy_with_logits(logits[asked, k], label[asked, k].float())
    asked = label[:, 4] >= 0
    if asked.any():
        total = total + F.cross_entropy(logits[asked, 4:7], formats(label[asked, 4]))
    return total


def formats(label: Tensor) -> Tensor:
    """Shares (n, 3) of the formats that an answer to each label (n,) should give: UNTOLD is even odds."""
    told = F.one_hot(label.long().clamp(max=2), 3).float()
    return torch.where((label == UNTOLD)[:, None], told.new_full((), 1 / 3), told)


def strange(image: Tensor, label: Tensor) -> tuple[Tensor, Tensor]:
    """Some views (n, 3, h, w) with their hues turned by far: nothing is asked of the dye then, of the format even odds.

    A net that has seen nothing of the kind is as sure of rainbows that no track makes as of others (Hendrycks,
    Mazeika and Dietterich, Deep anomaly detection with outlier exposure, 2019).
    """
    some = torch.rand(len(image), device=image.device) < STRANGE
    angle = torch.empty(len(image), device=image.device).uniform_(math.pi / 4, 7 * math.pi / 4)
    axis = torch.arange(3, device=image.device)
    # a turn about the axis of greys: each channel is a mean of all three, with these weights
    away = (axis[:, None] - axis) * (2 * math.pi / 3)
    weights = (1 + 2 * torch.cos(angle[:, None, None] + away)) / 3
    turned = torch.einsum("nij,njhw->nihw", weights, image).clamp(0.0, 1.0)
    label = label.clone()
    label[some & (label[:, 3] >= 0), 3] = -1
    label[some & (label[:, 4] >= 0), 4] = UNTOLD
    return torch.where(some[:, None, None, None], turned, image), label


def share_right(right: Tensor) -> float:
    return float(right.float().mean()) if len(right) else 0.0


def train(shards: Path, out: Path, *, device: str, seconds: float, batch: int = 256, peak: float = 2e-3) -> None:
    """Train, score and write the net "face"."""
    pool = Pool(shards, "face", device)
    view, label = pool.arrays["view"], pool.arrays["label"]

    def step(net: nn.Module) -> tuple[Tensor, dict[str, float]]:
        pick = pool.some(batch)
        image = view[pick].permute(0, 3, 1, 2).contiguous().float() / 255.0
        image = torch.roll(image, int(torch.randint(0, image.shape[2], (1,))), 2)
        if torch.rand(()) < 0.5:
            image = image.flip(2)
        image, asked = strange(image, label[pick])
        image = covered(jitter(image, saturation=SATURATION, balance=0.2))
        return face_loss(net(image).float(), asked), {}

    net = fit(FaceReader(), step, seconds=seconds, peak=peak, checkpoint=out / "face.ckpt", device=device)
    seen = pool.held_out()
    logits = torch.cat(
        [
            net(view[seen[k : k + 512]].permute(0, 3, 1, 2).contiguous().float() / 255.0).detach()
            for k in range(0, len(seen), 512)
        ]
    )
    truth = label[seen]
    temperature, score = {}, {}
    for k, name in enumerate(HEADS):
        asked = truth[:, k] >= 0
        temperature[name] = fit_temperature(
            torch.stack([torch.zeros_like(logits[asked, k]), logits[asked, k]], 1), truth[asked, k].long()
        )
        score[name] = share_right((logits[asked, k] > 0) == (truth[asked, k] > 0))
    asked = truth[:, 4] >= 0
    temperature["format"] = fit_temperature(logits[asked, 4:7], truth[asked, 4].long())
    score["format"] = share_right(logits[asked, 4:7].argmax(1) == truth[asked, 4])
    score["views"] = float(len(truth))
    write(
        net.cpu(),
        {"image": torch.zeros(1, 3, 192, 96)},
        out,
        "face",
        score,
        rows=len(view),
        extra={
            "preprocessing": {"colour": "bgr 0..1", "angles": 192, "radii": 96, "reach": 1.03},
            "thresholds": {"disc": 0.5},
            "temperature": temperature,
        },
    )
