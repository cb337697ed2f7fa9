"""The label image keeps the report format's convention: 10 px per mm, the centre in the middle, 255 not measured."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import cv2
import numpy as np
import pytest
from drawn import Crack, Drawable, Look, RingArc, Scratch, blob

from discscan.judged import JudgedDisc
from discscan.records import Sight
from discscan.report import label_image

CONVENTION = {"scratch": 1, "ring_arc": 2, "crack": 3, "delamination": 4, "smudge": 5, "dust": 6, "label_damage": 7}
"""The report format of this house: 0 nothing, 255 not measured."""

DiscWith = Callable[..., JudgedDisc]


def cell(x_mm: float, y_mm: float, *, side: int) -> tuple[int, int]:
    """Row and column of a place, by the convention's own formula."""
    return round(10 * y_mm + side / 2), round(10 * x_mm + side / 2)


@pytest.mark.parametrize(("diameter_mm", "side"), [(120, 1240), (80, 840)])
def test_a_line_at_known_mm_lands_in_its_cells(diameter_mm: int, side: int, disc_with: DiscWith) -> None:
    labels = label_image(disc_with(Scratch([(25, -10), (35, -10)]), diameter_mm=diameter_mm))
    assert labels.shape == (side, side)
    assert labels.dtype == np.uint8
    for x in (25.0, 28.3, 35.0):
        assert labels[cell(x, -10, side=side)] == CONVENTION["scratch"]
    assert labels[cell(30, -10.2, side=side)] == labels[cell(30, -9.8, side=side)] == 0
    assert labels[cell(24.8, -10, side=side)] == labels[cell(35.2, -10, side=side)] == 0


def test_the_grid_is_not_mirrored(disc_with: DiscWith) -> None:
    labels = label_image(disc_with(blob(40, 20, 2, kind="delamination")))
    rows, columns = np.nonzero(labels == CONVENTION["delamination"])
    assert rows.mean() == pytest.approx(820, abs=3)
    assert columns.mean() == pytest.approx(1020, abs=3)


@pytest.mark.parametrize(
    "drawn",
    [Scratch([(30, 0), (40, 10)]), RingArc(40, 0, 30), Crack([(8, 8), (20, 20)])]
    + [blob(-30, 20, 3, kind=kind) for kind in ("delamination", "smudge", "dust", "label_damage")],
    ids=lambda drawn: drawn.kind,
)
def test_each_kind_has_its_value(drawn: Drawable, disc_with: DiscWith) -> None:
    assert set(np.unique(label_image(disc_with(drawn)))) == {0, CONVENTION[drawn.kind], 255}


@pytest.mark.parametrize(("width_mm", "cells"), [(0.02, 1), (0.1, 1), (0.3, 3), (0.5, 5), (1.2, 12)])
@pytest.mark.parametrize("end", [(50, 0.03), (44, 20)])
def test_a_line_is_as_wide_as_it_is_but_at_least_a_cell(
    width_mm: float, cells: int, end: tuple[float, float], disc_with: DiscWith
) -> None:
    labels = label_image(disc_with(Scratch([(25, 0.03), end], width_mm=width_mm)))
    length = 10 * float(np.hypot(end[0] - 25, end[1]))
    area = int((labels == 1).sum())
    steps = max(abs(end[0] - 25), abs(end[1])) * 10 + 1  # a line of one cell has as many cells as its longer side
    expected = steps if cells == 1 else cells * (length + cells * np.pi / 4)  # round ends
    assert area == pytest.approx(expected, rel=0.08)


def test_an_area_is_as_large_as_drawn(disc_with: DiscWith) -> None:
    patch = blob(30, 20, 6, kind="smudge")
    area_mm2 = cv2.contourArea(np.array(patch.border_mm, np.float32))
    assert (label_image(disc_with(patch)) == 5).sum() == pytest.approx(100 * area_mm2, rel=0.03)


def test_a_speck_smaller_than_a_cell_keeps_one(disc_with: DiscWith) -> None:
    assert (label_image(disc_with(blob(30, 20, 0.02, kind="dust"))) == 6).sum() >= 1


def test_off_the_disc_and_in_its_hole_nothing_is_measured(disc_with: DiscWith) -> None:
    labels = label_image(disc_with())
    for place in ((0, 0), (7.2, 0), (60.5, 0), (-61.9, -61.9)):
        assert labels[cell(*place, side=1240)] == 255
    for place in ((7.9, 0), (0, 59.8), (30, 30)):
        assert labels[cell(*place, side=1240)] == 0


def test_glare_is_not_measured_even_where_a_scratch_runs_into_it(disc_with: DiscWith) -> None:
    disc = disc_with(Scratch([(25, 20), (45, 20)]), look=Look(glare_mm=(30, 20, 5)))
    labels = label_image(disc)
    assert labels[cell(30, 20, side=1240)] == 255
    assert labels[cell(40, 20, side=1240)] == 1


def test_of_two_kinds_on_one_place_the_graver_stays(disc_with: DiscWith) -> None:
    labels = label_image(
        disc_with(Crack([(25, 20), (35, 20)]), blob(30, 20, 3, kind="smudge"), Scratch([(30, 15), (30, 25)]))
    )
    assert labels[cell(30, 20, side=1240)] == CONVENTION["crack"]
    assert labels[cell(30, 22, side=1240)] == CONVENTION["scratch"]
    assert labels[cell(31, 21.5, side=1240)] == CONVENTION["smudge"]


def test_a_flat_grid_of_another_fineness_gives_the_same_places(disc_with: DiscWith) -> None:
    disc = disc_with(look=Look(glare_mm=(30, 20, 5)))
    y, x = (np.mgrid[:496, :496] - 248) / 4
    sight = np.full((496, 496), Sight.SEEN, np.uint8)
    sight[np.hypot(x - 30, y - 20) < 5] = Sight.GLARE
    coarse = label_image(replace(disc, flat=replace(disc.flat, px_per_mm=4, sight=sight)))
    rows, columns = np.nonzero(coarse[:1236, :1236] == 255)  # the coarse grid ends just inside the edge
    assert (rows.mean(), columns.mean()) == pytest.approx((820, 920), abs=1.5)
    assert len(rows) == pytest.approx(100 * np.pi * 25, rel=0.02)


def test_a_defect_that_reaches_over_the_edge_of_the_grid_is_cut(disc_with: DiscWith) -> None:
    labels = label_image(disc_with(Scratch([(50, 0), (90, 0)], width_mm=0.4)))
    assert labels[cell(55, 0, side=1240)] == 1
