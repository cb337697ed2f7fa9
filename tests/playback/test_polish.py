"""What polishing changes, and what it never does."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from discscan.formats import FORMATS
from discscan.playback import POLISH_WHYS, after_polish, forecast
from discscan.playback.case import make_case
from discscan.playback.polish import may_go_um, removed_um
from discscan.records import DamageSurvey, FormatName, Playback, Polish


def both(survey: DamageSurvey, name: FormatName, *, polished: int = 0) -> tuple[Playback, Polish]:
    shared = {"survey": survey, "format": name, "diameter_mm": 120, "widen": 1.0, "seed": 3}
    before = forecast(**shared)  # type: ignore[arg-type]
    return before, after_polish(**shared, before=before, polished=polished)  # type: ignore[arg-type]


def deep(draw: Any, *, width_um: float) -> DamageSurvey:
    """A long scratch along the track, not made by a turning disc."""
    return draw.survey(draw.arc(radius_mm=40, arc_deg=15, width_um=width_um, kind="scratch"))


def test_scratches_of_a_cd_within_reach_are_polished_out(draw: Any) -> None:
    before, polish = both(deep(draw, width_um=250), "cd")
    assert before.chance.probability < 0.3
    assert (polish.possible, polish.why) == (True, "scratches-within-reach")
    assert polish.chance.probability > 0.8


def test_the_same_scratch_is_harder_to_polish_out_of_a_dvd(draw: Any) -> None:
    """A CD may lose 0.1 mm and a DVD 0.03 mm before they leave their standards (ECMA-130, ECMA-267 figure 9)."""
    _, cd = both(deep(draw, width_um=300), "cd")
    _, dvd = both(deep(draw, width_um=300), "dvd")
    assert cd.chance.probability > dvd.chance.probability + 0.1


@pytest.mark.parametrize("width_um", [20.0, 80.0, 300.0])
def test_a_bd_is_never_polished(draw: Any, width_um: float) -> None:
    """BDA white paper 1.C, 13: 3.0 um of cover variation; common practice."""
    before, polish = both(deep(draw, width_um=width_um), "bd")
    assert (polish.possible, polish.why) == (False, "bd-never")
    assert polish.chance == before.chance


def test_most_ring_arcs_stay(draw: Any) -> None:
    """About nine in ten are lost: common practice, no source (Wilson interval of 9 in 10: 60 to 98 %)."""
    before, polish = both(draw.survey(draw.arc(radius_mm=40, arc_deg=30, width_um=150)), "cd")
    assert polish.why == "ring-arcs-mostly-lost"
    saved = (polish.chance.probability - before.chance.probability) / (0.97 - before.chance.probability)
    assert 0.02 < saved < 0.40


@pytest.mark.parametrize(
    ("kind", "why"),
    [("crack", "crack-never"), ("delamination", "delamination-never"), ("label_damage", "label-side-never")],
)
def test_what_polishing_never_repairs(draw: Any, kind: Any, why: str) -> None:
    if kind == "crack":
        damage = draw.crossing(radius_mm=(7.5, 30), kind="crack")
    else:
        damage = draw.patch(kind, at_mm=(40, 0), radius_mm=4)
    before, polish = both(draw.survey(damage), "cd")
    assert (polish.possible, polish.why, polish.chance) == (False, why, before.chance)


@pytest.mark.parametrize("name", ["cd", "dvd"])
def test_a_clean_or_dirty_disc_has_nothing_to_polish(draw: Any, name: FormatName) -> None:
    for survey in (draw.survey(), draw.survey(draw.patch("smudge", at_mm=(40, 0), radius_mm=8))):
        _, polish = both(survey, name)
        assert (polish.possible, polish.why) == (False, "nothing-to-polish")


@pytest.mark.parametrize("polished", [0, 1, 2, 5])
@pytest.mark.parametrize(("name", "limit_um"), [("cd", 100), ("dvd", 30), ("bd", 3)])
def test_no_draw_takes_off_more_than_the_standard_leaves_all_passes_added(
    draw: Any, name: FormatName, limit_um: float, polished: int
) -> None:
    """From nominal to the thinnest layer allowed: ECMA-130 (memory), ECMA-267 figure 9, BDA white paper 1.C, 13."""
    case = make_case(survey=draw.survey(*draw.strewn(20, seed=1)), diameter_mm=120, widen=2.0, seed=1)
    left_um = may_go_um(FORMATS[name], polished=polished, seed=1)
    taken_before_um = limit_um - left_um
    assert left_um.min() >= 0
    assert (taken_before_um + removed_um(case, left_um)).max() <= limit_um + 1e-9
    if polished == 0:
        assert left_um == pytest.approx(limit_um)


@pytest.mark.parametrize("name", ["cd", "dvd"])
def test_each_earlier_polish_leaves_less_to_hope_for_from_the_next(draw: Any, name: FormatName) -> None:
    survey = deep(draw, width_um=250)
    after = [both(survey, name, polished=times)[1] for times in range(4)]
    chances = [one.chance.probability for one in after]
    assert chances == sorted(chances, reverse=True) and chances[1] < chances[0] - 0.1
    assert all(later.may_go_um < 0.4 * earlier.may_go_um for earlier, later in pairwise(after))


def test_a_scratch_within_reach_of_a_first_polish_is_deeper_than_what_a_second_finds(draw: Any) -> None:
    survey = deep(draw, width_um=250)
    assert both(survey, "cd")[1].why == "scratches-within-reach"
    assert both(survey, "cd", polished=1)[1].why == "deeper-than-is-left"


@pytest.mark.parametrize("width_um", [40.0, 80.0, 300.0])
@pytest.mark.parametrize(("name", "times"), [("cd", 3), ("dvd", 2), ("dvd", 9)])
def test_a_disc_with_as_little_left_as_a_bd_is_not_polished_again(
    draw: Any, name: FormatName, times: int, width_um: float
) -> None:
    """A BD has 3 um (BDA white paper 1.C, 13) and is not polished: common practice."""
    before, polish = both(deep(draw, width_um=width_um), name, polished=times)
    assert polish.may_go_um < 3
    assert (polish.possible, polish.why, polish.chance) == (False, "no-layer-left", before.chance)


def test_earlier_polishes_leave_the_forecast_of_the_disc_as_it_is_alone(draw: Any) -> None:
    survey = deep(draw, width_um=250)
    assert both(survey, "cd")[0] == both(survey, "cd", polished=2)[0]


@pytest.mark.parametrize("count", [1, 5, 20, 60])
@pytest.mark.parametrize("name", ["cd", "dvd"])
def test_polishing_that_is_advised_never_lowers_the_chance_and_gives_a_known_reason(
    draw: Any, count: int, name: FormatName
) -> None:
    before, polish = both(draw.survey(*draw.strewn(count, seed=count, width_um=(60, 400))), name)
    assert polish.why in POLISH_WHYS
    assert not polish.possible or polish.chance.probability > before.chance.probability
    assert np.all(np.diff([polish.chance.low, polish.chance.probability, polish.chance.high]) >= 0)
