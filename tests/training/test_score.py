"""Which reported disc is held against which true one. Invented outlines."""

from __future__ import annotations

from typing import Any

from models.training.score import found_for


def disc(cx: float, cy: float = 0.0, axis: float = 100.0) -> dict[str, Any]:
    return {"outer_ellipse_px": {"cx": cx, "cy": cy, "axis_major": axis, "axis_minor": axis, "angle_deg": 0.0}}


def test_a_covered_disc_does_not_claim_what_was_reported_for_the_one_on_top() -> None:
    covered, top, reported = disc(0), disc(25), disc(24)
    assert found_for([covered, top], [reported]) == [None, reported]
    assert found_for([top, covered], [reported]) == [reported, None]


def test_each_reported_disc_is_held_against_one_true_disc_and_none_far_away() -> None:
    one, other, far = disc(0), disc(25), disc(60)
    assert found_for([disc(1), disc(26)], [other, far, one]) == [one, other]
    assert found_for([disc(1)], [far]) == [None]
    assert found_for([disc(1)], []) == [None] and found_for([], [one]) == []
