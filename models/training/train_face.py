"""The face reader: is it a disc, how large, which side, pressed or recordable, which format?"""

from __future__ import annotations

from collections.abc import Callable
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


def face_loss(logits: Tensor, label: Tensor) -> Tensor:
    total = logits.new_zeros(())
    for k in range(4):
        asked = label[:, k] >= 0
        if asked.any():
            total = total + F.binary_cross_entropy_with_logits(logits[asked, k], label[asked, k].float())
    asked = label[:, 4] >= 0
    if asked.any():
        total = total + F.cross_entropy(logits[asked, 4:7], label[asked, 4].long())
    return total


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
        image = covered(jitter(image, saturation=SATURATION))
        loss = face_loss(net(image).float(), label[pick])
        return loss, {}

    net = fit(FaceReader(), step, seconds=seconds, peak=peak, checkpoint=out / "face.ckpt", device=device)
    logits, truth = _held_out(net, pool)
    temperature = {}
    for k, name in enumerate(HEADS):
        asked = truth[:, k] >= 0
        temperature[name] = fit_temperature(
            torch.stack([torch.zeros_like(logits[asked, k]), logits[asked, k]], 1), truth[asked, k].long()
        )
    asked = truth[:, 4] >= 0
    temperature["format"] = fit_temperature(logits[asked, 4:7], truth[asked, 4].long())
    write(
        net.cpu(),
        {"image": torch.zeros(1, 3, 192, 96)},
        out,
        "face",
        score_of(net, pool),
        rows=len(view),
        extra={
            "preprocessing": {"colour": "bgr 0..1", "angles": 192, "radii": 96, "reach": 1.03},
            "temperature": temperature,
        },
    )


def shown(pool: Pool, pick: Tensor) -> dict[str, Tensor]:
    """What the net is given of some rows, as they are."""
    return {"image": pool.arrays["view"][pick].permute(0, 3, 1, 2).contiguous().float() / 255.0}


@torch.no_grad()
def _held_out(net: Callable[[Tensor], Tensor], pool: Pool) -> tuple[Tensor, Tensor]:
    """What the net says (n, 7) of the views held out, and the truth (n, 5)."""
    seen = pool.held_out()
    said = torch.cat([net(*shown(pool, part).values()).float() for part in seen.split(512)])
    return said, pool.arrays["label"][seen]


def score_of(net: Callable[[Tensor], Tensor], pool: Pool) -> dict[str, float]:
    """Shares that are right, of the views held out of which each is asked."""
    logits, truth = _held_out(net, pool)
    score = {}
    for k, name in enumerate(HEADS):
        asked = truth[:, k] >= 0
        score[name] = share_right((logits[asked, k] > 0) == (truth[asked, k] > 0))
    asked = truth[:, 4] >= 0
    score["format"] = share_right(logits[asked, 4:7].argmax(1) == truth[asked, 4])
    return {**score, "views": float(len(truth))}
