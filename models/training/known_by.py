"""By what the face net knows what it says: its answers on views of which a part is taken away.

    python -m models.training.known_by --net models/face.onnx --shards FOLDER [FOLDER ...]

Where a net does well on our own photographs and badly on those of other code, it may know ours by something that is
true of them alone. What falls much without a part on ours, and does not fall or even rises on others, is such a thing.
All views of the shards are asked, so they are to be ones that the net was not trained on.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

import onnxruntime
import torch
from torch import Tensor

from discscan.locate.reading import RADII
from models.training.learn import Pool
from models.training.train_face import answers, shown


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--net", type=Path, default=Path("models/face.onnx"))
    parser.add_argument("--shards", type=Path, nargs="+", required=True)
    given = parser.parse_args()
    session = onnxruntime.InferenceSession(str(given.net), providers=["CPUExecutionProvider"])
    for folder in given.shards:
        pool = Pool(folder, "face", "cpu")
        print(f"{folder}: {pool.taken} views")
        rows = torch.arange(pool.taken)
        label = pool.arrays["label"][rows]
        for name, without in PARTS.items():
            said = torch.cat([_said(session, without, shown(pool, row[None])) for row in rows])
            right = {
                question: float((logits.argmax(1) == true).float().mean())
                for question, (logits, true) in answers(said, label).items()
                if len(true)
            }
            print(f"  {name:22}", "  ".join(f"{question} {share:.3f}" for question, share in right.items()))


def _said(
    session: onnxruntime.InferenceSession, without: Callable[[Tensor], Tensor], given: dict[str, Tensor]
) -> Tensor:
    inputs = {"image": without(given["image"]).contiguous().numpy(), "eye": given["eye"].float().numpy()}
    return torch.from_numpy(session.run(None, inputs)[0])


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
