"""What is measured along a line, on lines whose places are typed."""

from __future__ import annotations

import numpy as np
import pytest

from discscan.damage.measure import look_at
from discscan.damage.trace import Trace
from discscan.records import FlatDisc

GREY = FlatDisc(
    120, 10.0, np.full((1240, 1240, 3), 100, np.uint8), np.zeros((1240, 1240), np.uint8), 10.0, 1.0, 0.0, 1.0
)


@pytest.mark.parametrize("turn_deg", [0, 30, 90, 200])
def test_an_arc_strays_from_the_best_straight_line_by_three_tenths_of_its_bow(turn_deg: float) -> None:
    angle = np.radians(np.linspace(turn_deg, turn_deg + 30, 200))
    points = 40 * np.stack([np.cos(angle), np.sin(angle)], -1)
    (look,) = look_at([Trace(points, np.ones(len(points)))], GREY)
    bow_mm = 40 * (1 - np.cos(np.radians(15)))
    # of a parabola of height h over its chord: the mean of (x^2 - 1/3)^2 over -1..1 is 4/45
    assert look.straight_spread_mm == pytest.approx(bow_mm * (4 / 45) ** 0.5, rel=0.03)
    assert look.radius_spread_mm == pytest.approx(0, abs=0.01)


def test_a_straight_line_strays_from_none_but_from_the_circle() -> None:
    points = np.stack([np.full(101, 40.0), np.linspace(-10, 10, 101)], -1)
    (look,) = look_at([Trace(points, np.ones(len(points)))], GREY)
    assert look.straight_spread_mm == pytest.approx(0, abs=1e-6)
    assert look.radius_spread_mm == pytest.approx((np.hypot(40, 10) - 40) * (4 / 45) ** 0.5, rel=0.03)
