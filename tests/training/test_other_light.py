"""The other renderer of photographs (tests/bench/other_light): textbook optics, and its truth against its pictures."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from bench.other_light import optics
from bench.other_light.areas import Flat
from bench.other_light.disc import random_disc
from bench.other_light.lines import Line
from bench.other_light.photograph import draw
from bench.other_light.view import View, ellipse_px
from numpy.typing import NDArray
from training.true_pictures import (
    SMALL_PX,
    TruthAndPictures,
    imported,
)

from models.training.score import read_truths

ROOM = Path(__file__).parents[1] / "bench" / "other_light"
DARK = 9
"""The number of a photograph in a dark room, in seed 1."""
RADIAL = np.array([[1.0, 0.0]])


def seen_from(angle_deg: float) -> NDArray[np.float64]:
    """The way to an eye so far from the normal, in the plane of the radius."""
    return np.array([[np.sin(np.deg2rad(angle_deg)), 0, np.cos(np.deg2rad(angle_deg))]])


def test_it_shares_no_code_with_what_trains_the_nets() -> None:
    for path, module, _ in imported(ROOM):
        assert not module.startswith(("models", "drawn", "discscan")), path


@pytest.mark.parametrize(
    ("kind", "wavelength_nm", "angles_deg"),
    [  # textbook: d sin(theta) = m lambda at normal incidence, orders one to three, d of the standards
        ("cd", 450, [16.33, 34.23, 57.54]),
        ("cd", 550, [20.11, 43.43]),
        ("cd", 650, [23.97, 54.34]),
        ("dvd", 450, [37.45]),
        ("dvd", 550, [48.01]),
        ("dvd", 650, [61.45]),
        ("bd", 450, []),
    ],
)
def test_the_orders_of_the_grating_lie_where_the_textbook_has_them(
    kind: str, wavelength_nm: float, angles_deg: list[float]
) -> None:
    found = [
        optics.grating(
            np.zeros((1, 2)), RADIAL, order=order, wavelength_nm=wavelength_nm, pitch_nm=optics.PITCH_NM[kind]
        )
        for order in (1, 2, 3)
    ]
    assert [np.rad2deg(np.arcsin(k[0, 0])) for k in found if k[0, 0] < 1] == pytest.approx(angles_deg, abs=0.01)


@pytest.mark.parametrize(("kind", "angle_deg"), [("cd", 9.90), ("dvd", 21.82), ("bd", 59.25)])
def test_light_returns_to_where_it_came_from_at_littrows_angle(kind: str, angle_deg: float) -> None:
    """Textbook: asin(lambda / 2d), here at 550 nm."""
    to_eye = seen_from(angle_deg)[:, :2]
    back = optics.grating(-to_eye, RADIAL, order=1, wavelength_nm=550, pitch_nm=optics.PITCH_NM[kind])
    assert back == pytest.approx(to_eye, abs=2e-4)


@pytest.mark.parametrize("angle_deg", [0.0, 10.0, 25.0, 40.0])
def test_a_scratch_and_its_twin_in_the_mirror_lie_two_t_tangents_apart(angle_deg: float) -> None:
    """Textbook: sin(theta) = n sin(theta'), way there and back through 1.2 mm."""
    inside = np.arcsin(np.sin(np.deg2rad(angle_deg)) / 1.585)
    shift = 2 * optics.layer_shift_mm(seen_from(angle_deg), 1.2)
    assert shift[0] == pytest.approx([2 * 1.2 * np.tan(inside), 0])


def test_light_obeys_snell_and_fresnel() -> None:
    up = np.array([[0.0, 0.0, 1.0]])
    for angle_deg in (0.0, 20.0, 60.0):
        sight = optics.refracted_in(seen_from(angle_deg), up)
        assert sight[0, 0] * 1.585 == pytest.approx(-np.sin(np.deg2rad(angle_deg)))
        out, leaves = optics.refracted_out(-sight, up)
        assert leaves[0] and out == pytest.approx(seen_from(angle_deg))
    critical = np.rad2deg(np.arcsin(1 / 1.585))
    assert optics.refracted_out(seen_from(critical - 0.1), up)[1][0]
    assert not optics.refracted_out(seen_from(critical + 0.1), up)[1][0]
    # at normal incidence ((n - 1) / (n + 1))^2; at Brewster's angle atan(n) only half of the light is reflected at all
    assert optics.fresnel(np.array([1.0]))[0] == pytest.approx((0.585 / 2.585) ** 2)
    across = ((1 - 1.585**2) / (1 + 1.585**2)) ** 2
    assert optics.fresnel(np.cos(np.arctan([1.585])))[0] == pytest.approx(across / 2)
    assert optics.responses(optics.wavelengths_nm(1, 740)).sum(0) == pytest.approx([1, 1, 1])


def test_a_square_millimetre_and_a_circle_keep_their_size_through_a_camera_straight_above() -> None:
    """The pinhole: focal length over distance, here 1000 px over 250 mm, is 4 px per mm."""
    lens = np.array([[4.0, 0, 320], [0, 4.0, 240], [0, 0, 1]])
    view = View(640, 480, lens, np.array([0, 0, 250.0]), np.eye(3), 1000, 0)
    assert view.px_per_mm2(np.array([[3.0, 5.0]])) == pytest.approx([16])
    ellipse = ellipse_px(lens, 60)
    assert [ellipse[k] for k in ("cx", "cy", "axis_major", "axis_minor")] == pytest.approx([320, 240, 480, 480])


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A bare disc, a mirror to its rim, photographed in a dark room with a lamp; in with/ the same with one scratch."""
    here = tmp_path_factory.mktemp("other_light")
    plain = random_disc(np.random.default_rng(5), "clean")
    bare = replace(plain, rim_mm=60.0, metal_mm=(20, 60), rings=[], lines=[], specks=[], hairs=[], flat=Flat(60))
    path = np.stack([np.linspace(-35, -20, 60), np.linspace(25, 38, 60)], 1)
    scratch = Line("scratch", "groove", path, 0.25, 0.7, np.ones(60), 0.3, 0.8)
    (here / "with").mkdir()
    draw(here, 1, DARK, long_px=SMALL_PX, disc=bare)
    draw(here / "with", 1, DARK, long_px=SMALL_PX, disc=replace(bare, lines=[scratch]))
    return here


class TestTruthAndPictures(TruthAndPictures):
    draw = staticmethod(draw)

    def test_the_truth_tells_the_scratch(self, folder: Path) -> None:
        """Before a dark reflection a groove may be brighter than its ground many times over."""
        (record,) = read_truths(folder / "with")
        assert record["scene"]["environment"] == "dark"
        (scratch,) = record["discs"][0]["defects"]
        assert scratch["contrast"] > 1 and scratch["seen_fraction"] > 0.9
