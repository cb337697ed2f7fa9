"""The pose of circles under perspective: closed forms against OpenCV and against drawn discs."""

from __future__ import annotations

import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discscan.locate.conics import apply, centring_motion, circle_image, to_unit_circle, without_turn
from discscan.locate.pose import fit_circles, refine_pose
from discscan.records import Ellipse

sys.path.insert(0, str(Path(__file__).parents[1]))
import drawn

TOLERANCE_MM = {"rim": 0.6, "hub": 0.3}
"""Median distance of a circle from its true place; what a drawn rim with metal, bevel and ground allows."""


def view(tilt_deg: float, distance_mm: float) -> np.ndarray:
    """A pinhole's homography from the disc's plane to pixels."""
    t = np.radians(tilt_deg)
    turn = np.array([[1, 0, 0], [0, np.cos(t), -np.sin(t)], [0, np.sin(t), np.cos(t)]])
    camera = np.array([[1500.0, 0, 800], [0, 1500.0, 600], [0, 0, 1]])
    return camera @ np.stack([turn[:, 0], turn[:, 1], [0, 0, distance_mm]], axis=1)


@given(st.floats(0, 45), st.floats(220, 600), st.sampled_from([7.5, 22.0, 60.0]))
def test_the_image_of_a_circle_is_the_ellipse_that_opencv_fits(
    tilt_deg: float, distance_mm: float, radius: float
) -> None:
    to_px = view(tilt_deg, distance_mm)
    turn = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    points = apply(to_px, radius * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    (cx, cy), axes, _ = cv2.fitEllipseDirect(points.astype(np.float32))  # reference: OpenCV, Fitzgibbon's direct fit
    ellipse = circle_image(np.linalg.inv(to_px), radius)
    assert (ellipse.cx, ellipse.cy) == pytest.approx((cx, cy), abs=0.05)
    assert (ellipse.axis_minor, ellipse.axis_major) == pytest.approx(sorted(axes), rel=1e-3)


@given(st.floats(-0.6, 0.6), st.floats(-0.6, 0.6))
def test_the_centring_motion_keeps_the_rim_and_brings_its_point_home(x: float, y: float) -> None:
    motion = centring_motion(x, y)
    turn = np.linspace(0, 2 * np.pi, 32)
    rim = apply(motion, np.stack([np.cos(turn), np.sin(turn)], axis=1))
    assert np.hypot(*rim.T) == pytest.approx(1.0)
    assert apply(motion, np.array([[x, y]])) == pytest.approx(np.zeros((1, 2)), abs=1e-12)


def test_an_ellipse_becomes_the_unit_circle() -> None:
    affine = to_unit_circle(Ellipse(300.0, 200.0, 180.0, 120.0, 30.0))
    end = np.array([[300 + 90 * np.cos(np.pi / 6), 200 + 90 * np.sin(np.pi / 6)]])
    assert np.hypot(*apply(affine, end)[0]) == pytest.approx(1.0)


def test_two_circles_give_their_homography_back() -> None:
    to_px = view(30, 300)
    turn = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    circle = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    points = np.concatenate([apply(to_px, 60 * circle), apply(to_px, 7.5 * circle)])
    start = np.diag([1.03, 0.98, 1.0]) @ np.linalg.inv(to_px)
    fitted, residual = fit_circles(points, np.repeat([60.0, 7.5], 60), start / start[2, 2])
    assert np.abs(residual).max() < 1e-4
    middle = apply(fitted, apply(to_px, np.zeros((1, 2))))
    assert middle == pytest.approx(np.zeros((1, 2)), abs=1e-3)


@pytest.mark.parametrize("tilt_deg", [0, 20, 40])
@pytest.mark.parametrize("diameter_mm", [120, 80])
def test_rim_and_hub_of_a_drawn_disc_are_placed(tilt_deg: float, diameter_mm: int) -> None:
    camera = drawn.Camera(disc_px=950, tilt_deg=tilt_deg, azimuth_deg=60, k1=0.01)
    bgr, truth = drawn.draw(camera=camera, diameter_mm=diameter_mm, seed=tilt_deg)
    off = np.array([[1.01, 0, 0.3], [0, 0.99, -0.3], [0, 0, 1]])
    grey = np.asarray(cv2.cvtColor(bgr, cv2.COLOR_BGR2GRAY), np.uint8)
    pose = refine_pose(grey, off @ without_turn(truth.homography_px_to_mm), rim_mm=diameter_mm / 2, hole_mm=7.5)
    assert pose is not None
    turn = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    for name, radius in (("rim", diameter_mm / 2), ("hub", 7.5)):
        circle = truth.to_px(radius * np.stack([np.cos(turn), np.sin(turn)], axis=1))
        apart = np.abs(np.hypot(*apply(pose.homography_px_to_mm, circle).T) - radius)
        assert np.median(apart) < TOLERANCE_MM[name], name
