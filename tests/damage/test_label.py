"""Wounds of the label, from maps made by hand: what the net would say of them, in millimetres that are known."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from damage.by_hand import SURE, with_shapes
from drawn import Camera, Look, Truth, blob, draw

from discscan.calibration import limit, setting
from discscan.damage import DamageMaps, damage_maps, survey_damage
from discscan.doubts import Doubt
from discscan.flatten.grid import flatten_disc
from discscan.records import DamageSurvey, Defect, Face, FlatDisc, FormatName, Sight
from discscan.weights import net
from models.training.score_label import TOLERANCE_MM

FACE = Face("label", 1.0, "unknown", "unknown", "guessed", ("cd", "dvd", "bd"))
PLACE_MM = 0.3
"""A cell of the map is 0.2 mm wide, and a line is drawn at least one cell wide."""


@pytest.fixture(scope="module")
def label() -> tuple[FlatDisc, DamageMaps, Truth]:
    """A drawn label, and maps of it on which nothing is seen."""
    bgr, truth = draw(look=Look(side="label"), camera=Camera(tilt_deg=10), seed=4)
    flat = flatten_disc(bgr, truth.located())
    maps = damage_maps(flat, FACE, net("damage"))
    return flat, replace(maps, label=np.zeros_like(maps.label)), truth


def painted(maps: DamageMaps, *shapes: np.ndarray, width_mm: float = 0.0, level: float = SURE) -> DamageMaps:
    """With what the net would say of damage: lines of some width, and filled borders (width 0), mm."""
    return replace(
        maps, label=with_shapes(maps.label, *shapes, px_per_mm=maps.px_per_mm, width_mm=width_mm, level=level)
    )


def circle(x_mm: float, y_mm: float, radius_mm: float) -> np.ndarray:
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    return np.array([x_mm, y_mm]) + radius_mm * np.stack([np.cos(turn), np.sin(turn)], -1)


def line(*points: tuple[float, float]) -> np.ndarray:
    return np.array(points, float)


def surveyed(flat: FlatDisc, maps: DamageMaps, *formats: FormatName) -> DamageSurvey:
    name: Any = formats[0] if len(formats) == 1 else "unknown"
    face = Face("label", 1.0, "unknown", name, "guessed", formats)
    return survey_damage(flat, face, maps)


def area(defect: Defect) -> float:
    assert defect.area_mm2 is not None
    return defect.area_mm2.value


def enclosed_mm2(border: np.ndarray) -> float:
    x, y = border.T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2)


def test_a_label_on_which_nothing_is_seen_has_no_damage(label: tuple[FlatDisc, DamageMaps, Truth]) -> None:
    flat, maps, _ = label
    survey = surveyed(flat, maps, "cd")
    assert survey.defects == () and survey.doubts == ()
    assert survey.measured_fraction == flat.measured_fraction > 0.5


def test_a_flake_has_its_place_and_size(label: tuple[FlatDisc, DamageMaps, Truth]) -> None:
    flat, maps, _ = label
    (found,) = surveyed(flat, painted(maps, circle(35, -12, 3)), "cd").defects
    assert found.kind == "label_damage" and not found.see_through
    assert area(found) == pytest.approx(np.pi * 9, rel=0.1)
    assert enclosed_mm2(found.outline_mm) == pytest.approx(np.pi * 9, rel=0.15)
    away = np.hypot(*(found.outline_mm - (35, -12)).T)
    assert away == pytest.approx(3.0, abs=PLACE_MM)
    assert setting("damage", "level.label") <= found.confidence <= SURE


@pytest.mark.parametrize("width_mm", [0.2, 0.4])
def test_a_scratch_through_the_print_is_outlined_along_its_line(
    label: tuple[FlatDisc, DamageMaps, Truth], width_mm: float
) -> None:
    flat, maps, _ = label
    (found,) = surveyed(flat, painted(maps, line((26, 5), (50, 22)), width_mm=width_mm), "cd").defects
    assert enclosed_mm2(found.outline_mm) == pytest.approx(area(found), rel=0.25)
    assert found.radius_min_mm == pytest.approx(np.hypot(26, 5), abs=1)
    assert found.radius_max_mm == pytest.approx(np.hypot(50, 22), abs=1)
    way = np.array([24.0, 17.0]) / np.hypot(24, 17)
    aside = np.abs((found.outline_mm - (26, 5)) @ np.array([-way[1], way[0]]))
    assert aside.max() < width_mm / 2 + PLACE_MM


def test_scratches_that_cross_enclose_nothing_that_is_whole(label: tuple[FlatDisc, DamageMaps, Truth]) -> None:
    flat, maps, _ = label
    square = [((30, -10), (30, 10)), ((45, -10), (45, 10)), ((28, -8), (47, -8)), ((28, 8), (47, 8))]
    survey = surveyed(flat, painted(maps, *(line(*ends) for ends in square), width_mm=0.3), "cd")
    assert len(survey.defects) == 4
    assert sum(enclosed_mm2(one.outline_mm) for one in survey.defects) < 60  # the four lines; the square holds 240


def test_a_scratch_that_ends_in_a_flake_leaves_the_flake_whole(label: tuple[FlatDisc, DamageMaps, Truth]) -> None:
    flat, maps, _ = label
    both = painted(painted(maps, circle(40, 0, 2.5)), line((40, 0), (40, 25)), width_mm=0.4)
    survey = surveyed(flat, both, "cd")
    assert len(survey.defects) == 2
    flake = max(survey.defects, key=area)
    assert area(flake) == pytest.approx(np.pi * 2.5**2, rel=0.15)


def test_what_the_level_leaves_out_is_not_told(label: tuple[FlatDisc, DamageMaps, Truth]) -> None:
    flat, maps, _ = label
    least = setting("damage", "level.label")
    assert surveyed(flat, painted(maps, circle(35, -12, 3), level=least - 0.1), "cd").defects == ()
    assert surveyed(flat, painted(maps, circle(35, -12, 3), level=least + 0.1), "cd").defects != ()


def test_the_clear_hub_the_edge_and_what_was_not_seen_have_no_wounds(label: tuple[FlatDisc, DamageMaps, Truth]) -> None:
    flat, maps, _ = label
    assert surveyed(flat, painted(maps, circle(15, 0, 3), circle(0, 59.6, 0.6)), "cd").defects == ()
    sight = flat.sight.copy()
    sight[:, sight.shape[1] // 2 :] = Sight.GLARE
    hidden = replace(flat, sight=sight)
    wounded = painted(maps, circle(35, -12, 3), circle(-35, -12, 3))
    (found,) = surveyed(hidden, wounded, "cd").defects
    assert found.outline_mm[:, 0].max() < 0


def test_how_deep_a_wound_goes_is_a_doubt_where_the_disc_may_be_a_cd(
    label: tuple[FlatDisc, DamageMaps, Truth],
) -> None:
    flat, maps, _ = label
    wounded = painted(maps, circle(35, -12, 3))
    assert surveyed(flat, wounded, "cd").doubts == (Doubt.LABEL_DEPTH_UNKNOWN,)
    assert surveyed(flat, wounded, "cd", "dvd", "bd").doubts == (Doubt.LABEL_DEPTH_UNKNOWN,)
    assert surveyed(flat, wounded, "dvd").doubts == ()
    assert {one.reaches_data for one in surveyed(flat, wounded, "cd").defects} == {limit("label_wound_reaches").value}


def test_lines_of_the_data_sides_kinds_are_not_told_of_a_label(label: tuple[FlatDisc, DamageMaps, Truth]) -> None:
    """Print is full of lines; only what the net calls damaged print counts."""
    flat, maps, _ = label
    lined = replace(maps, line=painted(maps, line((26, 5), (50, 22)), width_mm=0.3).label)
    assert surveyed(flat, lined, "cd").defects == ()


def seen_on_a_drawn_label(seed: int, *, wounded: bool) -> tuple[Defect, ...]:
    """What the shipped net says of a drawn label."""
    marks = [blob(38, -14, 4, kind="label_damage")] if wounded else []
    camera = Camera(tilt_deg=10, azimuth_deg=40 * seed)
    bgr, truth = draw(*marks, look=Look(side="label"), camera=camera, seed=seed)
    flat = flatten_disc(bgr, truth.located())
    return survey_damage(flat, FACE, damage_maps(flat, FACE, net("damage"))).defects


def test_print_that_is_gone_is_seen_on_half_of_the_drawn_labels() -> None:
    """A flake of 8 mm; of some labels the net sees a part of it."""
    seen = [max(seen_on_a_drawn_label(seed, wounded=True), key=area, default=None) for seed in range(8)]
    whole = [one for one in seen if one is not None and abs(np.sqrt(area(one) / np.pi) - 4) < TOLERANCE_MM]
    assert len(whole) >= 4
    for one in whole:
        assert np.hypot(*(one.outline_mm.mean(axis=0) - (38, -14))) < 1.5


def test_print_that_is_whole_is_hardly_ever_a_wound() -> None:
    """On one of the six; of 40 rendered labels on 10 (models/CARD.md)."""
    assert sum(bool(seen_on_a_drawn_label(seed, wounded=False)) for seed in range(6)) <= 1
