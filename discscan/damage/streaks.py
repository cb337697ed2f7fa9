"""Streaks of a small lamp in the track's grating: lines of light that point at the disc's centre, whole or torn."""

from __future__ import annotations

import numpy as np

from discscan.calibration import setting
from discscan.damage.measure import LineLook
from discscan.records import FloatArray


def streaks(looks: list[LineLook]) -> list[bool]:
    """For each line, whether it is a streak or torn off one.

    A lamp's streak lies on both sides of the centre. Beside it, what has the rainbow's colours is of it, and so is what
    points at the centre, though it be too bright to show a colour.
    """
    plain = [is_streak(look) for look in looks]
    if not any(plain):
        return plain
    ways_deg = np.array([_way_deg(look) for look, streak in zip(looks, plain, strict=True) if streak])
    return [streak or _is_torn(look, ways_deg) for look, streak in zip(looks, plain, strict=True)]


def is_streak(look: LineLook) -> bool:
    """A small lamp's streak in the rainbow points at the centre and has its colours; a scratch has the lamp's own."""
    return _points_inward(look) and _is_coloured(look) and look.tint > setting("damage", "streak_colour")


def _is_torn(look: LineLook, ways_deg: FloatArray) -> bool:
    """Whether it lies as one of the streaks does, this side of the centre or beyond it, and has a mark of one."""
    apart_deg = np.abs((_way_deg(look) - ways_deg + 90) % 180 - 90)
    beside = bool((apart_deg < setting("damage", "streak_beside_deg")).any())
    return beside and (_is_coloured(look) or _points_inward(look))


def _points_inward(look: LineLook) -> bool:
    misses_mm, length_mm = (setting("damage", f"streak_{name}_mm") for name in ("misses", "length"))
    return look.misses_centre_mm < misses_mm and look.length_mm > length_mm


def _is_coloured(look: LineLook) -> bool:
    return look.colour > setting("damage", "streak_colour")


def _way_deg(look: LineLook) -> float:
    """In which direction from the disc's centre a line lies."""
    x, y = look.points_mm.mean(axis=0)
    return float(np.degrees(np.arctan2(y, x)))
