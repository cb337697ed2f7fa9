"""The advice for the next photograph in words."""

from __future__ import annotations

import pytest

from discscan.judged import NextPhoto, UnseenPart
from discscan.records import Action, Side, Sight
from discscan.report.next_photo import CAUSE, next_photo_report

GLARE = UnseenPart(Sight.GLARE, 0.12, from_deg=330.0, to_deg=30.0, radius_min_mm=30.4, radius_max_mm=49.6)


def told(found: NextPhoto, *, action: Action = "retake", side: Side = "data", rule: str = "undecided") -> str:
    return next_photo_report(found, action=action, side=side, rule=rule).text


def test_the_part_the_cause_and_the_lamp_are_told_by_the_clock() -> None:
    """+x is 3 o'clock, and the clock runs the way that y points, as in the records."""
    text = told(NextPhoto((GLARE,), 180.0, ("play", "pass"), 1.0))
    assert "12 % of the data area, burnt out, from 2 to 4 o'clock, 30 to 50 mm from the centre" in text
    assert "Let the light come from 9 o'clock" in text


@pytest.mark.parametrize(("angle_deg", "hour"), [(0, 3), (90, 6), (180, 9), (270, 12), (359, 3)])
def test_the_hours_are_those_of_a_clock_face(angle_deg: float, hour: int) -> None:
    assert f"from {hour} o'clock" in told(NextPhoto((), float(angle_deg), ("play",), 1.0))


def test_what_goes_all_the_way_round_has_no_hour() -> None:
    ring = UnseenPart(Sight.BLURRED, 0.3, None, None, 50.0, 58.0)
    assert "all the way round" in told(NextPhoto((ring,), None, ("play",), 1.0))


def test_where_nothing_can_change_that_is_said_and_nothing_else() -> None:
    nothing = NextPhoto((GLARE,), 180.0, (), 0.0)
    assert told(nothing, action="pass") == "Another photo would not change that."
    assert told(nothing, action="retake") == "Another photo alone would not settle it."


def test_a_small_chance_is_called_small() -> None:
    text = told(NextPhoto((GLARE,), 180.0, ("pass",), 0.03), action="play")
    assert text.startswith("Another photo is hardly worth it") and "light" not in text
    assert "about 3 of 10" in told(NextPhoto((), None, ("pass",), 0.3), action="play")


def test_a_verdict_that_another_photo_leaves_open_is_not_called_retake() -> None:
    text = told(NextPhoto((), None, ("retake", "pass"), 0.2), action="play")
    assert text.startswith("In about 2 of 10 cases another photo would change the verdict, to undecided or pass up.")


def test_damage_of_a_cds_label_asks_for_a_lamp() -> None:
    found = NextPhoto((), None, ("play", "pass"), 1.0)
    assert told(found, rule="label-wound") == "It takes a photo of the disc held against a lamp to tell."
    both = told(found, side="label", rule="label-wound")
    assert both == "It takes a photo of the data side to tell, and one of the disc held against a lamp."


def test_a_label_side_asks_for_the_data_side() -> None:
    assert told(NextPhoto((), None, ("play",), 1.0), side="label") == "It takes a photo of the data side to tell."


def test_every_cause_of_not_seeing_has_its_words() -> None:
    assert set(CAUSE) == set(Sight) - {Sight.SEEN, Sight.OFF_DISC}
