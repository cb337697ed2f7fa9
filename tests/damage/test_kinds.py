"""Which of the lines that a photograph shows are scratches, on lines whose places are typed."""

from __future__ import annotations

import numpy as np
import pytest

from discscan.damage.kinds import Line, is_streak
from discscan.damage.measure import LineLook
from discscan.damage.twins import without_twins

AWAY = np.array([0.6, 0.3])
"""A mark's image in the mirror lies so far from it, mm."""


def look(
    start: tuple[float, float], end: tuple[float, float], *, contrast: float = 20.0, colour: float = 0.0
) -> LineLook:
    points = np.linspace(start, end, 101)
    chord = (points[-1] - points[0]) / np.hypot(*(points[-1] - points[0]))
    misses = abs(float(points[50, 0] * chord[1] - points[50, 1] * chord[0]))
    length, radius = float(np.hypot(*(points[-1] - points[0]))), np.hypot(*points.T)
    return LineLook(
        points, length, 0.8, colour, contrast, 0.3, 0.0, float(radius.mean()), float(radius.std()), misses, 0.0
    )


def scratch(
    start: tuple[float, float], end: tuple[float, float], *, contrast: float = 20.0, shift: object = (0, 0)
) -> Line:
    x, y = shift  # type: ignore[misc]
    return Line(look((start[0] + x, start[1] + y), (end[0] + x, end[1] + y), contrast=contrast), "scratch", 0.8)


ONE = scratch((30, 0), (30, 20))


@pytest.mark.parametrize("contrast", [10.0, 30.0])
def test_of_a_scratch_and_its_image_the_scratch_is_kept_however_plain_the_image(contrast: float) -> None:
    image = scratch((30, 0), (30, 20), shift=AWAY, contrast=contrast)
    assert without_twins([image, ONE], [AWAY]) == [ONE]


def test_a_piece_of_the_image_is_left_out_and_the_scratch_stays() -> None:
    piece = scratch((30, 4), (30, 9), shift=AWAY, contrast=40)
    assert without_twins([ONE, piece], [AWAY]) == [ONE]


def test_lines_of_a_bunch_are_kept_though_they_run_side_by_side() -> None:
    bunch = [scratch((30, 0), (30, 20), shift=(apart, 0)) for apart in (0.0, 1.1, 2.2)]
    assert without_twins(bunch, [AWAY]) == bunch


def test_lines_that_cross_or_follow_one_another_are_kept() -> None:
    others = [scratch((20, 10), (40, 11)), scratch((30, 21), (30, 30))]
    assert len(without_twins([ONE, *others], [AWAY])) == 3


def test_from_straight_above_only_what_was_found_twice_is_left_out() -> None:
    again = scratch((30.1, 2), (30.1, 15))
    beside = scratch((30.8, 2), (30.8, 15))
    assert without_twins([ONE, again, beside], []) == [ONE, beside]


def test_every_format_that_the_disc_may_have_is_thought_of() -> None:
    image = scratch((30, 0), (30, 20), shift=AWAY / 2)
    assert without_twins([ONE, image], [AWAY, AWAY / 2]) == [ONE]


def test_a_streak_points_at_the_centre_and_has_the_rainbows_colours() -> None:
    assert is_streak(look((30, 0.5), (50, 0.8), colour=0.5))
    assert not is_streak(look((30, 0.5), (50, 0.8), colour=0.05))  # as grey as a scratch
    assert not is_streak(look((30, 0), (30, 20), colour=0.5))  # a scratch in the rainbow
