"""By what the face net knows what it says: its answers on views of which a part is taken away.

    python -m models.training.known_by --net models/face.onnx --shards FOLDER [FOLDER ...]

Where a net does well on our own photographs and badly on those of other code, it may know ours by something that is
true of them alone. What falls much without a part on ours, and does not fall or even rises on others, is such a thing.
All views of the shards are asked, so they are to be ones that the net was not trained on.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from math import isnan
from pathlib import Path

import torch
from torch import Tensor

from discscan.locate.reading import RADII
from models.training.eight_bits import running
from models.training.learn import Pool
from models.training.train_face import QUESTIONS, held_out, shares_right


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--net", type=Path, default=Path("models/face.onnx"))
    parser.add_argument("--shards", type=Path, nargs="+", required=True)
    given = parser.parse_args()
    net = running(given.net)
    for folder in given.shards:
        pool = Pool(folder, "face", "cpu")
        pool.held[:] = True
        print(f"{folder}: {pool.taken} views")
        for name, without in PARTS.items():
            right = shares_right(*held_out(_asked(net, without), pool))
            told = [f"{question} {right[question]:.3f}" for question in QUESTIONS if not isnan(right[question])]
            print(f"  {name:22}", "  ".join(told))


def _asked(net: Callable[..., Tensor], without: Callable[[Tensor], Tensor]) -> Callable[..., Tensor]:
    return lambda image, eye: net(without(image), eye)


def _without_ring(inner: float, outer: float) -> Callable[[Tensor], Tensor]:
    """Views (n, 3, angles, radii) with their own mean colour between two radii, in the disc's."""
    radii = torch.as_tensor(RADII)
    ring = (radii > inner) & (radii < outer)

    def without(view: Tensor) -> Tensor:
        plain = view.clone()
        plain[..., ring] = view[..., ring].mean((2, 3), keepdim=True)
        return plain

    return without


PARTS: dict[str, Callable[[Tensor], Tensor]] = {
    "as they are": lambda view: view,
    "without colours": lambda view: view.mean(1, keepdim=True).expand_as(view),
    "without the hub": _without_ring(0.0, 0.38),
    "without the inner ring": _without_ring(0.38, 0.5),
    "without the outer ring": _without_ring(0.85, 1.0),
    "without the data": _without_ring(0.38, 0.97),
    "without the table": _without_ring(1.0, 9.0),
}
"""What is taken away; radii are in the disc's, and a disc of 120 mm begins to mirror at 0.3 to 0.38 of its own."""


if __name__ == "__main__":
    main()
