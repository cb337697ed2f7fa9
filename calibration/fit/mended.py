"""A survey put right, one step after another: what each kind of mistake of the search costs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from calibration.fit.discs import TrueDisc
from calibration.fit.rendered import told
from discscan.records import LINE_KINDS, DamageSurvey, Defect, FloatArray
from models.training.score import nearest_mm, sample, through

STEPS = (
    "what was found",
    "without false lines",
    "and true widths",
    "and all cracks and parted layers",
    "all damage, all of it seen",
)
"""What is put right, each on top of the last."""

GRAVE = ("crack", "delamination")
NEAR_MM = 0.6
MOST = 0.5
"""A found line is a true one where most of it lies so near to one (models/training/score.py)."""


def steps(survey: DamageSurvey, disc: TrueDisc, *, to_truth_mm: FloatArray) -> list[DamageSurvey]:
    """The survey after each of `STEPS`.

    Args:
        survey: of the photograph.
        disc: what it shows.
        to_truth_mm: (3, 3) from the survey's millimetres to the true ones.
    """
    truth = told(disc)
    grave = [one for one in truth.defects if one.kind in GRAVE]
    lines = [one for one in truth.defects if one.kind in LINE_KINDS]
    real = [(one, true_line(one, lines, to_truth_mm)) for one in survey.defects]
    kept = [(one, line) for one, line in real if one.kind not in LINE_KINDS or line is not None]
    wide = [one if line is None else _as_wide_as(line, one) for one, line in kept]
    found = (
        survey.defects,
        tuple(one for one, _ in kept),
        tuple(wide),
        (*(one for one in wide if one.kind not in GRAVE), *grave),
    )
    return [*(replace(survey, defects=defects) for defects in found), truth]


def true_line(found: Defect, lines: list[Defect], to_truth_mm: FloatArray) -> Defect | None:
    """The true line that a found line is; None for areas, and where it is none."""
    points = sample(through(to_truth_mm, found.outline_mm)) if found.kind in LINE_KINDS else np.empty((0, 2))
    if not len(points) or not lines:
        return None
    away = np.stack([nearest_mm(points, sample(line.outline_mm)) for line in lines])
    near = away.min(axis=0) <= NEAR_MM
    if near.mean() < MOST:
        return None
    return lines[int(np.bincount(away.argmin(axis=0)[near], minlength=len(lines)).argmax())]


def _as_wide_as(true: Defect, found: Defect) -> Defect:
    return replace(found, width_um=true.width_um, width_is_bound=False)
