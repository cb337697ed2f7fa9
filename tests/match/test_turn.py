"""How far a disc was turned, held against discs that were drawn turned by a known angle."""

from __future__ import annotations

import numpy as np
import pytest
from match.conftest import drawn, scratches, turned

from discscan.calibration import limit, setting
from discscan.match import answer_of, light_agreement, turn_between
from discscan.match.likelihood import PARAMETERS, likelihood_ratio, ratio_of
from discscan.match.turn import Turn, carried

PLENTY_MM = 100.0
TOLERANCE_DEG = 1.0


def off_deg(found: float, true: float) -> float:
    return abs((found - true + 180) % 360 - 180)


@pytest.mark.parametrize("turn_deg", [17.0, 123.0, 266.0])
def test_a_scratched_disc_is_known_again_turned_and_in_another_light(turn_deg: float) -> None:
    marks = scratches(14, seed=5)
    first, second = drawn(marks, light=0), drawn(turned(marks, turn_deg, faded=0.8), light=1, seed=9)
    turn = turn_between(first.band, second.band, may_lie_still=False)
    assert off_deg(turn.turn_deg, turn_deg) < TOLERANCE_DEG
    assert answer_of(likelihood_ratio(turn, lines_mm=PLENTY_MM)) == "same"


def test_back_and_forth_is_the_same_turn() -> None:
    marks = scratches(14, seed=6)
    first, second = drawn(marks, light=0), drawn(turned(marks, 75), light=1)
    there = turn_between(first.band, second.band, may_lie_still=False)
    back = turn_between(second.band, first.band, may_lie_still=False)
    assert off_deg(there.turn_deg, -back.turn_deg) < TOLERANCE_DEG


def test_half_of_the_marks_gone_and_as_many_new_still_tell_the_turn() -> None:
    marks, later = scratches(16, seed=7), scratches(8, seed=8)
    first, second = drawn(marks, light=0), drawn(turned(marks[:8], 200) + later, light=1)
    turn = turn_between(first.band, second.band, may_lie_still=False)
    assert off_deg(turn.turn_deg, 200) < TOLERANCE_DEG


def test_different_discs_are_never_called_the_same() -> None:
    discs = [drawn(scratches(12, seed=20 + n), light=n % 2, seed=n) for n in range(10)]
    for n, one in enumerate(discs):
        for other in discs[n + 1 :]:
            turn = turn_between(one.band, other.band, may_lie_still=False)
            assert answer_of(likelihood_ratio(turn, lines_mm=PLENTY_MM)) != "same"


def test_the_same_room_in_the_mirror_does_not_make_two_discs_one() -> None:
    """The window's sharp edges lie at the same place in both photographs."""
    first, second = drawn(scratches(6, seed=31), light=1, seed=1), drawn(scratches(6, seed=32), light=1, seed=1)
    turn = turn_between(first.band, second.band, may_lie_still=False)
    assert answer_of(likelihood_ratio(turn, lines_mm=PLENTY_MM)) != "same"
    assert off_deg(turn.turn_deg, 0) > setting("match", "still_deg") - 1


def test_a_disc_turned_before_the_same_room_is_turned_and_the_room_is_not() -> None:
    marks = scratches(12, seed=103)
    first, second = drawn(marks, light=1, seed=1), drawn(turned(marks, 100), light=1, seed=2)
    turn = turn_between(first.band, second.band, may_lie_still=True)
    assert off_deg(turn.turn_deg, 100) < TOLERANCE_DEG and not turn.lies_still


def test_a_disc_left_where_it_is_while_the_lamp_moves_lies_still() -> None:
    marks = scratches(12, seed=104)
    first, second = drawn(marks, light=0), drawn(marks, light=1)
    turn = turn_between(first.band, second.band, may_lie_still=True)
    assert turn.lies_still and turn.lead > setting("match", "laid_lead")


def test_the_same_light_is_told_from_another_one() -> None:
    least = setting("match", "same_light")
    one = drawn(scratches(8, seed=105), light=0, seed=1).flat
    assert light_agreement(one, drawn(scratches(8, seed=106), light=0, seed=1).flat) > least
    assert light_agreement(one, drawn(scratches(8, seed=105), light=1, seed=2).flat) < least


def test_clean_discs_and_ring_arcs_alone_cannot_be_told() -> None:
    first, second = drawn([], light=0), drawn([], light=1)
    turn = turn_between(first.band, second.band, may_lie_still=False)
    assert answer_of(likelihood_ratio(turn, lines_mm=0.0)) == "cannot tell"


def test_the_ratio_grows_with_the_lead_and_little_to_find_never_means_another() -> None:
    leads = np.linspace(0, 30, 61)
    ratios = [likelihood_ratio(Turn(0, np.zeros(2), 0, lead, lead), lines_mm=50.0) for lead in leads]
    assert (np.diff(ratios) >= 0).all()
    assert answer_of(likelihood_ratio(Turn(0, np.zeros(2), 0, 0.5, 0.5), lines_mm=0.0)) == "cannot tell"


def test_the_ratio_is_one_of_two_densities() -> None:
    """E[ratio] over different pairs is 1 for any ratio of densities; here over the fitted law of chance."""
    fitted = {name: limit(name, file="match").value for name in PARAMETERS}
    fitted["chance_share"] = 1.0  # a law that adds up to one
    lead = (np.arange(200_000) + 0.5) / 2000
    chance = fitted["chance_rate"] * np.exp(-fitted["chance_rate"] * lead) / 2000
    capped = lead < setting("match", "lead_most")
    ratio = np.array([ratio_of(one, lines_mm=50.0, **fitted) for one in lead[capped]])
    found = 1 / (1 + np.exp(-(fitted["found_constant"] + fitted["found_lines"] * np.log1p(50.0))))
    scale = np.exp(fitted["lead_constant"] + fitted["lead_lines"] * np.log1p(50.0)) / 2
    beyond = setting("match", "lead_most") / scale  # the cap: a gamma of shape 2 has (1 + x) e^-x above it
    lost = found * (1 + beyond) * np.exp(-beyond)
    assert (ratio * chance[capped]).sum() == pytest.approx(1 - lost, abs=2e-3)


def test_there_and_back_is_no_way_at_all() -> None:
    turn = Turn(37.0, np.array([0.3, -0.2]), 0, 0, 0)
    points = np.array([[30.0, 0.0], [12.0, 40.0]])
    assert carried(carried(points, turn.matrix), turn.back) == pytest.approx(points)
