"""The survey of drawn discs whose scratches are known in millimetres."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from drawn import Camera, Drawable, Look, RingArc, Scratch, draw

from discscan.damage import damage_maps, survey_damage
from discscan.flatten.grid import flatten_disc
from discscan.records import LINE_KINDS, DamageSurvey, Defect, Face, FlatDisc, Sight
from discscan.weights import net

FACE = Face("data", 1.0, "pressed", "dvd", "given", ("dvd",))
PLACE_MM = 0.3
"""Two photo pixels at the drawn scale of 0.125 mm a pixel, with room for smoothing over 1 mm."""
LENGTH_SHARE = 0.15
"""The ends of a line fade into the noise: about 1.5 mm at each end of a line of 20 mm."""


def flat_disc(*defects: Drawable, look: Look | None = None, tilt_deg: float = 15, seed: int = 0) -> FlatDisc:
    bgr, truth = draw(*defects, look=look, camera=Camera(tilt_deg=tilt_deg, azimuth_deg=35), seed=seed)
    return flatten_disc(bgr, truth.located())


def surveyed(flat: FlatDisc) -> tuple[DamageSurvey, list[Defect]]:
    """The survey and the lines in it."""
    survey = survey_damage(flat, FACE, damage_maps(flat, FACE, net("damage")))
    return survey, [defect for defect in survey.defects if defect.kind in LINE_KINDS]


def lines(*defects: Drawable, look: Look | None = None, tilt_deg: float = 15, seed: int = 0) -> list[Defect]:
    return surveyed(flat_disc(*defects, look=look, tilt_deg=tilt_deg, seed=seed))[1]


def surest(found: list[Defect]) -> Defect:
    """The one line that is likelier there than not; a stretch of noise that looks like one is told as less."""
    line, *others = sorted(found, key=lambda defect: -defect.confidence)
    assert line.confidence > 0.5 and all(other.confidence < 0.5 for other in others)
    return line


def away_mm(points: np.ndarray, line: np.ndarray) -> np.ndarray:
    """Distance of each point from a finely sampled line."""
    steps = [np.linspace(a, b, 50) for a, b in pairwise(line)]
    return np.asarray(np.hypot(*(points[:, None] - np.concatenate(steps)[None]).transpose(2, 0, 1)).min(axis=1))


def test_what_is_a_line_with_the_data_side_up_may_be_print_with_a_label() -> None:
    """Even strokes on a plain ground are either. Before the net was told the side it took one for the other."""
    flat = flat_disc(
        Scratch([(30, 5), (50, 20)], width_mm=0.25, contrast=-30),
        Scratch([(-50, -12), (-22, -38)], width_mm=0.25, contrast=25),
    )
    data, unknown, label = (
        damage_maps(flat, replace(FACE, side=side), net("damage")) for side in ("data", "unknown", "label")
    )
    assert data.line.sum() > unknown.line.sum() > label.line.sum()
    assert data.label.sum() < unknown.label.sum() < label.label.sum()


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize(
    "scratch",
    [
        Scratch([(30, 5), (50, 20)], width_mm=0.2, contrast=80),
        Scratch([(-50, -12), (-22, -38)], width_mm=0.2, contrast=80),
    ],
)
def test_a_straight_scratch_has_its_place_and_length(scratch: Scratch, seed: int) -> None:
    found = surest(lines(scratch, seed=seed))
    assert found.kind == "scratch" and found.length_mm is not None
    drawn = np.asarray(scratch.points_mm, float)
    assert found.length_mm.value == pytest.approx(np.hypot(*(drawn[1] - drawn[0])), rel=LENGTH_SHARE)
    assert np.median(away_mm(found.outline_mm, drawn)) < PLACE_MM


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("arc", [RingArc(35, 100, 60, 0.2, 80), RingArc(48, 200, 40, 0.2, 80)])
def test_an_arc_along_the_track_is_told_from_a_straight_scratch(arc: RingArc, seed: int) -> None:
    found = surest(lines(arc, seed=seed))
    assert found.kind == "ring_arc" and found.length_mm is not None
    assert found.length_mm.value == pytest.approx(arc.radius_mm * np.radians(arc.sweep_deg), rel=LENGTH_SHARE)
    assert found.arc_deg == pytest.approx(arc.sweep_deg, rel=LENGTH_SHARE)
    assert np.median(np.abs(np.hypot(*found.outline_mm.T) - arc.radius_mm)) < PLACE_MM


@pytest.mark.parametrize("tilt_deg", [0, 20, 40])
@pytest.mark.parametrize("seed", range(3))
def test_a_clean_disc_with_a_window_in_it_and_its_rings_has_no_lines(tilt_deg: float, seed: int) -> None:
    assert lines(look=Look(window=True, rings=True), tilt_deg=tilt_deg, seed=seed) == []


def test_a_line_that_shows_amid_burnt_out_light_is_told_and_counts_for_no_area_that_was_not_measured() -> None:
    flat = flat_disc(Scratch([(30, 5), (50, 20)], width_mm=0.2, contrast=80))
    whole, (line,) = surveyed(flat)
    x_mm = (np.arange(len(flat.sight)) - len(flat.sight) / 2) / flat.px_per_mm
    right = (flat.sight == Sight.SEEN) & (x_mm > 0)  # where the whole scratch lies
    half, (told,) = surveyed(replace(flat, sight=np.where(right, Sight.GLARE, flat.sight).astype(np.uint8)))
    assert told.length_mm == line.length_mm
    assert whole.scratch_density_mm_per_cm2 > 0 == half.scratch_density_mm_per_cm2
    assert surveyed(replace(flat, sight=np.where(right, Sight.DARK, flat.sight).astype(np.uint8)))[1] == []
