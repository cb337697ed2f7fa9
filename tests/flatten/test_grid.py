"""The flat grid, held against discs drawn with known millimetres. Geometry: REPORT's label grid, records.py."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from drawn import Camera, Look, Truth, blob, draw
from hypothesis import given, settings
from hypothesis import strategies as st

from discscan.doubts import Doubt
from discscan.flatten.grid import flatten_disc, with_cover
from discscan.records import FlatDisc, Sight

PLACE_TOLERANCE_MM = {"pinhole": 0.06, "lens": 0.25}
"""One in ten of a grid cell would be 0.01; noise, blur and an eighth of a millimetre per photo pixel leave this."""
SPOTS_MM = [(30.0, 4.0), (-45.0, 10.0), (5.0, -52.0), (-12.0, 33.0)]


def spots(**camera: float) -> tuple[FlatDisc, Truth]:
    bgr, truth = draw(
        *(blob(x, y, 0.6, kind="dust", contrast=110, wobble=0) for x, y in SPOTS_MM),
        camera=Camera(**camera),  # type: ignore[arg-type]
        look=Look(wedges_deg=()),
    )
    return flatten_disc(bgr, truth.located()), truth


def found_near(flat: FlatDisc, x_mm: float, y_mm: float) -> np.ndarray:
    """Centre of the bright spot within 2 mm of a place, mm."""
    middle = flat.sight.shape[0] / 2
    column, row = round(middle + x_mm * flat.px_per_mm), round(middle + y_mm * flat.px_per_mm)
    piece = flat.bgr[row - 20 : row + 21, column - 20 : column + 21].mean(axis=2)
    weight = np.clip(piece - np.median(piece) - 20, 0, None)
    rows, columns = np.mgrid[row - 20 : row + 21, column - 20 : column + 21]
    return (np.array([(weight * columns).sum(), (weight * rows).sum()]) / weight.sum() - middle) / flat.px_per_mm


@pytest.mark.parametrize(
    "camera",
    [
        {},
        {"tilt_deg": 40, "azimuth_deg": 25, "distance_mm": 250},
        {"disc_px": 420, "tilt_deg": 20},
        {"width_px": 4000, "height_px": 3000, "disc_px": 2800, "tilt_deg": 15, "azimuth_deg": 100},
    ],
)
def test_spots_lie_where_they_were_drawn(camera: dict[str, float]) -> None:
    flat, _ = spots(**camera)
    for x, y in SPOTS_MM:
        assert np.hypot(*(found_near(flat, x, y) - (x, y))) < PLACE_TOLERANCE_MM["pinhole"]


def test_with_a_bent_lens_spots_lie_where_the_homography_puts_them() -> None:
    flat, truth = spots(k1=-0.04, tilt_deg=20, azimuth_deg=70)
    for x, y in SPOTS_MM:
        through = cv2.perspectiveTransform(truth.to_px(np.array([[x, y]]))[None], truth.homography_px_to_mm)[0, 0]
        assert np.hypot(*(found_near(flat, x, y) - through)) < PLACE_TOLERANCE_MM["pinhole"]
        assert np.hypot(*(found_near(flat, x, y) - (x, y))) < PLACE_TOLERANCE_MM["lens"]


@pytest.mark.parametrize(("diameter_mm", "side"), [(120, 1240), (80, 840)])
def test_the_grid_is_ten_cells_to_the_millimetre_with_two_millimetres_to_spare(diameter_mm: int, side: int) -> None:
    bgr, truth = draw(diameter_mm=diameter_mm, camera=Camera(width_px=800, height_px=600, disc_px=500))
    flat = flatten_disc(bgr, truth.located())
    assert flat.bgr.shape == (side, side, 3)
    on_disc = np.count_nonzero(flat.sight != Sight.OFF_DISC) / 100
    assert on_disc == pytest.approx(np.pi * ((diameter_mm / 2) ** 2 - 7.5**2), rel=2e-3)  # ECMA-267, 10.1: hole 15 mm


def test_fine_stripes_are_averaged_not_aliased() -> None:
    """Sampling theorem: stripes finer than two grid cells may not come back as coarse ones."""
    bgr, truth = draw(camera=Camera(width_px=3000, height_px=3000, disc_px=2800, noise=0), look=Look(wedges_deg=()))
    bgr[:, ::2], bgr[:, 1::2] = 60, 180
    flat = flatten_disc(bgr, truth.located())
    assert float(flat.bgr[300:900, 300:900, 0].std()) < 6
    assert float(flat.bgr[300:900, 300:900, 0].mean()) == pytest.approx(120, abs=2)


def test_what_the_frame_cuts_off_is_outside_the_photo() -> None:
    bgr, truth = draw(camera=Camera(shift_px=(-500.0, 0.0)))
    flat = flatten_disc(bgr, truth.located())
    left_edge_mm = cv2.perspectiveTransform(np.array([[[0.0, 599.5]]]), truth.homography_px_to_mm)[0, 0, 0]
    columns = np.flatnonzero(flat.sight[620] == Sight.OUTSIDE_PHOTO)
    assert columns.max() == pytest.approx(620 + 10 * left_edge_mm, abs=1.5)
    assert flat.measured_fraction < 0.9
    assert (flat.sight[:, 900:] != Sight.OUTSIDE_PHOTO).all()


def test_burnt_light_is_glare_and_a_bright_reflection_is_not() -> None:
    bgr, truth = draw(look=Look(window=True, glare_mm=(20.0, 35.0, 8.0), mirror_bgr=(135, 130, 128)))
    flat = flatten_disc(bgr, truth.located())
    assert flat.sight[620 + 350, 620 + 200] == Sight.GLARE
    assert flat.sight[620 - 350, 620 - 150] == Sight.SEEN  # inside the window
    area = np.count_nonzero(flat.sight == Sight.GLARE) / 100
    assert 0.8 * np.pi * 8**2 < area < 1.6 * np.pi * 8**2
    assert flat.glare_fraction == pytest.approx(area / (np.pi * (58**2 - 24**2)), rel=0.1)
    assert Doubt.GLARE in flat.doubts


def test_a_black_picture_is_dark_and_little_of_it_is_measured() -> None:
    bgr, truth = draw(look=Look(mirror_bgr=(2, 2, 2), wedges_deg=()), camera=Camera(noise=0.5))
    flat = flatten_disc(bgr, truth.located())
    assert Doubt.DARK in flat.doubts and Doubt.LITTLE_SEEN in flat.doubts
    assert flat.measured_fraction < 0.2


def test_what_is_covered_is_not_measured_and_raises_a_doubt() -> None:
    bgr, truth = draw()
    flat = flatten_disc(bgr, truth.located())
    hidden = np.zeros((620, 620), bool)
    hidden[:, :320] = True  # left of x = 2 mm
    covered = with_cover(flat, hidden)
    assert covered.sight[620, 620 - 400] == Sight.COVERED and covered.sight[620, 620 + 400] == Sight.SEEN
    assert covered.sight[620, 620] == Sight.OFF_DISC  # the hole
    assert 0.4 < covered.measured_fraction < 0.5 < flat.measured_fraction
    assert {Doubt.COVERED, Doubt.HALF_SEEN} <= set(covered.doubts) and not {Doubt.COVERED} & set(flat.doubts)
    assert with_cover(flat, np.zeros((620, 620), bool)) is flat


def test_a_disc_lying_over_it_covers_it_but_not_through_its_hole() -> None:
    bgr, truth = draw()
    _, other = draw(camera=Camera(shift_px=(500.0, 0.0)))
    flat = flatten_disc(bgr, truth.located(), covered_by=[other.located()])
    assert flat.sight[620, 620 + 300] == Sight.COVERED
    assert flat.sight[620, 620 + 560] == Sight.SEEN  # its hole lies at x = 60 mm
    assert flat.sight[620, 620 - 300] == Sight.SEEN


def test_sharpness_falls_with_every_step_of_blur_and_a_blurred_photo_says_so() -> None:
    sharp = []
    for blur in (0.5, 1.0, 2.0, 4.0, 7.0):
        bgr, truth = draw(camera=Camera(blur_px=blur, tilt_deg=20))
        sharp.append(flatten_disc(bgr, truth.located()))
    values = [flat.sharpness for flat in sharp]
    assert values == sorted(values, reverse=True) and values[0] > 0.9 and values[-1] < 0.25
    assert Doubt.BLURRED in sharp[-1].doubts
    assert not {Doubt.BLURRED, Doubt.SOFT} & set(sharp[0].doubts)


def test_a_small_disc_is_coarse_and_a_tiny_one_too_small() -> None:
    for disc_px, doubt in ((300, Doubt.COARSE), (150, Doubt.TOO_SMALL)):
        bgr, truth = draw(camera=Camera(width_px=800, height_px=600, disc_px=disc_px))
        assert doubt in flatten_disc(bgr, truth.located()).doubts


@settings(max_examples=8, deadline=None)
@given(tilt=st.floats(0, 45), azimuth=st.floats(0, 360), disc_px=st.floats(150, 700), shift=st.floats(-400, 400))
def test_shares_are_shares_whatever_the_pose(tilt: float, azimuth: float, disc_px: float, shift: float) -> None:
    pose = {"tilt_deg": tilt, "azimuth_deg": azimuth, "disc_px": disc_px}
    bgr, truth = draw(camera=Camera(width_px=640, height_px=480, shift_px=(shift, 0), **pose))  # type: ignore[arg-type]
    flat = flatten_disc(bgr, truth.located())
    assert 0 <= flat.sharpness <= 1 and 0 <= flat.glare_fraction <= 1
    assert 0 <= flat.measured_fraction <= 1 - flat.glare_fraction + 1e-9
    again = flatten_disc(bgr, truth.located())
    assert np.array_equal(flat.bgr, again.bgr) and np.array_equal(flat.sight, again.sight)
