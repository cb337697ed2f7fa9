"""From cases to what they teach, and how sure that is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

import numpy as np
from numpy.typing import NDArray

from discscan.calibration import limit
from discscan.events import Item
from discscan.learn.cases import play_cases, polish_cases
from discscan.learn.curves import Floats, fit_isotonic, fit_sigmoid, recalibrated
from discscan.learn.scores import brier, scores
from discscan.learn.shares import share
from discscan.lessons import Band, Curve, Lesson, PlayCase, PolishCase, PolishLesson


def learn(items: Sequence[Item], *, today: date) -> Lesson:
    """What a book teaches: whether the forecast was right, and how often a polish helps."""
    return lesson(plays=play_cases(items), polishes=polish_cases(items), today=today)


def lesson(*, plays: Sequence[PlayCase], polishes: Iterable[PolishCase], today: date) -> Lesson:
    """What cases teach. A recalibration is kept only where it does better on cases that it was not fitted to."""
    forecasts = np.array([case.forecast for case in plays], dtype=float)
    played = np.array([case.played for case in plays], dtype=float)
    count, yes = len(plays), int(played.sum())
    groups = _band_of(forecasts)
    least, least_of_each = int(_limit("least_cases")), int(_limit("least_of_each"))
    enough = count >= least and min(yes, count - yes) >= least_of_each
    found = scores(forecasts=forecasts, played=played, groups=groups) if count else None
    after = _held_out(forecasts, played) if enough else None
    better = found is not None and after is not None and after < found.brier
    return Lesson(
        day=today,
        in_use=True,
        cases=count,
        played=yes,
        bands=_bands(forecasts, played, groups),
        scores=found,
        enough=enough,
        least_cases=least,
        least_of_each=least_of_each,
        brier_after=after,
        curve=_fit(forecasts, played) if better else None,
        polish=_polish_lessons(polishes),
    )


def _fit(forecasts: Floats, played: Floats) -> Curve:
    many = len(forecasts) >= _limit("least_cases_isotonic")
    return (fit_isotonic if many else fit_sigmoid)(forecasts=forecasts, played=played)


def _held_out(forecasts: Floats, played: Floats) -> float:
    """Brier's score of the recalibrated forecast, each case by a curve fitted to the other folds."""
    fold = np.arange(len(forecasts)) % int(_limit("folds"))
    chance = np.empty_like(forecasts)
    for number in np.unique(fold):
        out = fold == number
        chance[out] = recalibrated(_fit(forecasts[~out], played[~out]), forecasts[out])
    return brier(forecasts=chance, played=played)


def _band_of(forecasts: Floats) -> NDArray[np.intp]:
    bands = int(_limit("forecast_bands"))
    return np.minimum((forecasts * bands).astype(np.intp), bands - 1)


def _bands(forecasts: Floats, played: Floats, groups: NDArray[np.intp]) -> tuple[Band, ...]:
    bands, weight = int(_limit("forecast_bands")), _limit("forecast_cases")
    found = []
    for number in range(bands):
        here = groups == number
        cases = int(here.sum())
        forecast = float(forecasts[here].mean()) if cases else None
        prior = weight * ((number + 0.5) / bands if forecast is None else _held_off(forecast))
        shown = share(cases=cases, happened=int(played[here].sum()), prior_yes=prior, prior_no=weight - prior)
        found.append(Band(number / bands, (number + 1) / bands, forecast, shown))
    return tuple(found)


def _held_off(forecast: float) -> float:
    """A Beta prior has no share of exactly 0 or 1."""
    floor = _limit("forecast_floor")
    return min(max(forecast, floor), 1 - floor)


def _polish_lessons(polishes: Iterable[PolishCase]) -> tuple[PolishLesson, ...]:
    helped: dict[tuple[str, str], list[PolishCase]] = {}
    for case in polishes:
        helped.setdefault((case.kind or "other", case.format), []).append(case)
    return tuple(_polish_lesson(kind, cases) for (kind, _), cases in sorted(helped.items()))


def _polish_lesson(kind: str, cases: Sequence[PolishCase]) -> PolishLesson:
    shown = share(
        cases=len(cases),
        happened=sum(case.helped for case in cases),
        prior_yes=_limit(f"polish.{kind}.helped"),
        prior_no=_limit(f"polish.{kind}.not_helped"),
    )
    return PolishLesson(cases[0].kind, cases[0].format, shown)


def _limit(name: str) -> float:
    return limit(name, file="learning").value
