"""The rings net: where in an unrolled band is the edge of rim or hole, and where is it not seen?"""

from __future__ import annotations

from collections.abc import Callable

import torch
from torch import Tensor, nn
from torch.nn import functional as F

from models.training.augment import covered, jitter
from models.training.learn import Pool, Training, fit, write
from models.training.nets import RING_CELLS, RingReader
from models.training.unfold import begun

BATCH, PEAK = 256, 2e-3
SPREAD_CELLS = 0.7
"""Standard deviation of the answer that is asked for: half a cell off is no mistake."""


def wanted(place: Tensor) -> Tensor:
    """Shares of cells (n, directions, RING_CELLS + 1) for edges at `place` in cells, below -0.5 not seen."""
    cells = torch.arange(RING_CELLS, device=place.device)
    share = torch.exp(-0.5 * ((cells - place[..., None]) / SPREAD_CELLS) ** 2)
    share = share / share.sum(-1, keepdim=True).clamp(min=1e-6)
    hidden = (place < -0.5).float()[..., None]
    return torch.cat([share * (1 - hidden), hidden], dim=-1)


def train(how: Training) -> None:
    """Train, score and write the net "rings"."""
    pool = Pool(how.shards, "rings", how.device)

    def step(net: nn.Module) -> tuple[Tensor, dict[str, float]]:
        pick = pool.some(how.batch or BATCH)
        image, aim = shown(pool, pick)["image"], pool.arrays["place"][pick]
        image = torch.cat([covered(jitter(image[:, :3])), image[:, 3:]], dim=1)
        turn = 2 * int(torch.randint(0, aim.shape[1], (1,)))
        image, aim = torch.roll(image, turn, 2), torch.roll(aim, turn // 2, 1)
        if torch.rand(()) < 0.5:
            image, aim = image.flip(2), aim.flip(1)
        score = F.log_softmax(net(image).float(), dim=-1)
        return -(wanted(aim) * score).sum(-1).mean(), {}

    new = begun(RingReader(), how, "rings", pool, shown)
    net = fit(new, step, how, "rings", peak=PEAK)
    write(
        net,
        {"image": torch.zeros(2, 4, 192, 64)},
        how.out,
        "rings",
        score_of(net, pool),
        rows=pool.taken,
        extra={
            "preprocessing": {"colour": "bgr 0..1, then 0 rim or 1 hole", "angles": 192, "samples": 64},
        },
    )


def shown(pool: Pool, pick: Tensor) -> dict[str, Tensor]:
    """What the net is given of some rows, as they are."""
    colour = pool.arrays["band"][pick].permute(0, 3, 1, 2).contiguous().float() / 255.0
    which = pool.arrays["which"][pick].float()[:, None, None, None].expand(-1, 1, *colour.shape[2:])
    return {"image": torch.cat([colour, which], dim=1)}


@torch.no_grad()
def score_of(net: Callable[[Tensor], Tensor], pool: Pool) -> dict[str, float]:
    """Of the bands held out, how often it is right that an edge shows, and how often such an edge is that near."""
    seen = pool.held_out()
    share = torch.cat([net(*shown(pool, part).values()).float() for part in seen.split(512)]).softmax(-1)
    place = pool.arrays["place"][seen]
    shows, claims = place > -0.5, 1 - share[..., -1] > 0.5
    off = (share[..., :RING_CELLS].argmax(-1) - place).abs()[shows & claims]
    return {
        "seen_right": float((claims == shows).float().mean()),
        "within_one_cell": float((off < 1).float().mean()),
        "within_two_cells": float((off < 2).float().mean()),
        "bands": float(len(seen)),
    }
