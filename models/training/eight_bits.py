"""Put most layers of the trained nets into whole numbers of eight bits, in which they take a third of the time.

    python -m models.training.eight_bits locator rings face damage --net models/training/float --shards FOLDER --out OUT

The nets of --net are those that `models.training.train` wrote. Rows of the shards that are not held out tell how large
the numbers in a net become, those held out what it scores, before and after. Needs the package onnx besides PyTorch.
"""

from __future__ import annotations

import argparse
import hashlib
import logging
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import onnx
import onnxruntime
import torch
from numpy.typing import NDArray
from onnxruntime.quantization import CalibrationDataReader, QuantFormat, QuantType, quantize_static
from torch import Tensor

from models.training import train_damage, train_face, train_locator, train_rings
from models.training.learn import Pool

ROWS = 1000
"""Of the shards, shown to a net to learn how large its numbers become: with 384 photographs by a fourth code lost a
little, with 128 real ones, too."""


@dataclass(frozen=True)
class Part:
    """Which layers of a net are put into eight bits, and how the net is shown rows of its shards, and scored.

    Attributes:
        first: the first of them, of each branch.
        behind: the layers behind the last.
        at_once: pictures that the exported net takes.
    """

    first: tuple[str, ...]
    behind: tuple[str, ...]
    shown: Callable[[Pool, Tensor], dict[str, Tensor]]
    score_of: Callable[[Callable[..., Tensor], Pool], dict[str, float]]
    at_once: int = 1


READERS = ("plain.0", "plain.1", "told")
PARTS = {
    "locator": Part(("/down4/down4.1/first/Conv",), ("/Resize_1",), train_locator.shown, train_locator.score_of),
    "rings": Part(("/stem/stem.1/first/Conv",), ("/head/Conv",), train_rings.shown, train_rings.score_of, at_once=2),
    "face": Part(
        tuple(f"/net/{reader}/stem/stem.1/Slice" for reader in READERS),
        tuple(f"/net/{reader}/ReduceMax" for reader in READERS),
        train_face.shown,
        train_face.score_of,
    ),
    "damage": Part(
        ("/net/body.0/body.0.0/body.0.0.0/Conv",), ("/net/lift.0/Conv",), train_damage.shown, train_damage.score_of
    ),
}
"""All but the finest layers. Of the damage net those whose cells are 0.4 mm or more: at 0.2 mm, where fine lines and
faint grease are a few levels, eight bits cost 0.005 of average precision on lines and 0.012 on smudges, and spare
little: layers of sixteen channels do not keep the processor busy. With its last two layers in eight bits, too, the
locator's outlines would be off by 2.2 per cent in the median in place of 2.0."""


def between(graph: onnx.GraphProto, part: Part) -> list[str]:
    """Names of the nodes from `part.first` to the last before `part.behind`, in the order in which they run."""
    by_name = {node.name: node for node in graph.node}
    after, before = ({by_name[name].input[0] for name in names} for names in (part.first, part.behind))
    for node in graph.node:
        if after & set(node.input):
            after |= set(node.output)
    for node in reversed(graph.node):
        if before & set(node.output):
            before |= set(node.input)
    return [node.name for node in graph.node if after & set(node.input) and before & set(node.output)]


class _Shown(CalibrationDataReader):  # type: ignore[misc]  # onnxruntime has no types
    """What the net is shown to learn how large its numbers become, as many pictures at a time as it takes.

    Picked by what is in the rows, so that they are the same in whatever order the shards came.
    """

    def __init__(self, pool: Pool, part: Part) -> None:
        def digest(row: int) -> str:
            return hashlib.sha256(b"".join(array[row].numpy().tobytes() for array in pool.arrays.values())).hexdigest()

        rows = sorted(pool.rows.tolist(), key=digest)[:ROWS]
        whole = torch.tensor(rows[: len(rows) // part.at_once * part.at_once])
        self._inputs = (_arrays(part.shown(pool, some)) for some in whole.split(part.at_once))

    def get_next(self) -> dict[str, NDArray[np.float32]] | None:
        return next(self._inputs, None)


def _arrays(inputs: dict[str, Tensor]) -> dict[str, NDArray[np.float32]]:
    return {name: np.ascontiguousarray(tensor.numpy()) for name, tensor in inputs.items()}


def running(path: Path, at_once: int = 1) -> Callable[..., Tensor]:
    """An exported net, to be asked as if it were the trained one; a damage net says probabilities."""
    options = onnxruntime.SessionOptions()
    options.log_severity_level = 3
    session = onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])
    names = [given.name for given in session.get_inputs()]

    def said(*inputs: Tensor) -> Tensor:
        count = len(inputs[0])
        whole = [torch.cat([given, given[: -count % at_once]]) for given in inputs]  # filled up to full runs
        runs = zip(*(given.split(at_once) for given in whole), strict=True)
        each = [session.run(None, _arrays(dict(zip(names, some, strict=True))))[0] for some in runs]
        return torch.from_numpy(np.concatenate(each)[:count])

    return said


def _doubled_by_rows(graph: onnx.GraphProto) -> None:
    """Puts copies of whole cells and rows in the place of each doubling in eight bits: a tenth of its time.

    ONNX Runtime keeps eight bits with the channels last and then copies byte by byte. The transposing here meets its
    own and falls away.
    """
    quantised = {node.output[0]: node for node in graph.node if node.op_type == "DequantizeLinear"}
    doublings = [node for node in graph.node if node.op_type == "Resize" and node.input[0] in quantised]
    if not doublings:
        return
    wide = onnx.helper.make_tensor("doubled", onnx.TensorProto.INT64, [4], [1, 2, 2, 1])
    rows = onnx.helper.make_tensor("in_rows", onnx.TensorProto.INT64, [3], [0, 0, -1])
    graph.initializer.extend([wide, rows])
    for resize in doublings:
        (again,) = (node for node in graph.node if resize.output[0] in node.input)
        before, after, at = quantised[resize.input[0]].input, again.output[0], list(graph.node).index(resize)
        if list(before[1:]) != list(again.input[1:]):
            continue  # what comes next is in floating point
        steps: list[tuple[str, list[str], dict[str, Any]]] = [
            ("Transpose", [before[0]], {"perm": [0, 2, 3, 1]}),
            ("Concat", ["0", "0"], {"axis": 3}),
            ("Reshape", ["1", rows.name], {}),
            ("Concat", ["2", "2"], {"axis": 2}),
            ("Shape", ["0"], {}),
            ("Mul", ["4", wide.name], {}),
            ("Reshape", ["3", "5"], {}),
            ("Transpose", ["6"], {"perm": [0, 3, 1, 2]}),
        ]
        graph.node.remove(resize)
        graph.node.remove(again)
        for k, (kind, given, how) in enumerate(steps):
            inputs = [f"{resize.name}/{name}" if name.isdigit() else name for name in given]
            output = after if k == len(steps) - 1 else f"{resize.name}/{k}"
            graph.node.insert(at + k, onnx.helper.make_node(kind, inputs, [output], f"{resize.name}/{kind}_{k}", **how))


def quantise(source: Path, pool: Pool, part: Part, out: Path) -> None:
    """Writes the net `source` with its `part` in eight bits to `out`."""
    net = onnx.load(source)
    quantize_static(
        net,
        out,
        _Shown(pool, part),
        quant_format=QuantFormat.QDQ,
        per_channel=True,
        reduce_range=True,  # weights of seven bits: processors without VNNI add pairs of products in sixteen
        activation_type=QuantType.QUInt8,
        weight_type=QuantType.QInt8,
        op_types_to_quantize=["Conv", "Relu", "Add", "Resize", "Slice", "Concat"],
        nodes_to_quantize=between(net.graph, part),
    )
    made = onnx.load(out)
    _doubled_by_rows(made.graph)
    onnx.save(made, out)


def _apart(before: Path, after: Path, pool: Pool, part: Part) -> tuple[float, float]:
    """How far what the net `after` says is from what `before` says: at most, and in the mean."""
    inputs = part.shown(pool, pool.held_out()[:ROWS]).values()
    were, are = (running(path, part.at_once)(*inputs) for path in (before, after))
    return float((were - are).abs().max()), float((were - are).abs().mean())


def _manifest(
    name: str,
    of: str,
    *,
    sha256: str,
    of_sha256: str,
    apart: tuple[float, float],
    before: dict[str, float],
    score: dict[str, float],
) -> str:
    """The manifest `of` the float net, changed to what is true of the net in eight bits."""
    kept, old = of.split("[score]\n")
    lines = [
        f'sha256 = "{sha256}"',
        f"onnx_differs_by = {apart[0]:.2e}",
        f"# at most, from the net in floating point that it was made of; in the mean {apart[1]:.1e}",
        "",
        kept[kept.index("[preprocessing]") :] + "[score]",
        "# on rendered photographs that were never trained on, as it is here, in eight bits",
        *(f"{key} = {value:.5g}" for key, value in score.items()),
        "",
        "[eight_bits]",
        f'made_of = "{of_sha256}"',
        f"score_before = {{ {', '.join(f'{key} = {value:.5g}' for key, value in before.items())} }}",
        "# of the net in floating point, on the same photographs",
        f'onnxruntime = "{onnxruntime.__version__}"',
        f'command = "python -m models.training.eight_bits {name} --net models/training/float --shards D --out models"',
        "",
        old[old.index("[recipe]") :],
    ]
    return "\n".join(lines)


def make(name: str, net: Path, shards: Path, out: Path) -> dict[str, Any]:
    """Writes NAME.onnx and NAME.toml to the folder `out`, from those in the folder `net`; returns both scores."""
    part, source = PARTS[name], net / f"{name}.onnx"
    pool = Pool(shards, name, "cpu")
    out.mkdir(parents=True, exist_ok=True)
    made = out / f"{name}.onnx.part"
    quantise(source, pool, part, made)
    before, score = (part.score_of(running(path, part.at_once), pool) for path in (source, made))
    said = _manifest(
        name,
        (net / f"{name}.toml").read_text(encoding="utf-8"),
        sha256=_sha256(made),
        of_sha256=_sha256(source),
        apart=_apart(source, made, pool, part),
        before=before,
        score=score,
    )
    (out / f"{name}.toml").write_text(said, encoding="utf-8")
    shutil.move(made, out / f"{name}.onnx")
    return {"before": before, "score": score}


def _sha256(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("nets", nargs="+", choices=list(PARTS))
    parser.add_argument("--net", type=Path, required=True, help="folder with their .onnx and .toml in floating point")
    parser.add_argument("--shards", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    given = parser.parse_args()
    if given.net.resolve() == given.out.resolve():
        raise SystemExit("--out must be another folder than --net: the nets there would be lost.")
    logging.getLogger().setLevel(logging.ERROR)  # it wants the net simplified first: it is
    for name in given.nets:
        print(name, make(name, given.net, given.shards, given.out))


if __name__ == "__main__":
    main()
