"""How good forecasts were, and why."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from discscan.learn.curves import Floats
from discscan.lessons import Scores


def brier(*, forecasts: Floats, played: Floats) -> float:
    """Mean squared distance of forecast and outcome (Brier, Monthly Weather Review 78, 1950)."""
    return float(np.mean((forecasts - played) ** 2))


def scores(*, forecasts: Floats, played: Floats, groups: NDArray[np.intp]) -> Scores:
    """Brier's score split into its parts, over groups of like forecasts (shape (n,), one group number a case).

    References:
        Murphy, A new vector partition of the probability score, Journal of Applied Meteorology 12, 1973.
        Calibration error: Naeini et al., 2015; it comes out too large on small sets (both from memory).
    """
    count = np.bincount(groups)
    kept = count > 0
    weight = count[kept] / len(forecasts)
    forecast = np.bincount(groups, weights=forecasts)[kept] / count[kept]
    outcome = np.bincount(groups, weights=played)[kept] / count[kept]
    overall = float(played.mean())
    reliability = float(weight @ (forecast - outcome) ** 2)
    resolution = float(weight @ (outcome - overall) ** 2)
    uncertainty = overall * (1 - overall)
    whole = brier(forecasts=forecasts, played=played)
    return Scores(
        brier=whole,
        reliability=reliability,
        resolution=resolution,
        uncertainty=uncertainty,
        within=whole - (reliability - resolution + uncertainty),
        calibration_error=float(weight @ abs(forecast - outcome)),
    )
