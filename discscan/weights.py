"""The trained nets: each a file of weights beside a manifest that says which bytes it is and how it wants its input."""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from discscan.calibration import models_folder
from discscan.errors import BrokenInstallation

_REMEDY = "Install discscan again."
NETS = ("locator", "rings", "face", "damage")


@dataclass(frozen=True)
class Net:
    """A net ready to run.

    Attributes:
        manifest: models/<name>.toml as it stands: sha256, preprocessing, recipe, score.
    """

    name: str
    manifest: Mapping[str, Any]
    _session: Any

    def __call__(self, **inputs: NDArray[np.float32]) -> NDArray[np.float32]:
        """Run on float32 arrays by their names (every net has "image", (n, channels, h, w)); the one output."""
        (output,) = self._session.run(None, inputs)
        return np.asarray(output, dtype=np.float32)


@cache
def net(name: str) -> Net:
    """Load models/<name>.onnx, one thread.

    Raises:
        BrokenInstallation: weights or manifest are missing, or the weights are not those of the manifest.
    """
    manifest = _manifest(name)
    weights_path = models_folder() / f"{name}.onnx"
    try:
        weights = weights_path.read_bytes()
    except OSError as error:
        raise BrokenInstallation(
            f"The net '{name}' cannot be read: {error}.", file=weights_path.name, remedy=_REMEDY
        ) from error
    if hashlib.sha256(weights).hexdigest() != manifest.get("sha256"):
        raise BrokenInstallation(
            f"The weights of the net '{name}' are not those its manifest names.", file=weights_path.name, remedy=_REMEDY
        )
    import onnxruntime  # late: it takes a tenth of a second

    options = onnxruntime.SessionOptions()
    # onnxruntime ignores OMP_NUM_THREADS and a container's share of the cores: one worker a core is ours to arrange
    options.intra_op_num_threads = options.inter_op_num_threads = 1
    options.log_severity_level = 3
    session = onnxruntime.InferenceSession(weights, options, providers=["CPUExecutionProvider"])
    return Net(name, manifest, session)


@cache
def weights_sha256() -> dict[str, str]:
    """The sha256 of each net's weights, by its name: it tells what has seen a disc."""
    return {name: str(_manifest(name)["sha256"]) for name in NETS}


def _manifest(name: str) -> dict[str, Any]:
    path = models_folder() / f"{name}.toml"
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise BrokenInstallation(
            f"The net '{name}' cannot be read: {error}.", file=path.name, remedy=_REMEDY
        ) from error
