"""Which of the lines that a photograph shows are scratches, on lines whose places are typed."""

from __future__ import annotations

import numpy as np
import pytest

from discscan.damage.kinds import Line, with_arcs
from discscan.damage.measure import LineLook
from discscan.damage.rings import amid_arcs, arcs_among
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
        points_mm=points,
        length_mm=length,
        probability=0.8,
        colour=colour,
        tint=tint,
        contrast=contrast,
        width_mm=0.3,
        bend_per_mm=0.0,
        radius_mm=float(radius.mean()),
        radius_spread_mm=float(radius.std()),
        straight_spread_mm=float(np.linalg.svd(points - points.mean(axis=0))[1][1] / len(points) ** 0.5),
        misses_centre_mm=misses,
        arc_deg=0.0,
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


def test_an_image_of_more_than_is_seen_of_the_scratch_is_moved_to_where_the_scratch_is() -> None:
    image, piece = scratch((30, 0), (30, 20), shift=AWAY, contrast=40), scratch((30, 4), (30, 9))
    (kept,) = without_twins([piece, image], [AWAY])
    np.testing.assert_allclose(kept.look.points_mm, ONE.look.points_mm, atol=1e-9)
    assert kept.look.arc_deg == pytest.approx(np.degrees(np.arctan2(20, 30)))  # of the image it is 0.7 degrees less
    assert kept.look.misses_centre_mm == pytest.approx(30)
    assert (kept.look.length_mm, kept.look.contrast) == (image.look.length_mm, 40)
    (again,) = without_twins([image], [AWAY])  # alone, nothing tells that it is an image
    assert again is image


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


def arc(
    radius_mm: float | FloatArray, from_deg: float, to_deg: float, *, contrast: float = 20.0, middle_x_mm: float = 0.0
) -> LineLook:
    turn = np.radians(np.linspace(from_deg, to_deg, 101))
    points = np.stack([radius_mm * np.cos(turn), radius_mm * np.sin(turn)], -1)
    return look_along(points + np.array([middle_x_mm, 0.0]), contrast=contrast)


def test_pieces_of_a_pack_of_arcs_that_lie_side_by_side_are_arcs_together() -> None:
    pack = [arc(33.0, 0, 8), arc(33.2, 5, 13), arc(32.9, 11, 19), arc(33.1, 17, 25)]  # each 4.6 mm long: bows 0.08 mm
    assert [sorted(group) for group in arcs_among(pack)] == [[0, 1, 2, 3]]
    assert arcs_among(pack[:1]) == []


def test_a_bunch_of_scratches_that_only_cross_the_track_at_a_right_angle_to_the_radius_are_none() -> None:
    bunch = [look((33 + aside, -2), (33 + aside, 2)) for aside in (0.0, 0.1, 0.2)]
    assert arcs_among(bunch) == []


def test_an_arc_whose_trace_wavers_between_two_grooves_is_told_from_a_straight_line_that_wavers() -> None:
    waver = 0.1 * np.sign(np.sin(np.linspace(0, 40, 101)))
    wavering = arc(36.5 + waver, -10, 10)  # 12.7 mm: bows 0.55 mm
    straight = look_along(np.stack([36.5 + waver, np.linspace(-6.4, 6.4, 101)], -1))
    assert arcs_among([wavering]) == [[0]]
    assert arcs_among([straight]) == []


def test_a_long_trace_along_a_pack_goes_from_groove_to_groove_and_is_an_arc() -> None:
    assert arcs_among([arc(np.linspace(54.3, 55.7, 101), 0, 80)]) == [[0]]
    assert arcs_among([arc(np.linspace(50.0, 60.0, 101), 0, 80)]) == []


def test_a_line_bent_about_another_centre_than_the_discs_is_a_scratch() -> None:
    bowl = arc(20.0, 150, 210, middle_x_mm=60.0)  # about (60, 0): turns its back to the centre, 20 mm long
    assert arcs_among([bowl]) == []


def test_pieces_amid_a_pack_that_go_its_way_are_of_it_and_scratches_across_it_are_not() -> None:
    plain, piece, beyond_a_gap = arc(40.0, 0, 40), arc(40.6, 10, 14), arc(39.5, 46, 49)
    across, elsewhere, far_off = look((38, 8), (42, 9)), arc(43.0, 10, 14), arc(40.0, 90, 94)
    lines = [piece, across, plain, elsewhere, beyond_a_gap, far_off]
    assert arcs_among(lines) == [[2]]
    assert amid_arcs(lines, [2]) == [0, 4]
    assert amid_arcs(lines, []) == []


def test_a_piece_that_shows_does_not_make_an_arc_of_a_ring_that_hardly_does() -> None:
    ring, piece = arc(27.0, 0, 40, contrast=1), arc(27.1, 42, 48, contrast=10)
    assert with_arcs([Line(ring, "scratch", 0.6), Line(piece, "scratch", 0.6), ONE], sure=0.75) == [ONE]


@pytest.mark.parametrize(("contrast", "confidence", "told"), [(1, 0.6, False), (20, 0.6, True), (1, 0.9, True)])
def test_a_ring_that_hardly_shows_is_the_discs_own_unless_the_net_is_sure(
    contrast: float, confidence: float, told: bool
) -> None:
    ring = arc(27.0, 0, 40, contrast=contrast)
    kept = with_arcs([Line(ring, "scratch", confidence), ONE], sure=0.75)
    assert [line.kind for line in kept] == (["ring_arc", "scratch"] if told else ["scratch"])
