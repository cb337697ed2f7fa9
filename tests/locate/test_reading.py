"""What two nets say of one disc, taken together. Softmax and logistic function are held against SciPy's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from scipy.special import expit, softmax

from discscan.locate.reading import Readers, read_face
from discscan.records import FaceReading
from discscan.weights import Net

TEMPERATURE = {"disc": 1.5, "large": 0.8, "data": 2.0, "recordable": 1.25, "format": 1.6}


@dataclass
class Says:
    """A session that says the same of every picture."""

    logits: list[float]

    def run(self, _: None, inputs: dict[str, np.ndarray]) -> list[np.ndarray]:
        assert inputs["image"].shape[:2] == (1, 3)
        return [np.array([self.logits], np.float32)]


def reading(face: list[float], make: list[float]) -> FaceReading:
    manifest = {"temperature": TEMPERATURE}
    readers = Readers(Net("face", manifest, Says(face)), Net("make", manifest, Says(make)))
    to_px = np.array([[100.0, 6.0, 200.0], [-4.0, 85.0, 150.0], [0.02, -0.03, 1.0]])
    return read_face(np.zeros((300, 400, 3), np.uint8), np.linalg.inv(to_px), readers)


def test_logits_are_calibrated_and_recordable_is_the_mean_of_both() -> None:
    read = reading([3.0, -1.0, 2.0, 1.0], [5.0, -3.0, 0.3, -0.4, 2.0])
    assert read.disc == pytest.approx(expit(3.0 / 1.5))
    assert read.recordable == pytest.approx(expit((1.0 - 3.0) / 2 / 1.25))
    assert read.formats == pytest.approx(softmax(np.array([0.3, -0.4, 2.0]) / 1.6))


@pytest.mark.parametrize(
    ("face_says", "make_says", "taken"),
    [
        (4.0, 6.0, 4.0),
        (4.0, -6.0, 4.0),  # a recordable that is nearly silver: the make net takes it for a label
        (-4.0, -6.0, -4.0),
        (-4.0, 6.0, 6.0),  # a data side with a sticker: the face net takes it for a label
    ],
)
def test_the_make_net_is_heard_where_it_alone_knows_a_data_side(
    face_says: float, make_says: float, taken: float
) -> None:
    read = reading([5.0, 5.0, face_says, 0.0], [make_says, 0.0, 0.0, 0.0, 0.0])
    assert read.data == pytest.approx(expit(taken / 2.0))
