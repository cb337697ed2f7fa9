"""Unreadable sectors over the disc: rings and bars lie where their radii are."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from drawn import Scratch

from discscan.events import Readback
from discscan.judged import JudgedDisc
from discscan.report import draw_top_view
from discscan.report.pictures import middle_of_top_view
from discscan.report.readback_picture import draw_read_back
from discscan.report.styles import UNREAD

DiscWith = Callable[..., JudgedDisc]


def found(*spans: tuple[float, float], seen: tuple[tuple[float, float], ...] = ((30.0, 50.0),)) -> Readback:
    return Readback("dvd", tuple((n, n) for n in range(len(spans))), spans, len(spans), 0, 0.5, seen)


@pytest.mark.parametrize("radius_mm", [30.0, 45.5, 57.0])
def test_a_ring_lies_at_the_radius_that_could_not_be_read_and_nowhere_else(
    disc_with: DiscWith, radius_mm: float
) -> None:
    disc = disc_with(Scratch(np.array([(30.0, 0.0), (50.0, 4.0)]), 0.1))
    plain, drawn = draw_top_view(disc, width_px=900), draw_read_back(disc, found((radius_mm, radius_mm)), width_px=900)
    (x, y), per_mm = middle_of_top_view(disc, width_px=900)
    changed = np.argwhere((plain != drawn[: len(plain)]).any(axis=2))
    apart_mm = np.hypot(changed[:, 1] - x, changed[:, 0] - y) / per_mm
    assert len(changed) > 500
    assert np.abs(apart_mm - radius_mm).max() < 0.5


def test_the_bars_below_run_from_the_start_of_the_data_to_its_end(disc_with: DiscWith) -> None:
    """DVD data lies from 24 to 58 mm (ECMA-267, 10.6.1): of its width, 30 to 40 mm are from 6/34 to 16/34."""
    disc = disc_with()
    above = len(draw_top_view(disc, width_px=900))
    strip = draw_read_back(disc, found((30.0, 40.0), (57.9, 58.0)), width_px=900)[above:]
    row = next(line for line in strip if (line == UNREAD[::-1]).all(axis=1).sum() > 100)
    (at,) = np.nonzero((row == UNREAD[::-1]).all(axis=1))
    right = at.max()
    first = at[at < right - 50]
    left_of_bar = first.min() - (right - first.min()) * 6 / 28
    width = right - left_of_bar
    assert (first.max() - left_of_bar) / width == pytest.approx(16 / 34, abs=0.01)


def test_a_list_that_is_empty_draws_no_ring(disc_with: DiscWith) -> None:
    disc = disc_with()
    plain = draw_top_view(disc, width_px=900)
    assert (draw_read_back(disc, found(seen=()), width_px=900)[: len(plain)] == plain).all()
