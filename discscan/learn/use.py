"""What was learned, in use."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import numpy as np

from discscan.deals import Forecast
from discscan.learn.curves import recalibrated
from discscan.lessons import Curve


def as_learned(forecast: Forecast, curve: Curve) -> Forecast:
    """A forecast with its chance and interval recalibrated; that of a polish was not learned, and stays."""
    told = np.array([forecast.low, forecast.chance, forecast.high], dtype=float)
    low, chance, high = (Decimal(f"{one:.3f}") for one in sorted(recalibrated(curve, told).tolist()))
    return replace(forecast, low=low, chance=chance, high=high)
