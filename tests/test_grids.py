"""Cells of a flat grid: their radius against geometry, and which of them may be looked at."""

from __future__ import annotations

import math

import numpy as np
import pytest

from discscan.calibration import constant
from discscan.formats import data_area_mm
from discscan.grids import SCALE, face_mm, holds, radius_mm, ring, seen_cells
from discscan.records import FlatDisc, Sight

SIDE, PX_PER_MM = 840, 10.0


def flat(sight: np.ndarray) -> FlatDisc:
    bgr = np.zeros((*sight.shape, 3), np.uint8)
    return FlatDisc(80, PX_PER_MM, bgr, sight, PX_PER_MM, sharpness=1.0, glare_fraction=0.0, measured_fraction=1.0)


def test_a_ring_has_the_area_of_a_circle_less_that_of_its_hole() -> None:
    cells = np.count_nonzero(ring(SIDE, PX_PER_MM, inner_mm=12.0, outer_mm=38.0))
    assert cells / PX_PER_MM**2 == pytest.approx(math.pi * (38.0**2 - 12.0**2), rel=1e-3)


def test_the_centre_lies_at_half_the_side_as_the_records_say() -> None:
    radius = radius_mm(SIDE, PX_PER_MM)
    assert radius[SIDE // 2, SIDE // 2] == 0.0
    assert radius[SIDE // 2, SIDE // 2 + 100] == radius[SIDE // 2 - 100, SIDE // 2] == pytest.approx(10.0)


@pytest.mark.parametrize("diameter_mm", [120, 80])
def test_the_face_lies_between_hole_and_rim_and_holds_the_data_area(diameter_mm: int) -> None:
    """The hole's diameter: ECMA-267 3rd ed. 10.1, as in calibration/cd.toml; the data area: formats.py."""
    inner, outer = face_mm(diameter_mm)
    first, last = data_area_mm("unknown", diameter_mm)
    assert constant("cd", "hole_mm").value / 2 < inner < first < last < outer < diameter_mm / 2


def test_a_cell_that_was_not_seen_takes_its_neighbours_with_it_and_no_others() -> None:
    sight = np.full((SIDE, SIDE), Sight.SEEN, np.uint8)
    assert seen_cells(flat(sight)).all()
    sight[400:402, 600:602] = Sight.GLARE
    seen = seen_cells(flat(sight))
    assert seen.shape == (SIDE * SCALE, SIDE * SCALE)
    rows, columns = np.nonzero(~seen)
    assert (set(rows), set(columns)) == (set(range(198, 203)), set(range(298, 303)))
    assert len(rows) == 25


def test_burnt_out_cells_can_be_counted_in_and_no_others() -> None:
    sight = np.full((SIDE, SIDE), Sight.SEEN, np.uint8)
    sight[400:402, 600:602] = Sight.GLARE
    assert seen_cells(flat(sight), burnt=True).all()
    sight[400:402, 600:602] = Sight.DARK
    assert not seen_cells(flat(sight), burnt=True).all()


def test_a_point_is_held_by_its_cell() -> None:
    """Where cells lie: column = px_per_mm * x_mm + side / 2, as records.py says of every flat grid."""
    mask = np.zeros((100, 100), bool)
    mask[70, 20] = True
    at = np.array([[-6.0, 4.0], [4.0, -6.0], [-500.0, 500.0]])
    assert holds(mask, at, 5.0).tolist() == [True, False, False]
