"""What the face net says of a disc. Softmax and logistic function are held against SciPy's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.special import expit, softmax

from discscan.locate.reading import read_face
from discscan.weights import Net


@dataclass
class Says:
    """A session that says the same of every picture."""

    logits: list[float]

    def run(self, _: None, inputs: dict[str, np.ndarray]) -> list[np.ndarray]:
        assert inputs["image"].shape[:2] == (1, 3)
        assert inputs["eye"].shape == (1, 2)
        return [np.array([self.logits], np.float32)]


def test_logits_become_chances_and_the_formats_share_one() -> None:
    net = Net("face", {}, Says([3.0, -1.0, 2.0, -0.5, 0.3, -0.4, 2.0]))
    to_px = np.array([[100.0, 6.0, 200.0], [-4.0, 85.0, 150.0], [0.02, -0.03, 1.0]])
    read = read_face(np.zeros((300, 400, 3), np.uint8), np.linalg.inv(to_px), net)
    told = [read.disc, read.large, read.data, read.recordable]
    assert told == pytest.approx(expit(np.array([3.0, -1.0, 2.0, -0.5])))
    assert read.formats == pytest.approx(softmax(np.array([0.3, -0.4, 2.0])))
