"""The damage net in eight bits: the same answers to a hundredth, in about half the time.

    python -m models.training.quantize --shards FOLDER --net models/damage

Ranges of activations come from pieces of the shards (static quantisation, weights by channel). The manifest is given
the new sha256 and with how far the answers moved.
"""

from __future__ import annotations

import argparse
import hashlib
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import onnxruntime
from numpy.typing import NDArray
from onnxruntime.quantization import CalibrationDataReader, QuantFormat, QuantType, quantize_static
from onnxruntime.quantization.shape_inference import quant_pre_process

from models.training.learn import load
from models.training.train_damage import Pieces

PIECES = 96


class _Reader(CalibrationDataReader):
    def __init__(self, inputs: list[dict[str, NDArray[np.float32]]]) -> None:
        self.rows: Iterator[dict[str, NDArray[np.float32]]] = iter(inputs)

    def get_next(self) -> dict[str, NDArray[np.float32]] | None:
        return next(self.rows, None)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shards", type=Path, required=True)
    parser.add_argument("--net", type=Path, required=True, help="its files without their endings")
    given = parser.parse_args()
    arrays, held = load(given.shards, "damage", "cpu", most=4000)
    pieces = Pieces(arrays)
    rows = held.nonzero()[:, 0][:: max(1, int(held.sum()) // PIECES)]
    inputs = []
    for row in rows.split(1):
        image, place, _, _ = pieces.draw(row, changed=False)
        inputs.append({"image": image.contiguous().numpy(), "place": place.numpy()})
    weights = given.net.with_suffix(".onnx")
    before = [_said(weights, one) for one in inputs[:24]]
    with tempfile.TemporaryDirectory() as folder:
        ready = Path(folder) / "ready.onnx"
        quant_pre_process(str(weights), str(ready), skip_symbolic_shape=True)
        quantize_static(
            str(ready),
            str(weights),
            _Reader(inputs),
            quant_format=QuantFormat.QDQ,
            per_channel=True,
            activation_type=QuantType.QUInt8,
            weight_type=QuantType.QInt8,
            op_types_to_quantize=["Conv"],
        )
    moved = float(np.mean([np.abs(_said(weights, one) - was).mean() for one, was in zip(inputs, before, strict=False)]))
    manifest = given.net.with_suffix(".toml")
    text = re.sub(
        r'^sha256 = ".*"$',
        f'sha256 = "{hashlib.sha256(weights.read_bytes()).hexdigest()}"',
        manifest.read_text(encoding="utf-8"),
        flags=re.M,
    )
    manifest.write_text(text.rstrip() + f"\neight_bits_moved_by = {moved:.2e}\n", encoding="utf-8")
    print(f"{weights.stat().st_size / 1e6:.1f} MB; probabilities moved by {moved:.1e} on average")


def _said(weights: Path, inputs: dict[str, NDArray[np.float32]]) -> NDArray[np.float32]:
    (said,) = onnxruntime.InferenceSession(str(weights), providers=["CPUExecutionProvider"]).run(None, inputs)
    return np.asarray(said, np.float32)


if __name__ == "__main__":
    main()
