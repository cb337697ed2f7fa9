"""Pinholes in discs drawn against a lamp, held against the millimetres that were drawn. See `drawn_lamp.py`."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from drawn import Camera, Look, draw
from drawn_lamp import Lamp, Pinhole, draw_against_lamp

from discscan.damage import pinholes
from discscan.flatten.grid import flatten_disc
from discscan.records import Defect, FlatDisc

ACROSS_MM = (0.15, 0.2, 0.3, 0.5, 0.8, 1.2, 3.0)
PLACE_TOLERANCE_MM = 0.15
"""A photo's pixel is an eighth of a millimetre in the coarser ones, a grid's cell a tenth."""
CAMERAS = {
    "clean": (Camera(width_px=2400, height_px=1900, disc_px=1700, noise=0.5), 95),
    "phone": (Camera(disc_px=1000, tilt_deg=10, azimuth_deg=40, noise=1.5), 85),
    "poor light": (Camera(width_px=1000, height_px=800, disc_px=640, tilt_deg=15, noise=3), 80),
}


def holes(seed: int) -> list[Pinhole]:
    rng = np.random.default_rng(seed)
    turns = np.arange(len(ACROSS_MM)) * 0.85 + rng.uniform(0, 6)
    radii = rng.permutation(np.linspace(28, 54, len(ACROSS_MM)))
    return [
        Pinhole(float(r * np.cos(t)), float(r * np.sin(t)), d) for r, t, d in zip(radii, turns, ACROSS_MM, strict=True)
    ]


def photographed(*drawn: Pinhole, name: str = "phone", lamp: Lamp | None = None, seed: int = 0) -> FlatDisc:
    camera, quality = CAMERAS[name]
    bgr, truth = draw_against_lamp(*drawn, camera=camera, lamp=lamp, seed=seed)
    coded = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, quality])[1]
    return flatten_disc(cv2.imdecode(coded, cv2.IMREAD_COLOR), truth.located())


def at(hole: Pinhole, found: tuple[Defect, ...]) -> list[Defect]:
    reach = PLACE_TOLERANCE_MM + hole.diameter_mm / 4
    return [d for d in found if np.hypot(*(d.outline_mm.mean(axis=0) - [hole.x_mm, hole.y_mm])) < reach]


def across_mm(defect: Defect) -> float:
    assert defect.area_mm2 is not None
    return float(2 * np.sqrt(defect.area_mm2.value / np.pi))


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("name", CAMERAS)
def test_every_hole_is_found_where_it_was_drawn_and_nothing_else(name: str, seed: int) -> None:
    drawn = holes(seed)
    found = pinholes(photographed(*drawn, name=name, lamp=Lamp(level=0.9), seed=seed))
    assert found is not None
    assert [len(at(hole, found)) for hole in drawn] == [1] * len(drawn)
    assert len(found) == len(drawn)
    assert all(d.kind == "label_damage" and d.see_through and 0.4 < d.confidence <= 0.9 for d in found)


def test_a_hole_finer_than_a_pixel_is_as_large_as_the_light_that_comes_through_it() -> None:
    """Light adds up (what comes through a hole goes with its area), whatever the blur: no hole is a pixel wide here."""
    drawn = holes(3)
    found = pinholes(photographed(*drawn, lamp=Lamp(level=0.9), seed=3))
    assert found is not None
    for hole in drawn:
        (one,) = at(hole, found)
        assert across_mm(one) == pytest.approx(hole.diameter_mm, rel=0.12, abs=0.04)


def test_before_a_lamp_that_is_burnt_out_holes_seem_larger_and_never_smaller() -> None:
    drawn = holes(4)
    found = pinholes(photographed(*drawn, lamp=Lamp(level=2.0), seed=4))
    assert found is not None
    for hole in drawn:
        (one,) = at(hole, found)
        assert 0.9 * hole.diameter_mm < across_mm(one) < 1.8 * hole.diameter_mm


@pytest.mark.parametrize("name", CAMERAS)
def test_a_sound_mirror_has_none_however_uneven_the_room_in_it(name: str) -> None:
    for room in (0.001, 0.02, 0.05):
        assert pinholes(photographed(name=name, lamp=Lamp(level=1.0, room=room), seed=7)) == ()


def test_a_disc_that_lies_on_a_table_is_not_taken_for_one_before_a_lamp() -> None:
    for ground in ((70.0, 95.0, 90.0), (235.0, 235.0, 235.0)):
        bgr, truth = draw(look=Look(background="plain", background_bgr=ground))
        assert pinholes(flatten_disc(bgr, truth.located())) is None


def test_a_lamp_hardly_brighter_than_the_room_is_no_lamp() -> None:
    assert pinholes(photographed(lamp=Lamp(level=0.2, room=0.05))) is None
