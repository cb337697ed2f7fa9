"""The pose of circles under perspective: closed forms against OpenCV and against drawn discs."""

from __future__ import annotations

import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discscan.locate.conics import (
    apply,
    centre_in_photo,
    centring_motion,
    circle_image,
    local_scale,
    to_unit_circle,
    towards_camera,
    without_turn,
)
from discscan.locate.pose import COARSE, FINE, fit_circles, refine_pose
from discscan.locate.unroll import close_up, shrunk, unrolled
from discscan.records import Ellipse
from discscan.weights import net

sys.path.insert(0, str(Path(__file__).parents[1]))
import drawn

TOLERANCE_MM = {"rim": 0.4, "hub": 0.3}
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


def placed(bgr: np.ndarray, truth: drawn.Truth, diameter_mm: int) -> np.ndarray:
    """The pose that is found from one some millimetres off, float64 (3, 3), photo pixel to mm."""
    off = np.array([[1.02, 0, 0.8], [0, 0.985, -0.6], [0, 0, 1]])
    start = off @ without_turn(truth.homography_px_to_mm)
    circles = {"rim_mm": diameter_mm / 2, "hole_mm": 7.5, "net": net("rings")}
    near, to_near = close_up(bgr, circle_image(truth.homography_px_to_mm, diameter_mm / 2))
    first = refine_pose(near, start @ np.linalg.inv(to_near), reaches=COARSE, **circles)
    assert first is not None
    pose = refine_pose(bgr, first.homography_px_to_mm @ to_near, reaches=FINE, **circles)
    assert pose is not None
    return pose.homography_px_to_mm


@pytest.mark.parametrize("tilt_deg", [0, 20, 40])
@pytest.mark.parametrize("diameter_mm", [120, 80])
def test_rim_and_hub_of_a_drawn_disc_are_placed(tilt_deg: float, diameter_mm: int) -> None:
    camera = drawn.Camera(disc_px=950, tilt_deg=tilt_deg, azimuth_deg=60, k1=0.01)
    bgr, truth = drawn.draw(camera=camera, diameter_mm=diameter_mm, seed=tilt_deg)
    pose = placed(bgr, truth, diameter_mm)
    turn = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    for name, radius in (("rim", diameter_mm / 2), ("hub", 7.5)):
        circle = truth.to_px(radius * np.stack([np.cos(turn), np.sin(turn)], axis=1))
        apart = np.abs(np.hypot(*apply(pose, circle).T) - radius)
        assert np.median(apart) < TOLERANCE_MM[name], name


@pytest.mark.parametrize("tilt_deg", [8, 25, 45])
@pytest.mark.parametrize("azimuth_deg", [0, 75, 160, 290])
def test_the_way_towards_the_camera_is_the_way_in_which_the_disc_is_nearer(tilt_deg: float, azimuth_deg: float) -> None:
    _, truth = drawn.draw(camera=drawn.Camera(tilt_deg=tilt_deg, azimuth_deg=azimuth_deg))
    way = towards_camera(truth.homography_px_to_mm)
    assert np.hypot(*way) == pytest.approx(np.sin(np.radians(tilt_deg)), abs=0.005)
    step = 1.0 * way / np.hypot(*way)
    ends = truth.to_px(np.stack([50 * step, 51 * step, -50 * step, -51 * step]))
    near_px, far_px = (np.hypot(*(b - a)) for a, b in (ends[:2], ends[2:]))
    aside = np.array([-step[1], step[0]])
    across = truth.to_px(np.stack([step, 0 * step, aside]))
    assert near_px > far_px  # what is nearer looks larger
    # and the disc is foreshortened by the cosine along that way alone
    along_px, aside_px = np.hypot(*(across[0] - across[1])), np.hypot(*(across[2] - across[1]))
    assert along_px / aside_px == pytest.approx(np.cos(np.radians(tilt_deg)), abs=0.02)


@pytest.mark.parametrize("quality", [95, 85, 65])
def test_compressing_a_photograph_once_more_does_not_move_the_rim(quality: int) -> None:
    bgr, truth = drawn.draw(camera=drawn.Camera(disc_px=950, tilt_deg=20, azimuth_deg=60), seed=3)
    again = cv2.imdecode(cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, quality])[1], cv2.IMREAD_COLOR)
    scales = [
        local_scale(pose, *centre_in_photo(pose)) for pose in (placed(bgr, truth, 120), placed(again, truth, 120))
    ]
    assert scales[1] / scales[0] == pytest.approx(1.0, abs=0.003)


def test_a_ring_unrolls_to_a_straight_column_whose_rows_are_angles() -> None:
    image = np.full((400, 400, 3), 40, np.uint8)
    cv2.circle(image, (200, 200), 100, (200, 200, 200), -1)
    cv2.ellipse(image, (200, 200), (100, 100), 0, 0, 90, (90, 90, 90), -1)  # from +x towards +y
    to_plane = np.array([[0.01, 0, -2.0], [0, 0.01, -2.0], [0, 0, 1]])
    band = unrolled(image, to_plane, np.linspace(0.805, 1.195, 40), angles=72)
    inside, outside = band[:, :18, 0].astype(int), band[:, 22:, 0].astype(int)
    assert (outside < 60).all()
    assert (inside[1:17] == 90).all() and (inside[20:70] == 200).all()


@pytest.mark.parametrize("picks", [2, 4])
@pytest.mark.parametrize("shape", [(900, 1201), (1201, 900), (90, 120), (1203, 90)])
def test_a_shrunk_picture_is_nearly_the_mean_of_all_pixels(shape: tuple[int, int], picks: int) -> None:
    picture = np.random.default_rng(1).integers(0, 256, (*shape, 3)).astype(np.float32)
    smooth = cv2.normalize(cv2.GaussianBlur(picture, (0, 0), 16), None, 0, 255, cv2.NORM_MINMAX).astype(np.uint8)
    size = (shape[1] * 4 // 45, shape[0] * 4 // 45)
    away = shrunk(smooth, size, picks=picks).astype(int) - cv2.resize(smooth, size, interpolation=cv2.INTER_AREA)
    assert np.abs(away).max() < 8
    assert np.abs(away.mean()) < 0.5
