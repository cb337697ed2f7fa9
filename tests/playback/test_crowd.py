"""Grooves that share a beam."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discscan.formats import FORMATS
from discscan.playback import forecast
from discscan.playback.beam import blocked_share
from discscan.playback.crowd import crowding
from discscan.playback.track import strands
from discscan.records import Defect

BEAM_MM = 0.5


def crowded(*defects: Defect) -> np.ndarray:
    return crowding(strands(defects), count=len(defects), beam_mm=BEAM_MM)


def test_a_groove_alone_and_none_at_all_are_not_crowded(draw: Any) -> None:
    assert crowded(draw.arc(radius_mm=40, arc_deg=30)) == pytest.approx(np.zeros((1, 1)))
    assert crowded().shape == (0, 0)


@given(apart=st.floats(0.0, 0.6))
def test_a_neighbour_takes_its_width_times_its_chord_of_the_beam(draw: Any, apart: float) -> None:
    """Circle and chord, plane geometry; `blocked_share` is the exact area, to which a thin groove comes near."""
    weights = crowded(draw.arc(radius_mm=40, arc_deg=30), draw.arc(radius_mm=40 + apart, arc_deg=30))
    chord = np.sqrt(max(0.0, 1 - (2 * apart / BEAM_MM) ** 2))
    assert weights[0, 1] ** 2 == pytest.approx(chord**2, abs=0.04)
    assert weights[0, 0] == weights[1, 1] == 0
    exact = blocked_share(width_mm=0.01, beam_mm=BEAM_MM, offset_mm=apart)
    assert 4 / np.pi * 0.01 / BEAM_MM * weights[0, 1] == pytest.approx(exact, abs=0.005)


def test_far_neighbours_and_crossings_take_nothing_or_little(draw: Any) -> None:
    assert crowded(draw.arc(radius_mm=40, arc_deg=30), draw.arc(radius_mm=41, arc_deg=30)).max() == 0
    long = draw.arc(radius_mm=40, arc_deg=60)
    across = draw.crossing(radius_mm=(35, 45), angle_deg=60)
    assert crowded(long, across)[0, 1] < 0.25


def test_a_pack_of_hairlines_stops_what_one_of_them_does_not(draw: Any) -> None:
    """Each takes 7 % of a DVD's beam; nine within 0.3 mm take more than half of it."""
    assert blocked_share(width_mm=0.03, beam_mm=FORMATS["dvd"].beam_mm) == pytest.approx(0.076, abs=0.002)

    def chance(count: int) -> float:
        radii = 40 + np.linspace(0, 0.3, count)
        pack = (draw.arc(radius_mm=r, arc_deg=20, width_um=30, sigma_um=1, kind="scratch") for r in radii)
        one = forecast(survey=draw.survey(*pack), format="dvd", diameter_mm=120, widen=1.0, seed=2)
        return one.chance.probability

    assert chance(1) > 0.9
    assert chance(9) < 0.6 * chance(1)
