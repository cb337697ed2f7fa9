"""A disc before a lamp that burns out all but its mirror: drawn, and placed by the mirror's two edges."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from drawn import Camera, Look, draw
from drawn_lamp import Lamp, Pinhole, draw_against_lamp

from discscan.doubts import Doubt
from discscan.locate import locate_against_lamp

RADIUS_TOLERANCE_MM = 0.5
"""The uncertainty that the pose is given. Where the mirror ends is as assumed here; the lamp bleeds over its edges."""


def worst_mm(homography: np.ndarray, truth: object, radius_mm: float) -> float:
    """Greatest error of the radius on a circle of the disc."""
    turn = np.radians(np.arange(0, 360, 5))
    circle = radius_mm * np.stack([np.cos(turn), np.sin(turn)], -1)
    at = cv2.perspectiveTransform(truth.to_px(circle)[None], homography)[0]  # type: ignore[attr-defined]
    return float(np.abs(np.hypot(*at.T) - radius_mm).max())


@pytest.mark.parametrize("level", [1.6, 4.0, 10.0])
@pytest.mark.parametrize(("diameter_mm", "tilt_deg"), [(120, 0.0), (120, 28.0), (80, 15.0)])
def test_both_edges_of_the_mirror_give_the_pose(diameter_mm: int, tilt_deg: float, level: float) -> None:
    camera = Camera(disc_px=900, tilt_deg=tilt_deg, azimuth_deg=70, shift_px=(30, -20))
    hole = Pinhole(25, 20, 3)
    bgr, truth = draw_against_lamp(hole, diameter_mm=diameter_mm, camera=camera, lamp=Lamp(level=level), seed=4)
    disc = locate_against_lamp(bgr)
    assert disc is not None and disc.diameter_mm == diameter_mm
    assert disc.tilt_deg == pytest.approx(tilt_deg, abs=3)
    for radius_mm in (24, 30, diameter_mm / 2 - 2):
        assert worst_mm(disc.homography_px_to_mm, truth, radius_mm) < RADIUS_TOLERANCE_MM
    assert Doubt.POSE_UNSURE in disc.doubts


@pytest.mark.parametrize("mirror_mm", [(18.0, 0.5), (22.0, 1.8)])
def test_a_mirror_that_ends_elsewhere_costs_no_more_than_that(mirror_mm: tuple[float, float]) -> None:
    bgr, truth = draw_against_lamp(lamp=Lamp(level=4.0, mirror_mm=mirror_mm), seed=5)
    disc = locate_against_lamp(bgr)
    assert disc is not None
    assert worst_mm(disc.homography_px_to_mm, truth, 40.0) < 0.7 + RADIUS_TOLERANCE_MM


def test_fingers_that_hold_it_by_the_edge_are_no_hindrance() -> None:
    bgr, truth = draw_against_lamp(camera=Camera(disc_px=900, tilt_deg=10), lamp=Lamp(level=4.0), seed=6)
    for side in (-1, 1):
        finger = np.array([(52, -9), (52, 9), (140, 9), (140, -9)], float) * [side, 1]
        cv2.fillPoly(bgr, [np.round(truth.to_px(finger)).astype(np.int32)], (20, 25, 40))
    disc = locate_against_lamp(bgr)
    assert disc is not None
    assert worst_mm(disc.homography_px_to_mm, truth, 40.0) < RADIUS_TOLERANCE_MM


def test_what_is_no_dark_ring_before_bright_ground_is_none() -> None:
    ordinary, _ = draw(look=Look(background="cloth"))
    half_lit, _ = draw_against_lamp(camera=Camera(shift_px=(700, 0)), lamp=Lamp(level=4.0))
    plain = np.full((600, 800, 3), 200, np.uint8)
    square = plain.copy()
    cv2.rectangle(square, (200, 100), (600, 500), (10, 10, 10), 80)
    for picture in (ordinary, half_lit, plain, square):
        assert locate_against_lamp(picture) is None
