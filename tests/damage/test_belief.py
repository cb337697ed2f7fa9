"""How the lines of one disc speak for one another, on probabilities that are typed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discscan.calibration import setting
from discscan.damage.belief import believed, without_grease
from discscan.damage.maps import DamageMaps
from discscan.damage.trace import Trace
from discscan.records import FlatDisc

TOLD = 0.45
CHANCES = st.floats(0.01, 0.99)


def line(chance: float, *, length_mm: float = 20.0) -> Trace:
    points = np.stack([np.linspace(30, 30 + length_mm, 101), np.zeros(101)], -1)
    return Trace(points, np.full(101, chance))


def grey(*, levels: float = 0.0) -> FlatDisc:
    """A grey disc, with a line along the x axis that is brighter by so many levels."""
    bgr = np.full((1240, 1240, 3), 100, np.uint8)
    bgr[618:622] += np.uint8(levels)
    return FlatDisc(120, 10.0, bgr, np.zeros((1240, 1240), np.uint8), 10.0, 1.0, 0.0, 1.0)


def chances(*lines: Trace) -> list[float]:
    return [float(trace.probability.mean()) for trace in believed(list(lines), grey(), told=TOLD)]


def test_a_faint_line_is_told_on_a_scratched_disc_and_not_on_a_clean_one() -> None:
    faint, sure = line(0.35), [line(0.8) for _ in range(5)]
    assert chances(faint) == []
    assert len(chances(faint, *sure)) == 6


def test_many_faint_lines_do_not_make_one_another_sure() -> None:
    assert chances(*[line(0.4) for _ in range(100)]) == []


@given(chance=CHANCES)
def test_alone_a_line_keeps_its_probability(chance: float) -> None:
    assert chances(line(chance)) == ([pytest.approx(chance)] if chance >= TOLD else [])


@given(faint=CHANCES, sure=st.floats(0.5, 0.99), length_mm=st.floats(1, 500))
def test_the_odds_of_each_line_are_multiplied_as_bayes_rule_has_it(faint: float, sure: float, length_mm: float) -> None:
    # posterior odds are prior odds times what the evidence says; the evidence is the sure length of the others
    told = believed([line(faint), line(sure, length_mm=length_mm)], grey(), told=TOLD)
    times = (1 + sure * length_mm / setting("damage", "few_sure_mm")) ** setting("damage", "belief_power")
    posterior = faint * times / (1 - faint + faint * times)
    assert [trace.length_mm for trace in told].count(pytest.approx(20.0)) >= (posterior > TOLD + 1e-9)
    if posterior > TOLD + 1e-9:
        assert told[0].probability == pytest.approx(np.full(101, posterior))


@given(st.lists(CHANCES, max_size=6))
def test_no_line_becomes_less_likely_or_changes_its_place(several: list[float]) -> None:
    lines = [line(chance, length_mm=10.0 + k) for k, chance in enumerate(several)]
    before = {trace.length_mm: trace.probability.mean() for trace in lines}
    for trace in believed(lines, grey(), told=TOLD):
        assert trace.probability.mean() >= before[trace.length_mm] - 1e-12
        assert trace.probability.mean() < 1


def test_a_long_line_that_stands_out_is_told_however_faint_and_a_short_one_or_a_ring_is_not() -> None:
    least = setting("damage", "plain_levels")
    assert believed([line(0.2)], grey(levels=2 * least), told=TOLD)
    assert not believed([line(0.2)], grey(levels=least / 2), told=TOLD)
    assert not believed([line(0.2, length_mm=5)], grey(levels=2 * least), told=TOLD)
    turn = np.linspace(0, 0.5, 101)
    ring = Trace(45 * np.stack([np.cos(turn), np.sin(turn)], -1), np.full(101, 0.2))
    shining = grey()
    x, y = (np.arange(1240) - 620) / 10, (np.arange(1240)[:, None] - 620) / 10
    shining.bgr[np.abs(np.hypot(x, y) - 45) < 0.2] += np.uint8(2 * least)
    assert not believed([ring], shining, told=TOLD)


def maps_of(smudge: float) -> DamageMaps:
    """Even grease everywhere, and nothing else."""
    nothing = np.zeros((620, 620), np.float32)
    greasy, covered = np.full_like(nothing, smudge), np.zeros((620, 620), bool)
    return DamageMaps(5.0, nothing, nothing, nothing, greasy, nothing, nothing, covered)


def test_amid_grease_a_line_must_be_surer_than_elsewhere() -> None:
    """Common practice, no source: what a wipe may take off is not a scratch yet."""
    lines = [line(0.6), line(0.9)]
    assert without_grease(lines, maps_of(0.0)) == lines
    assert without_grease(lines, maps_of(0.6)) == lines[1:]
    assert without_grease([], maps_of(0.6)) == []
