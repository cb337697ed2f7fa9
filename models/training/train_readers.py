"""The readers of a posed disc. "face": a disc? how large? "make": which format? Both: which side? recordable?

Both learn from the same polar views, the shards of the net "face".
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import partial
from pathlib import Path

import torch
from torch import Tensor, nn
from torch.nn import functional as F

from discscan.locate.reading import FACE, MAKE
from models.training.augment import coarsened, covered, jitter
from models.training.learn import Pool, fit, fit_temperature, write
from models.training.nets import ANGLES, FaceReader, MakeReader

SATURATION = (0.6, 1.5)
"""Dyes are told by their colour, formats by that of the rainbow: it is changed less than for the other nets."""
COLUMNS = ("disc", "large", "data", "recordable", "format")
"""What is asked of a view, -1 where it is not; the format is 0, 1 or 2."""
READERS: dict[str, tuple[type[nn.Module], tuple[str, ...]]] = {
    "face": (FaceReader, FACE),
    "make": (MakeReader, tuple(dict.fromkeys(MAKE))),  # a format is one question with three outputs
}


def answers(name: str, logits: Tensor, label: Tensor) -> dict[str, tuple[Tensor, Tensor]]:
    """By what the net is asked: logits (n, classes) and class (n,) of the views of which it is asked."""
    found, at = {}, 0
    for head in READERS[name][1]:
        truth = label[:, COLUMNS.index(head)]
        width = 3 if head == "format" else 1
        said, asked = logits[:, at : at + width], truth >= 0
        if width == 1:
            said = torch.cat([torch.zeros_like(said), said], dim=1)
        found[head] = said[asked], truth[asked].long()
        at += width
    return found


def loss_of(name: str, logits: Tensor, label: Tensor) -> Tensor:
    """The sum of the cross entropies of what is asked."""
    parts = [F.cross_entropy(said, truth) for said, truth in answers(name, logits, label).values() if len(truth)]
    return torch.stack(parts).sum()


def train(
    name: str, shards: Path, out: Path, *, device: str, seconds: float, batch: int = 512, peak: float = 3e-3
) -> None:
    """Train, score and write one of `READERS`."""
    pool = Pool(shards, "face", device)
    net, label = READERS[name][0](), pool.arrays["label"]

    def step(net: nn.Module) -> tuple[Tensor, dict[str, float]]:
        pick = pool.some(batch)
        steps, mirrored = int(torch.randint(0, ANGLES, (1,))), bool(torch.rand(()) < 0.5)
        image, eye = turned(*shown(pool, pick), steps=steps, mirrored=mirrored)
        image = covered(coarsened(jitter(image, saturation=SATURATION)))
        eye = eye * torch.empty_like(eye[:, :1]).uniform_(0.85, 1.15) + 0.02 * torch.randn_like(eye)
        return loss_of(name, net(*_inputs(name, image, eye)).float(), label[pick]), {}

    net = fit(net, step, seconds=seconds, peak=peak, checkpoint=out / f"{name}.ckpt", device=device)
    held = answers(name, *_held_out(name, net, pool))
    example = {"image": torch.zeros(1, 3, ANGLES, 96), "eye": torch.zeros(1, 2)}
    write(
        net.cpu(),
        dict(zip(example, _inputs(name, *example.values()), strict=False)),
        out,
        name,
        {head: float((said.argmax(1) == truth).float().mean()) for head, (said, truth) in held.items()}
        | {"views": float(len(pool.held_out()))},
        rows=len(label),
        extra={
            "preprocessing": {"colour": "bgr 0..1", "angles": ANGLES, "radii": 96, "reach": 1.03},
            "temperature": {head: fit_temperature(*both) for head, both in held.items()},
        },
    )


train_face = partial(train, "face")
train_make = partial(train, "make")


def _inputs(name: str, image: Tensor, eye: Tensor) -> tuple[Tensor, ...]:
    return (image, eye) if name == "make" else (image,)


def shown(pool: Pool, pick: Tensor) -> tuple[Tensor, Tensor]:
    """The image and the eye of some rows, as they are."""
    return pool.arrays["view"][pick].permute(0, 3, 1, 2).contiguous().float() / 255.0, pool.arrays["eye"][pick]


def turned(image: Tensor, eye: Tensor, *, steps: int, mirrored: bool) -> tuple[Tensor, Tensor]:
    """What the nets would be given of discs turned about their centres by so many rows, and mirrored."""
    turn = steps * 2 * math.pi / image.shape[2]
    c, s = math.cos(turn), math.sin(turn)
    image, eye = torch.roll(image, steps, 2), eye @ eye.new_tensor([[c, s], [-s, c]])
    if mirrored:  # row 0 stays where it is
        image, eye = torch.roll(image.flip(2), 1, 2), eye * eye.new_tensor([1.0, -1.0])
    return image, eye


@torch.no_grad()
def _held_out(name: str, net: Callable[..., Tensor], pool: Pool) -> tuple[Tensor, Tensor]:
    """What the net says of the views held out, and the truth (n, 5)."""
    seen = pool.held_out()
    said = torch.cat([net(*_inputs(name, *shown(pool, part))).float() for part in seen.split(512)])
    return said, pool.arrays["label"][seen]
