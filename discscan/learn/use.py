"""What was learned, in use."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from discscan.learn.curves import recalibrated, recalibrated_interval
from discscan.lessons import Curve, Lesson
from discscan.records import Chance, Playback, Polish


def with_learned(playback: Playback, polish: Polish, lesson: Lesson) -> tuple[Playback, Polish]:
    """Both forecasts recalibrated, and as they were before kept beside.

    What was learned is of discs as they are; after a polish the same forecast is made for what is left of the damage,
    so the same curve holds for it.
    """
    if lesson.curve is None:
        return playback, polish
    return (
        replace(playback, chance=_recalibrated(playback.chance, lesson.curve), before_learning=playback.chance),
        replace(polish, chance=_recalibrated(polish.chance, lesson.curve), before_learning=polish.chance),
    )


def _recalibrated(chance: Chance, curve: Curve) -> Chance:
    middle = float(recalibrated(curve, np.array([chance.probability]))[0])
    low, high = recalibrated_interval(curve, low=chance.low, middle=chance.probability, high=chance.high)
    return Chance(middle, low, high)
