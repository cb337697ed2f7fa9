"""The locator: where on a thumbnail are discs, with which outline?"""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import torch
from torch import Tensor, nn
from torch.nn import functional as F

from models.training.augment import covered, jitter, moved
from models.training.learn import Pool, Training, fit, unseen, write
from models.training.locator_targets import decode, locator_loss, root_of, support_values
from models.training.nets import Locator
from models.training.unfold import averaged, begun

BATCH, PEAK = 128, 2e-3


def train(how: Training) -> None:
    """Train, score and write the net "locator"."""
    pool = Pool(how.shards, "locator", how.device)
    canvas, target = pool.arrays["canvas"], pool.arrays["target"]

    def step(net: nn.Module) -> tuple[Tensor, dict[str, float]]:
        pick = pool.some(how.batch or BATCH)
        image, aim = moved(canvas[pick].permute(0, 3, 1, 2).contiguous().float() / 255.0, target[pick])
        output = net(covered(jitter(image)).contiguous(memory_format=torch.channels_last))
        return locator_loss(output.float(), aim)

    new = begun(Locator(), how, "locator", pool, shown)
    finish(fit(new, step, how, "locator", peak=PEAK), pool, how.out)


def average(shards: Path, exports: list[Path], out: Path) -> None:
    """Score and write the mean of exports, on shards that none of them was trained on."""
    pool = unseen(shards, "locator")
    finish(averaged(Locator, exports, pool, shown), pool, out)


def finish(net: Locator, pool: Pool, out: Path) -> None:
    """Score on the photographs held out, and write the net."""
    write(
        net,
        {"image": torch.zeros(1, 3, 256, 320)},
        out,
        "locator",
        score_of(net, pool),
        rows=pool.taken,
        extra={
            "preprocessing": {"side_px": 320, "colour": "bgr 0..1", "padding": 115},
        },
        dynamic={"image": {2: "h", 3: "w"}},
    )


def shown(pool: Pool, pick: Tensor) -> dict[str, Tensor]:
    """What the net is given of some rows, as they are."""
    return {"image": pool.arrays["canvas"][pick].permute(0, 3, 1, 2).contiguous().float() / 255.0}


@torch.no_grad()
def score_of(net: Callable[[Tensor], Tensor], pool: Pool) -> dict[str, float]:
    """Of the photographs held out recall and false peaks at heat 0.3, and how far outlines are off, in per cent."""
    found = asked = false = 0
    off: list[float] = []
    seen = pool.held_out()
    for part in seen.split(256):
        output = net(*shown(pool, part).values()).float()
        heat = torch.sigmoid(output[:, :1])
        peak = (heat == F.max_pool2d(heat, 3, 1, 1)) & (heat > 0.3)
        for n, aim in enumerate(pool.arrays["target"][part]):
            row, col = torch.nonzero(peak[n, 0], as_tuple=True)
            here = torch.stack([col + 0.5, row + 0.5], 1).float() * 8
            _, l11, l21, l22, rim = decode(output[n, :, row, col].T, here)
            said = support_values(rim, l11, l21, l22)
            taken = torch.zeros(len(row), dtype=torch.bool, device=row.device)
            for disc in aim[aim[:, 8] != 0]:
                root = root_of(disc[None, 4:7])
                true = support_values(disc[None, 2:4], *root)
                error = (said - true).abs().amax(1) / torch.sqrt(root[0] * root[2])
                close = error < 0.15
                taken |= error < 0.5
                if disc[8] > 0:
                    asked += 1
                    if close.any():
                        found += 1
                        off.append(float(error.min()))
            false += int((~taken).sum())
    return {
        "recall": found / max(asked, 1),
        "false_per_photo": false / max(len(seen), 1),
        "discs": asked,
        "outline_off_percent_median": 100 * float(np.median(off)) if off else math.nan,
    }
