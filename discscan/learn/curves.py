"""Recalibration: from a forecast to the chance that such forecasts had."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from discscan.calibration import limit
from discscan.lessons import Curve

Floats = NDArray[np.float64]
_NEWTON_STEPS = 100
_90_PERCENT = 1.645
"""Standard deviations of a normal distribution on either side that hold nine tenths of it."""


def fit_sigmoid(*, forecasts: Floats, played: Floats) -> Curve:
    """Platt's sigmoid on the log odds of the forecasts, so that slope -1 and offset 0 leave them as they are.

    References:
        Platt, Probabilistic outputs for support vector machines, 1999: the targets (N+ + 1)/(N+ + 2) and 1/(N- + 2).
        Lin, Lin, Weng, A note on Platt's probabilistic outputs, 2007: Newton's method with backtracking.
        (Both from memory.)
    """
    score = log_odds(forecasts)
    yes = float(played.sum())
    no = len(played) - yes
    target = np.where(played > 0, (yes + 1) / (yes + 2), 1 / (no + 2))
    design = np.stack([score, np.ones_like(score)], axis=1)
    knots = np.array([0.0, np.log((no + 1) / (yes + 1))])
    for _ in range(_NEWTON_STEPS):
        chance = sigmoid(score, *knots)
        downhill = design.T @ (chance - target)  # the loss falls along this
        bend = _bend(design, chance)
        step = np.linalg.solve(bend, downhill)
        if abs(downhill @ step) < 1e-14:
            break
        length, before = 1.0, _loss(score, target, knots)
        while length > 1e-10 and _loss(score, target, knots + length * step) > before - 1e-4 * length * downhill @ step:
            length /= 2
        knots = knots + length * step
    doubt = np.linalg.inv(_bend(design, sigmoid(score, *knots)))
    spread = float(doubt[0, 0]), float(doubt[0, 1]), float(doubt[1, 1])
    return Curve("sigmoid", ((float(knots[0]), float(knots[1])),), spread)


def fit_isotonic(*, forecasts: Floats, played: Floats) -> Curve:
    """The rising steps nearest to the outcomes: pool adjacent violators.

    References:
        Zadrozny and Elkan, Transforming classifier scores into accurate multiclass probability estimates, 2002.
    """
    places, group = np.unique(forecasts, return_inverse=True)
    sums, counts = np.bincount(group, weights=played), np.bincount(group)
    pools: list[tuple[float, int, int]] = []  # sum, count, how many places
    for total, count in zip(sums.tolist(), counts.tolist(), strict=True):
        width = 1
        while pools and pools[-1][0] * count >= total * pools[-1][1]:
            earlier = pools.pop()
            total, count, width = total + earlier[0], count + earlier[1], width + earlier[2]
        pools.append((total, count, width))
    level = np.repeat([total / count for total, count, _ in pools], [width for _, _, width in pools])
    return Curve("isotonic", tuple(zip(places.tolist(), level.tolist(), strict=True)))


def recalibrated(curve: Curve, forecasts: Floats) -> Floats:
    """The chances that a curve gives for forecasts."""
    if curve.method == "sigmoid":
        return sigmoid(log_odds(forecasts), *curve.knots[0])
    places, levels = zip(*curve.knots, strict=True)
    chances: Floats = np.interp(forecasts, places, levels)
    return chances


def recalibrated_interval(curve: Curve, *, low: float, middle: float, high: float) -> tuple[float, float]:
    """The 90 % interval of a recalibrated chance: that of the forecast, and how little so few cases tell of the curve.

    Both are taken as independent and add up in quadrature on the curve's own scale.

    References:
        the curve's part: the delta method with the inverse of Fisher's information (from memory).
    """
    if curve.method == "isotonic":
        lowest, highest = sorted(recalibrated(curve, np.array([low, high])).tolist())
        return lowest, highest
    slope, offset = curve.knots[0]
    at_low, at, at_high = (slope * log_odds(np.array([low, middle, high])) + offset).tolist()
    score = float(log_odds(np.array([middle]))[0])
    of_slope, both, of_offset = curve.spread
    doubt = _90_PERCENT * np.sqrt(of_slope * score**2 + 2 * both * score + of_offset)
    ends = at_low - at, at_high - at
    up, down = np.hypot(max(0.0, *ends), doubt), np.hypot(min(0.0, *ends), doubt)
    lowest, highest = sigmoid(np.array([at + up, at - down]), 1.0, 0.0).tolist()
    return lowest, highest


def log_odds(forecasts: Floats) -> Floats:
    """Of forecasts, held off 0 and 1 by `forecast_floor`."""
    floor = limit("forecast_floor", file="learning").value
    held = np.clip(forecasts, floor, 1 - floor)
    odds: Floats = np.log(held / (1 - held))
    return odds


def sigmoid(score: Floats, slope: float, offset: float) -> Floats:
    """Platt's p = 1 / (1 + exp(A f + B))."""
    return 0.5 - 0.5 * np.tanh((slope * score + offset) / 2)  # the same, and never too large for a float


def _bend(design: Floats, chance: Floats) -> Floats:
    """The second derivative of the loss: Fisher's information. A little more keeps it from being singular."""
    return np.asarray((design * (chance * (1 - chance))[:, None]).T @ design + 1e-12 * np.eye(2))


def _loss(score: Floats, target: Floats, knots: Floats) -> float:
    """Cross-entropy: with z = A f + B it is log(1 + exp(z)) - (1 - t) z, since 1 - p = exp(z) / (1 + exp(z))."""
    raised = knots[0] * score + knots[1]
    return float((np.logaddexp(0, raised) - (1 - target) * raised).sum())
