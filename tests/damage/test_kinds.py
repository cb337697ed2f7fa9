"""Which of the lines that a photograph shows are scratches, on lines whose places are typed."""

from __future__ import annotations

import numpy as np
import pytest

from discscan.damage.kinds import Line, with_arcs
from discscan.damage.measure import LineLook
from discscan.damage.rings import arcs_among
from discscan.damage.streaks import streaks
from discscan.damage.twins import without_twins
from discscan.records import FloatArray

AWAY = np.array([0.6, 0.3])
"""A mark's image in the mirror lies so far from it, mm."""


Place = tuple[float, float]


def look(start: Place, end: Place, *, contrast: float = 20.0, colour: float = 0.0, tint: float = 0.0) -> LineLook:
    return look_along(np.linspace(start, end, 101), contrast=contrast, colour=colour, tint=tint)


def look_along(points: FloatArray, *, contrast: float = 20.0, colour: float = 0.0, tint: float = 0.0) -> LineLook:
    chord = (points[-1] - points[0]) / np.hypot(*(points[-1] - points[0]))
    misses = abs(float(points[50, 0] * chord[1] - points[50, 1] * chord[0]))
    length, radius = float(np.hypot(*np.diff(points, axis=0).T).sum()), np.hypot(*points.T)
    return LineLook(
        points, length, 0.8, colour, tint, contrast, 0.3, 0.0, float(radius.mean()), float(radius.std()), misses, 0.0
    )


def scratch(start: Place, end: Place, *, contrast: float = 20.0, shift: object = (0, 0)) -> Line:
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


STREAK = look((30, 0.5), (50, 0.8), colour=0.5, tint=0.5)
"""Points at the centre and has the rainbow's colours."""


def test_a_streak_points_at_the_centre_and_has_the_rainbows_colours() -> None:
    assert streaks([STREAK]) == [True]
    assert streaks([look((30, 0.5), (50, 0.8), colour=0.05, tint=0.5)]) == [False]  # a grey scratch in the rainbow
    assert streaks([look((30, 0), (30, 20), colour=0.5, tint=0.5)]) == [False]  # points elsewhere


def test_a_scratch_on_burnt_ground_takes_its_colour_from_what_is_not_burnt_and_is_no_streak() -> None:
    # blue is burnt already at (255, 224, 216): white light adds (0, 31, 39) and the line itself is white
    assert streaks([look((30, 0.5), (50, 0.8), colour=1.0, tint=0.0)]) == [False]


def test_what_is_torn_off_a_streak_is_of_it() -> None:
    torn = look((40, 2.0), (43, 3.5), colour=0.4)
    beyond_the_centre = look((-30, -0.5), (-50, -0.2))
    assert streaks([STREAK, torn, beyond_the_centre]) == [True, True, True]
    assert streaks([torn, beyond_the_centre]) == [False, False]  # without a streak they are scratches


def test_scratches_beside_a_streak_or_across_it_are_kept() -> None:
    beside, across = look((30, 10), (50, 16), colour=0.4), look((40, -3), (40, 3))
    assert streaks([STREAK, beside, across]) == [True, False, False]


def arc(radius_mm: float, from_deg: float, to_deg: float) -> LineLook:
    turn = np.radians(np.linspace(from_deg, to_deg, 60))
    return look_along(radius_mm * np.stack([np.cos(turn), np.sin(turn)], -1))


def test_pieces_of_a_pack_of_arcs_that_lie_side_by_side_are_arcs_together() -> None:
    pack = [arc(33.0, 0, 8), arc(33.2, 5, 13), arc(32.9, 11, 19), arc(33.1, 17, 25)]  # each 4.6 mm long: bows 0.08 mm
    assert [sorted(group) for group in arcs_among(pack)] == [[0, 1, 2, 3]]
    assert arcs_among(pack[:1]) == []


def test_a_bunch_of_scratches_that_only_cross_the_track_at_a_right_angle_to_the_radius_are_none() -> None:
    bunch = [look((33 + aside, -2), (33 + aside, 2)) for aside in (0.0, 0.1, 0.2)]
    assert arcs_among(bunch) == []


@pytest.mark.parametrize(("contrast", "confidence", "told"), [(1, 0.6, False), (20, 0.6, True), (1, 0.9, True)])
def test_a_ring_that_hardly_shows_is_the_discs_own_unless_the_net_is_sure(
    contrast: float, confidence: float, told: bool
) -> None:
    turn = np.radians(np.linspace(0, 40, 60))
    ring = look_along(27.0 * np.stack([np.cos(turn), np.sin(turn)], -1), contrast=contrast)
    kept = with_arcs([Line(ring, "scratch", confidence), ONE], sure=0.75)
    assert [line.kind for line in kept] == (["ring_arc", "scratch"] if told else ["scratch"])
