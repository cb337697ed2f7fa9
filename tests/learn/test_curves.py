"""Recalibration and scores, against worked examples and SciPy."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as some
from scipy.optimize import isotonic_regression, minimize

from discscan.learn.curves import (
    Floats,
    fit_isotonic,
    fit_sigmoid,
    log_odds,
    recalibrated,
    recalibrated_interval,
    sigmoid,
)
from discscan.learn.scores import brier, scores
from discscan.lessons import Curve

CASES = some.lists(some.tuples(some.floats(0, 1), some.booleans()), min_size=1, max_size=60)


def split(cases: list[tuple[float, bool]]) -> dict[str, Floats]:
    forecasts, played = zip(*cases, strict=True)
    return {"forecasts": np.array(forecasts, dtype=float), "played": np.array(played, dtype=float)}


def test_platts_sigmoid() -> None:
    """Platt 1999, p = 1 / (1 + exp(A f + B)): A -1.5, B 0.3, f 1 give 1 / (1 + exp(-1.2)) = 0.76852."""
    assert sigmoid(np.array([1.0]), -1.5, 0.3)[0] == pytest.approx(0.76852, abs=5e-6)


@given(forecast=some.floats(0.01, 0.99))
def test_slope_minus_one_and_offset_zero_leave_a_forecast_as_it_is(forecast: float) -> None:
    same = recalibrated(Curve("sigmoid", ((-1.0, 0.0),)), np.array([forecast]))
    assert same[0] == pytest.approx(forecast, abs=1e-12)


def test_forecasts_that_say_nothing_get_platts_targets() -> None:
    """Platt 1999: 8 that played and 4 that did not have the targets 0.9 and 1/6; alike, they get the targets' mean."""
    played = np.array([1.0] * 8 + [0.0] * 4)
    curve = fit_sigmoid(forecasts=np.full(12, 0.7), played=played)
    expected = (8 * 0.9 + 4 / 6) / 12
    assert recalibrated(curve, np.array([0.7]))[0] == pytest.approx(expected, abs=1e-6)


@settings(max_examples=50)
@given(cases=CASES)
def test_no_other_sigmoid_fits_better(cases: list[tuple[float, bool]]) -> None:
    """Held against SciPy's minimiser of the same cross-entropy."""
    data = split(cases)
    yes, no = data["played"].sum(), (1 - data["played"]).sum()
    target = np.where(data["played"] > 0, (yes + 1) / (yes + 2), 1 / (no + 2))

    def loss(chance: Floats) -> float:
        return float(-(target * np.log(chance) + (1 - target) * np.log1p(-chance)).sum())

    found = recalibrated(fit_sigmoid(**data), data["forecasts"])
    score = log_odds(data["forecasts"])
    start = np.array([0.0, np.log((no + 1) / (yes + 1))])
    other = minimize(lambda knots: loss(np.clip(sigmoid(score, *knots), 1e-12, 1 - 1e-12)), start)
    assert loss(found) <= other.fun + 1e-6
    assert found.sum() == pytest.approx(target.sum(), abs=1e-4), "the offset is free, so the mean is kept"


def test_discs_told_apart_without_fail_still_give_no_certainty() -> None:
    """Platt's targets are there for this: the plain likelihood has no maximum here."""
    data = split([(0.2, False)] * 5 + [(0.8, True)] * 5)
    chance = recalibrated(fit_sigmoid(**data), np.array([0.2, 0.8]))
    assert chance == pytest.approx([1 / 7, 6 / 7], abs=1e-5)


def test_few_cases_leave_a_wide_interval() -> None:
    """40 forecasts of one half, of which 20 come true: a share of 0.5 with a standard error of sqrt(0.25 / 40) = 0.079.

    On the curve's scale 1 / sqrt(40 * 0.25) = 0.316 (any textbook on logistic regression), times 1.645.
    """
    curve = fit_sigmoid(forecasts=np.full(40, 0.5), played=np.repeat([0.0, 1.0], 20))
    low, high = recalibrated_interval(curve, low=0.5, middle=0.5, high=0.5)
    assert (low, high) == pytest.approx((1 / (1 + np.exp(0.520)), 1 / (1 + np.exp(-0.520))), abs=1e-3)
    assert (low, high) == pytest.approx((0.5 - 1.645 * 0.079, 0.5 + 1.645 * 0.079), abs=0.005)


def test_the_spread_is_that_of_samples_drawn_anew() -> None:
    """The bootstrap (Efron 1979, from memory): the curve at 0.8 over 300 samples of the same cases."""
    chance = np.random.default_rng(3)
    forecasts = chance.uniform(0.05, 0.95, 200)
    played = (chance.random(200) < forecasts**1.5).astype(float)
    low, high = recalibrated_interval(fit_sigmoid(forecasts=forecasts, played=played), low=0.8, middle=0.8, high=0.8)
    again = []
    for _ in range(300):
        drawn = chance.integers(0, 200, 200)
        again.append(
            float(recalibrated(fit_sigmoid(forecasts=forecasts[drawn], played=played[drawn]), np.array([0.8]))[0])
        )
    assert (low, high) == pytest.approx(np.quantile(again, [0.05, 0.95]), abs=0.02)


@given(some.floats(0.02, 0.5), some.floats(0.5, 0.98), some.floats(-3, 3), some.floats(-3, 3), some.floats(0, 1))
def test_an_interval_holds_its_chance_and_no_doubt_leaves_the_forecasts_own(
    low: float, high: float, slope: float, offset: float, doubt: float
) -> None:
    middle = (low + high) / 2
    sure = Curve("sigmoid", ((slope, offset),))
    unsure = Curve("sigmoid", ((slope, offset),), (0.0, 0.0, doubt))
    at = float(recalibrated(sure, np.array([middle]))[0])
    ends = sorted(recalibrated(sure, np.array([low, high])).tolist())
    assert recalibrated_interval(sure, low=low, middle=middle, high=high) == pytest.approx(ends, abs=1e-9)
    wide = recalibrated_interval(unsure, low=low, middle=middle, high=high)
    assert wide[0] <= ends[0] + 1e-9 and wide[1] >= ends[1] - 1e-9 and wide[0] <= at <= wide[1]


def test_neighbours_out_of_order_are_pooled() -> None:
    """0, 1, 0, 0, 1, 1 in this order give 0, 1/3, 1/3, 1/3, 1, 1 (as scikit-learn's isotonic_regression does)."""
    forecasts = np.arange(6) / 10
    curve = fit_isotonic(forecasts=forecasts, played=np.array([0.0, 1, 0, 0, 1, 1]))
    assert recalibrated(curve, forecasts) == pytest.approx([0, 1 / 3, 1 / 3, 1 / 3, 1, 1])


@given(cases=CASES)
def test_an_isotonic_curve_is_that_of_scipy_rises_and_keeps_the_mean(cases: list[tuple[float, bool]]) -> None:
    data = split(cases)
    places, group = np.unique(data["forecasts"], return_inverse=True)
    weights = np.bincount(group)
    expected = isotonic_regression(np.bincount(group, weights=data["played"]) / weights, weights=weights).x
    found = recalibrated(fit_isotonic(**data), places)
    assert found == pytest.approx(expected, abs=1e-9)
    assert (np.diff(found) >= 0).all()
    assert weights @ found == pytest.approx(data["played"].sum())


@pytest.mark.parametrize(
    ("forecasts", "played", "expected"),
    [([0.1, 0.9, 0.8, 0.3], [0, 1, 1, 0], 0.0375), ([0.9, 0.8, 0.3, 0.1], [1, 1, 0, 1], 0.2375)],
)
def test_the_brier_score(forecasts: list[float], played: list[int], expected: float) -> None:
    """The first is the example of scikit-learn's brier_score_loss."""
    found = brier(forecasts=np.array(forecasts), played=np.array(played, dtype=float))
    assert found == pytest.approx(expected, abs=1e-12)


def test_murphys_split() -> None:
    """Murphy 1973: 0.25 for 4 cases, 2 of them yes; 0.8 for 6, 4 yes: 0.035667 - 0.006667 + 0.24 = 0.269.

    Calibration error (Naeini 2015): 0.4 * 0.25 + 0.6 * 0.13333 = 0.18.
    """
    data = split([(0.25, one < 2) for one in range(4)] + [(0.8, one < 4) for one in range(6)])
    found = scores(**data, groups=np.array([1] * 4 + [4] * 6))
    parts = [found.reliability, found.resolution, found.uncertainty, found.brier]
    assert parts == pytest.approx([0.035667, 0.006667, 0.24, 0.269], abs=5e-7)
    assert found.within == pytest.approx(0, abs=1e-12)
    assert found.calibration_error == pytest.approx(0.18)


@given(cases=CASES)
def test_the_parts_make_up_the_score_and_none_is_negative(cases: list[tuple[float, bool]]) -> None:
    data = split([(round(forecast, 1), played) for forecast, played in cases])
    found = scores(**data, groups=np.rint(data["forecasts"] * 10).astype(np.intp))
    assert found.within == pytest.approx(0, abs=1e-12), "all forecasts of a group are alike"
    assert min(found.reliability, found.resolution, found.uncertainty) >= 0
    assert found.calibration_error**2 <= found.reliability + 1e-12
