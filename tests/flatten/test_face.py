"""From probabilities to what is said of a face. That people are asked for the data side: README."""

from __future__ import annotations

import pytest

from discscan.doubts import Doubt
from discscan.flatten.face import face_of
from discscan.records import FaceReading, Side


@pytest.mark.parametrize(
    ("data", "side"), [(0.97, "data"), (0.65, "data"), (0.5, "unknown"), (0.35, "unknown"), (0.05, "label")]
)
def test_a_label_must_be_surer_than_the_side_that_people_are_asked_for(data: float, side: Side) -> None:
    face = face_of(FaceReading(1.0, True, data, 0.01, (0.0, 1.0, 0.0)), given=None)
    assert face.side == side
    assert (Doubt.SIDE_UNCLEAR in face.doubts) == (side == "unknown")
    assert face.side_confidence == max(data, 1 - data)
