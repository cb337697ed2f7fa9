"""Parted layers and grease look alike: where a patch lies and what the other map says tells which it is.

That layers part from rim or hub inwards, and that a fingerprint needs but a wipe, is common practice, no source.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from discscan.damage.areas import areas_of, layers_and_grease
from discscan.grids import FloatImage

SIDE, PX_PER_MM = 620, 5.0


def patch(middle_mm: float, radius_mm: float, level: float) -> FloatImage:
    """A round patch to the right of the centre."""
    image = np.zeros((SIDE, SIDE), np.float32)
    place = (round(SIDE / 2 + middle_mm * PX_PER_MM), SIDE // 2)
    cv2.circle(image, place, round(radius_mm * PX_PER_MM), level, -1)
    return image


@pytest.mark.parametrize(
    ("middle_mm", "radius_mm", "layer", "smudge", "said"),
    [
        (40, 6, 0.9, 0.02, "delamination"),  # amid the disc, and no hint of grease
        (40, 6, 0.9, 0.2, "smudge"),
        (55, 5, 0.9, 0.2, "delamination"),  # the same hint where layers part
        (55, 5, 0.9, 0.6, "smudge"),
        (55, 2, 0.8, 0.02, "delamination"),  # 13 mm2
        (55, 2, 0.5, 0.02, "nothing"),
    ],
)
def test_a_frosted_patch_is_one_thing_or_the_other(
    middle_mm: float, radius_mm: float, layer: float, smudge: float, said: str
) -> None:
    layers, grease = layers_and_grease(
        patch(middle_mm, radius_mm, layer),
        patch(middle_mm, radius_mm, smudge),
        inner_mm=22.5,
        outer_mm=60.0,
        px_per_mm=PX_PER_MM,
        threshold=0.4,
    )
    found = layers + areas_of(grease, "smudge", px_per_mm=PX_PER_MM, threshold=0.4)
    assert [area.kind for area in found] == ([] if said == "nothing" else [said])
    for area in found:
        assert area.area_mm2 is not None
        assert area.area_mm2.value == pytest.approx(np.pi * radius_mm**2, rel=0.06)
