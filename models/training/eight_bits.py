"""Put the coarse part of the trained damage net into whole numbers of eight bits: it takes three fifths of the time.

    python -m models.training.eight_bits --net models/training/float --shards FOLDER --out models

The net of --net is the one that `models.training.train` wrote. Pieces of the shards that were trained on tell how large
the numbers in the net become, those held out what it scores afterwards. Needs the package onnx besides PyTorch.
"""

from __future__ import annotations

import argparse
import hashlib
import logging
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import onnx
import onnxruntime
import torch
from numpy.typing import NDArray
from onnxruntime.quantization import CalibrationDataReader, QuantFormat, QuantType, quantize_static
from torch import Tensor

from models.training.learn import Pool
from models.training.train_damage import draw, held_out, precisions

FIRST, BEHIND = "/net/body.0/body.0.0/body.0.0.0/Conv", "/net/lift.0/Conv"
"""The first layer in eight bits, and the one behind the last: all where a cell is 0.4 mm or more. At 0.2 mm, where fine
lines and faint grease are a few levels, eight bits cost 0.005 of average precision on lines and 0.012 on smudges, and
spare little: layers of sixteen channels do not keep the processor busy."""
PIECES = 128


def coarse(graph: onnx.GraphProto) -> list[str]:
    """Names of the nodes from `FIRST` to the last before `BEHIND`, in the order in which they run."""
    by_name = {node.name: node for node in graph.node}
    after, before = set(by_name[FIRST].output), {by_name[BEHIND].input[0]}
    for node in graph.node:
        if after & set(node.input):
            after |= set(node.output)
    for node in reversed(graph.node):
        if before & set(node.output):
            before |= set(node.input)
    return [node.name for node in graph.node if set(node.output) & after & before]


class _Shown(CalibrationDataReader):  # type: ignore[misc]  # onnxruntime has no types
    """What the net is shown to learn how large its numbers become, one piece at a time.

    By where on the disc they lie, so that they are the same in whatever order the shards came.
    """

    def __init__(self, pool: Pool) -> None:
        rows = pool.rows[np.lexsort(pool.arrays["corner"][pool.rows].numpy().T)]
        rows = rows[torch.linspace(0, len(rows) - 1, min(PIECES, len(rows))).long()]
        self._pieces = (_inputs(*draw(pool, row[None], changed=False)[:2]) for row in rows)

    def get_next(self) -> dict[str, NDArray[np.float32]] | None:
        return next(self._pieces, None)


def _inputs(image: Tensor, place: Tensor) -> dict[str, NDArray[np.float32]]:
    return {"image": image.contiguous().numpy(), "place": place.numpy()}


def running(path: Path) -> Callable[[Tensor, Tensor], Tensor]:
    """An exported damage net, to be asked as if it were the trained one, but saying probabilities."""
    options = onnxruntime.SessionOptions()
    options.log_severity_level = 3
    session = onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])

    def said(image: Tensor, place: Tensor) -> Tensor:
        pieces = zip(image.split(1), place.split(1), strict=True)  # it was exported for one picture at a time
        return torch.cat([torch.from_numpy(session.run(None, _inputs(*piece))[0]) for piece in pieces])

    return said


def quantise(source: Path, pool: Pool, out: Path) -> None:
    """Writes the net `source` with its coarse part in eight bits to `out`."""
    net = onnx.load(source)
    quantize_static(
        net,
        out,
        _Shown(pool),
        quant_format=QuantFormat.QDQ,
        per_channel=True,
        reduce_range=True,  # weights of seven bits: processors without VNNI add pairs of products in sixteen
        activation_type=QuantType.QUInt8,
        weight_type=QuantType.QInt8,
        op_types_to_quantize=["Conv", "Relu", "Add", "Resize"],
        nodes_to_quantize=coarse(net.graph),
    )


def scored(before: Path, after: Path, pool: Pool) -> tuple[dict[str, float], tuple[float, float]]:
    """Average precision of the net `after` by kind, and how far what it says is from `before`: at most, in the mean."""
    were, are = (held_out(running(path), pool) for path in (before, after))
    each = torch.cat([(a - b).abs().flatten() for (b, _), (a, _) in zip(were, are, strict=True)])
    return precisions(are), (float(each.max()), float(each.mean()))


def manifest(of: str, *, sha256: str, of_sha256: str, apart: tuple[float, float], score: dict[str, float]) -> str:
    """The manifest `of` the float net, changed to what is true of the net in eight bits."""
    kept, old = of.split("[score]\n")
    lines = [
        f'sha256 = "{sha256}"',
        f"onnx_differs_by = {apart[0]:.2e}",
        f"# at most, from the net in floating point that it was made of; in the mean {apart[1]:.1e}",
        "",
        kept[kept.index("[preprocessing]") :] + "[score]",
        "# on the tenth of the rendered photographs that was never trained on, as it is here, in eight bits",
        *(f"{name} = {value:.5g}" for name, value in score.items()),
        "",
        "[eight_bits]",
        f'made_of = "{of_sha256}"',
        f'onnxruntime = "{onnxruntime.__version__}"',
        'command = "python -m models.training.eight_bits --net models/training/float --shards D --out models"',
        "",
        old[old.index("[recipe]") :],
    ]
    return "\n".join(lines)


def make(net: Path, shards: Path, out: Path) -> dict[str, Any]:
    """Writes damage.onnx and damage.toml to the folder `out`, from those in the folder `net`; returns the score."""
    source, said = net / "damage.onnx", (net / "damage.toml").read_text(encoding="utf-8")
    pool = Pool(shards, "damage", "cpu")
    out.mkdir(parents=True, exist_ok=True)
    made = out / "damage.onnx.part"
    quantise(source, pool, made)
    score, apart = scored(source, made, pool)
    hashes = {"sha256": _sha256(made), "of_sha256": _sha256(source)}
    (out / "damage.toml").write_text(manifest(said, apart=apart, score=score, **hashes), encoding="utf-8")
    shutil.move(made, out / "damage.onnx")
    return score


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--net", type=Path, required=True, help="folder with damage.onnx and damage.toml")
    parser.add_argument("--shards", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    if given.net.resolve() == given.out.resolve():
        raise SystemExit("--out must be another folder than --net: the net there would be lost.")
    logging.getLogger().setLevel(logging.ERROR)  # it wants the net simplified first: it is
    print(make(given.net, given.shards, given.out))


if __name__ == "__main__":
    main()
