"""What the score of label sides says of reports whose truth is made by hand."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from models.training import score as data_side
from models.training.score_label import score

ELLIPSE = {"cx": 500.0, "cy": 500.0, "axis_major": 800.0, "axis_minor": 800.0, "angle_deg": 0.0}
TO_MM = [[0.15, 0.0, -75.0], [0.0, 0.15, -75.0], [0.0, 0.0, 1.0]]


def wound(x_mm: float, y_mm: float, radius_mm: float, **more: Any) -> dict[str, Any]:
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    border = np.stack([x_mm + radius_mm * np.cos(turn), y_mm + radius_mm * np.sin(turn)], -1)
    return {"kind": "label_damage", "outline_mm": border.tolist(), "width_um": None, "contrast": None, **more}


def disc(*defects: dict[str, Any], side: str = "label") -> dict[str, Any]:
    return {
        "side": side, "diameter_mm": 120, "condition": "worn", "outer_ellipse_px": ELLIPSE,
        "homography_px_to_mm": TO_MM, "scratch_density_mm_per_cm2": 0.0, "defects": list(defects),
    }  # fmt: skip


def label(*discs: tuple[list[dict[str, Any]], list[dict[str, Any]]]) -> dict[str, Any]:
    """The score of label sides, each with what is there and what was told."""
    names = [f"{number}.jpg" for number in range(len(discs))]
    truths = [{"file": name, "discs": [disc(*there)]} for name, (there, _) in zip(names, discs, strict=True)]
    photos = [{"file": name, "discs": [disc(*told)]} for name, (_, told) in zip(names, discs, strict=True)]
    scores: dict[str, Any] = score({"photos": photos}, truths)["wounds"]
    return scores


def test_a_wound_told_where_it_is_is_found() -> None:
    said = label(([wound(40, 0, 2)], [wound(40.3, 0, 2)]))
    assert (said["discs_with"], said["found"], said["false_discs"]) == (1, 1.0, None)
    assert said["precision"] == said["recall"] == said["flakes"] == 1.0


def test_a_wound_told_elsewhere_is_neither_found_nor_right() -> None:
    said = label(([wound(40, 0, 2)], [wound(-40, 0, 2)]))
    assert (said["found"], said["precision"], said["recall"]) == (0.0, 0.0, 0.0)


def test_a_disc_without_wounds_that_is_said_to_have_one_is_false() -> None:
    said = label(([], [wound(40, 0, 2)]), ([], []))
    assert (said["discs_with"], said["discs_without"], said["false_discs"]) == (0, 2, 0.5)


def test_half_of_two_wounds_is_half_of_the_recall_and_the_precision_stays() -> None:
    said = label(([wound(40, 0, 2), wound(0, 40, 2)], [wound(0, 40, 1.9)]))
    assert said["recall"] == pytest.approx(0.5) and said["precision"] == 1.0


def test_wounds_that_hardly_show_are_not_asked_for_but_may_be_told() -> None:
    faint = wound(40, 0, 2, width_um=30.0, contrast=0.05)
    assert label(([faint], []))["discs_with"] == 0
    assert label(([faint], [wound(40, 0, 2)]))["precision"] == 1.0


def test_a_data_side_is_no_label() -> None:
    truth = {"file": "a.jpg", "discs": [disc(wound(40, 0, 2), side="data")]}
    report = {"photos": [{"file": "a.jpg", "discs": [disc(side="data")]}]}
    assert score(report, [truth])["discs"] == {"true": 0, "found": 0, "side_right": 0}
    assert data_side.score(report, [truth])["discs"]["true"] == 1
