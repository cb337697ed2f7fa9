"""Discs of which the hole is not seen, or no fine edge: under another disc, or small and blurred. Drawn data."""

from __future__ import annotations

import cv2
import drawn
import numpy as np
import pytest

from discscan.doubts import Doubt
from discscan.locate import locate_discs
from discscan.locate.conics import apply
from discscan.locate.pose import fit_circles
from discscan.records import Ellipse, LocatedDisc
from discscan.weights import net

NETS = {"locator": net("locator"), "rings": net("rings"), "face": net("face")}
APART_MM = 51.0
"""Of two centres: the upper disc then covers the hole of the lower one, and 0.36 of its rim."""
TOLERANCE_MM = {"rim": 0.4, "hub": 0.6}
"""What a drawn rim allows; and twice the uncertainty that a centre under another disc is given."""
TILTED = np.array([[1.0, 0.1, -60.0], [0.03, 0.85, 60.0], [3e-5, 1.5e-4, 1.0]])
"""A view of the flat picture from aside: about 25 degrees."""


def within(rim: Ellipse, shape: tuple[int, ...]) -> np.ndarray:
    """Which pixels an outline holds, 0..1, float32 (h, w, 1)."""
    mask = np.zeros(shape[:2], np.uint8)
    box = ((rim.cx, rim.cy), (rim.axis_major, rim.axis_minor), rim.angle_deg)
    cv2.ellipse(mask, box, 255, -1, cv2.LINE_AA)
    return (mask.astype(np.float32) / 255)[..., None]


def lower_and_cover(share: float = 1.0, view: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """A disc with another on it: the photo, and the lower and the upper pose, pixel to mm.

    Args:
        share: size of the lower one, as a share of what a disc beside the upper one has.
        view: homography float64 (3, 3) from the picture straight from above to the photo.
    """
    px = 520.0
    apart_px = APART_MM * px / 120
    below, lower = drawn.draw(camera=drawn.Camera(disc_px=share * px, shift_px=(-apart_px / 2, 0)), seed=1)
    above, upper = drawn.draw(camera=drawn.Camera(disc_px=px, shift_px=(apart_px / 2, 20)), seed=2)
    photo = below + (above.astype(np.float32) - below) * within(upper.rim, below.shape)
    view = np.eye(3) if view is None else view
    ground = photo[:100].reshape(-1, 3).mean(axis=0).tolist()
    seen = cv2.warpPerspective(photo, view, (photo.shape[1], photo.shape[0]), borderValue=ground)
    poses = (one.homography_px_to_mm @ np.linalg.inv(view) for one in (lower, upper))
    return np.clip(seen + 0.5, 0, 255).astype(np.uint8), *poses


def off_mm(disc: LocatedDisc, true_px_to_mm: np.ndarray, radius_mm: float) -> float:
    """Median distance of a true circle from its place in the found pose."""
    turn = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    circle = apply(np.linalg.inv(true_px_to_mm), radius_mm * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    return float(np.median(np.abs(np.hypot(*apply(disc.homography_px_to_mm, circle).T) - radius_mm)))


@pytest.mark.parametrize("view", [None, TILTED])
def test_a_disc_whose_hole_lies_under_another_disc_is_placed(view: np.ndarray | None) -> None:
    photo, *true = lower_and_cover(view=view)
    discs, _ = locate_discs(photo, **NETS)
    assert len(discs) == 2
    for disc, pose in zip(sorted(discs, key=lambda disc: disc.rim.cx), true, strict=True):
        assert off_mm(disc, pose, 60.0) < TOLERANCE_MM["rim"]
        assert off_mm(disc, pose, 7.5) < TOLERANCE_MM["hub"]
    assert Doubt.RIM_HIDDEN in min(discs, key=lambda disc: disc.rim.cx).doubts


def test_a_round_thing_of_another_size_under_a_disc_is_none() -> None:
    photo, _, upper = lower_and_cover(share=0.88, view=TILTED)
    (disc,), _ = locate_discs(photo, **NETS)
    assert off_mm(disc, upper, 60.0) < TOLERANCE_MM["rim"]


def with_a_bar_over_it(*, bar_px: int) -> tuple[np.ndarray, np.ndarray]:
    """A drawn disc, 520 px across, whose hole lies under a bar, and its true homography."""
    photo, truth = drawn.draw(camera=drawn.Camera(disc_px=520), seed=1)
    middle = int(truth.rim.cx)
    photo[:, middle - bar_px // 2 : middle + bar_px // 2] = (90, 110, 120)
    return photo, truth.homography_px_to_mm


def test_a_disc_whose_hole_lies_under_something_else_is_placed_by_its_rim_and_unsurely() -> None:
    photo, true = with_a_bar_over_it(bar_px=100)
    (disc,), _ = locate_discs(photo, **NETS)
    assert Doubt.POSE_UNSURE in disc.doubts
    assert off_mm(disc, true, 60.0) < TOLERANCE_MM["rim"]
    assert off_mm(disc, true, 7.5) < 3 * disc.pose_sigma_mm


def test_a_rim_alone_places_nothing_where_much_of_it_is_hidden() -> None:
    photo, _ = with_a_bar_over_it(bar_px=360)
    assert locate_discs(photo, **NETS)[0] == ()


def faint_hole() -> tuple[np.ndarray, np.ndarray]:
    """A drawn disc through whose hub print shows, and the hole's edge as a thin line; and its true homography."""
    photo, truth = drawn.draw(camera=drawn.Camera(disc_px=1500, width_px=2400, height_px=1800), seed=1)
    px_to_mm = truth.homography_px_to_mm
    rows, columns = np.mgrid[: photo.shape[0], : photo.shape[1]]
    radius = np.hypot(*apply(px_to_mm, np.stack([columns.ravel(), rows.ravel()], 1).astype(float)).T)
    hub = (radius < 17.0).reshape(rows.shape)
    edge = np.exp(-(((radius - 7.5) / 0.15) ** 2)).reshape(rows.shape)
    page = np.full_like(photo, 150)
    for row in range(0, len(page), 34):
        cv2.putText(page, "lend return shelve renew " * 8, (0, row), cv2.FONT_HERSHEY_SIMPLEX, 0.9, (40, 40, 40), 3)
    photo[hub] = page[hub]
    return (photo + (20.0 * edge * hub)[..., None]).clip(0, 255).astype(np.uint8), px_to_mm


def test_a_disc_whose_hole_hardly_shows_is_placed() -> None:
    photo, true = faint_hole()
    (disc,), _ = locate_discs(photo, **NETS)
    assert off_mm(disc, true, 60.0) < TOLERANCE_MM["rim"]
    assert off_mm(disc, true, 7.5) < TOLERANCE_MM["hub"]
    assert not disc.doubts


def out_of_focus(*, disc_px: int, blur_px: float, seed: int) -> tuple[tuple[LocatedDisc, ...], np.ndarray]:
    """What is found of a drawn disc, and its true homography."""
    camera = drawn.Camera(
        width_px=2 * disc_px, height_px=2 * disc_px, disc_px=disc_px, tilt_deg=20, blur_px=blur_px, noise=1.0
    )
    photo, truth = drawn.draw(camera=camera, seed=seed)
    return locate_discs(photo, **NETS)[0], truth.homography_px_to_mm


def test_a_small_disc_out_of_focus_is_told_to_be_placed_unsurely() -> None:
    drawn_ones = [out_of_focus(disc_px=160, blur_px=3.5, seed=seed) for seed in range(12)]
    found = [(disc, true) for discs, true in drawn_ones for disc in discs]
    unsure = [(disc, true) for disc, true in found if Doubt.POSE_UNSURE in disc.doubts]
    assert len(found) >= 11 and len(unsure) >= 11
    within = [off_mm(disc, true, 60.0) < 2 * disc.pose_sigma_mm for disc, true in unsure]
    assert np.mean(within) > 0.9  # two standard uncertainties hold 95 in 100 (JCGM 100:2008, annex G)


@pytest.mark.parametrize("blur_px", [5.0, 8.0])
def test_a_disc_out_of_focus_is_placed_to_half_the_blur(blur_px: float) -> None:
    for seed in range(4):
        (disc,), true = out_of_focus(disc_px=700, blur_px=blur_px, seed=seed)
        assert off_mm(disc, true, 60.0) < 0.5 * blur_px * 120 / 700


def test_a_rim_and_the_horizon_of_its_plane_tell_the_centre() -> None:
    t, turn = np.radians(35), np.linspace(0.4, 4.4, 60)
    to_px = np.array([[1500.0, 0, 800], [0, 1500.0, 600], [0, 0, 1]]) @ np.array(
        [[1, 0, 0], [0, np.cos(t), 0], [0, np.sin(t), 300.0]]
    )
    true = np.linalg.inv(to_px)
    rim = apply(to_px, 60 * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    start = np.array([[1.04, 0.02, 3.0], [0.0, 0.97, -2.0], [0, 0, 1]]) @ true
    fitted, residual = fit_circles(rim, np.full(60, 60.0), start / start[2, 2], keep_horizon=True)
    assert np.abs(residual).max() < 1e-4
    assert apply(fitted, apply(to_px, np.zeros((1, 2)))) == pytest.approx(np.zeros((1, 2)), abs=1e-3)
