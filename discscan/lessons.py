"""What was learned from tested and polished discs, as it is kept and told."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Literal

from discscan.records import FormatGuess, Kind


@dataclass(frozen=True)
class PlayCase:
    """A disc that was played: the chance forecast from its last photograph, and what came of it."""

    forecast: float
    played: bool


@dataclass(frozen=True)
class PolishCase:
    """A disc that was polished. `kind` is its most important damage, None where no photo showed any."""

    kind: Kind | None
    format: FormatGuess
    helped: bool


@dataclass(frozen=True)
class Share:
    """How often something happened, and how often it is to be expected.

    Attributes:
        cases, happened: counted.
        prior_yes, prior_no: cases that the prior counts for.
        mean, low, high: of the share, given both; low and high bound a 90 % interval.
    """

    cases: int
    happened: int
    prior_yes: float
    prior_no: float
    mean: float
    low: float
    high: float


@dataclass(frozen=True)
class Band:
    """The cases whose forecast lay in one band; `forecast` is their mean forecast, None without a case."""

    low: float
    high: float
    forecast: float | None
    played: Share


@dataclass(frozen=True)
class Scores:
    """How good the forecasts were: brier = reliability - resolution + uncertainty + within.

    Attributes:
        within: what the bands hide: forecasts in one band differ.
        calibration_error: mean distance from forecast to share over the bands, weighed by their cases.
    """

    brier: float
    reliability: float
    resolution: float
    uncertainty: float
    within: float
    calibration_error: float


@dataclass(frozen=True)
class Curve:
    """From a forecast to a chance as learned.

    Attributes:
        knots: (slope, offset) of the sigmoid 1 / (1 + exp(slope * log odds + offset)); of an isotonic curve, pairs of
            forecast and chance, ascending, straight between them and level beyond.
        spread: variance of the slope, covariance, variance of the offset, from so few cases; zero for an isotonic
            curve, which takes a thousand.
    """

    method: Literal["sigmoid", "isotonic"]
    knots: tuple[tuple[float, float], ...]
    spread: tuple[float, float, float] = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class PolishLesson:
    kind: Kind | None
    format: FormatGuess
    helped: Share


@dataclass(frozen=True)
class Learned:
    """A lesson in use.

    Attributes:
        file, sha256: name and bytes of the user's file that holds it.
    """

    file: str
    sha256: str
    lesson: Lesson


@dataclass(frozen=True)
class Lesson:
    """All that was learned from a book.

    Attributes:
        cases, played: tested discs that had a forecast, and those of them that played.
        scores: None without a case.
        enough: whether there are cases enough to judge the forecast by.
        brier_after: of the recalibrated forecast, on cases that it was not fitted to; None where there are not enough.
        curve: None where there are not enough cases, or where it would not have been better.
    """

    day: date
    in_use: bool
    cases: int
    played: int
    bands: tuple[Band, ...]
    scores: Scores | None
    enough: bool
    least_cases: int
    least_of_each: int
    brier_after: float | None
    curve: Curve | None
    polish: tuple[PolishLesson, ...]
