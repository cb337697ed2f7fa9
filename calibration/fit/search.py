"""How well a search did on discs of which all is known: the figures of [search] in settings.toml."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from calibration.fit.discs import TrueDisc
from calibration.fit.mended import NEAR_MM, true_line
from calibration.fit.rendered import told
from discscan.records import LINE_KINDS, DamageSurvey, Defect, FloatArray
from models.training.score import nearest_mm, sample, through

WIDE_UM = 80.0


@dataclass(frozen=True)
class Search:
    """What was found of one disc.

    Attributes:
        wide_mm, fine_mm: length of its lines that was found, and all of it.
        cracked, parted: whether it is, and whether it was said to be.
        right, wrong: confidences of the lines found that are there, and of those that are not.
    """

    wide_mm: tuple[float, float]
    fine_mm: tuple[float, float]
    cracked: tuple[bool, bool]
    parted: tuple[bool, bool]
    right: tuple[float, ...]
    wrong: tuple[float, ...]


def search_of(survey: DamageSurvey, disc: TrueDisc, *, to_truth_mm: FloatArray) -> Search:
    """Hold a survey against the disc; arguments as of `mended.steps`."""
    truth = told(disc)
    lines = [one for one in truth.defects if one.kind in LINE_KINDS]
    found = [one for one in survey.defects if one.kind in LINE_KINDS]
    places = np.concatenate([np.empty((0, 2)), *(sample(through(to_truth_mm, one.outline_mm)) for one in found)])
    real = [true_line(one, lines, to_truth_mm) is not None for one in found]
    scratches = [(one, one.width_um.value >= WIDE_UM) for one in lines if one.kind != "crack" and one.width_um]
    return Search(
        wide_mm=_found_mm([one for one, wide in scratches if wide], places),
        fine_mm=_found_mm([one for one, wide in scratches if not wide], places),
        cracked=_has("crack", truth, survey),
        parted=_has("delamination", truth, survey),
        right=tuple(one.confidence for one, there in zip(found, real, strict=True) if there),
        wrong=tuple(one.confidence for one, there in zip(found, real, strict=True) if not there),
    )


def _found_mm(lines: Sequence[Defect], places: FloatArray) -> tuple[float, float]:
    points = np.concatenate([np.empty((0, 2)), *(sample(one.outline_mm) for one in lines)])
    near = nearest_mm(points, places) <= NEAR_MM
    return float(near.sum()), float(len(points))


def _has(kind: str, *surveys: DamageSurvey) -> tuple[bool, bool]:
    truth, found = (any(one.kind == kind for one in survey.defects) for survey in surveys)
    return truth, found


def lines_of(searches: Sequence[Search]) -> Iterator[str]:
    """The figures under their names in settings.toml."""
    clean = [one for one in searches if not one.wide_mm[1] + one.fine_mm[1]]
    marked = [one for one in searches if one.wide_mm[1] + one.fine_mm[1]]
    wide, fine = (_share([getattr(one, name) for one in searches]) for name in ("wide_mm", "fine_mm"))
    yield f"    recall {wide}, recall_fine {fine}"
    false, right = sum(len(one.wrong) for one in marked), sum(len(one.right) for one in marked)
    yield f"    false_lines {false / max(1, right):.2f} of {right}"
    yield f"    false_on_clean {sum(len(one.wrong) for one in clean) / max(1, len(clean)):.2f} on {len(clean)}"
    for name, flags in ("crack", [one.cracked for one in searches]), ("layer", [one.parted for one in searches]):
        has = [said for there, said in flags if there]
        yield f"    {name}_recall {sum(has) / max(1, len(has)):.2f} of {len(has)}"
    for name, sure in (
        ("right", [value for one in searches for value in one.right]),
        ("wrong", [value for one in searches for value in one.wrong]),
    ):
        if sure:
            yield f"    sure_{name} {np.mean(sure):.2f}, spread {np.std(sure):.2f}, of {len(sure)}"


def _share(lengths: Sequence[tuple[float, float]]) -> str:
    found, whole = (sum(one[at] for one in lengths) for at in (0, 1))
    return f"{found / max(1.0, whole):.2f}"
