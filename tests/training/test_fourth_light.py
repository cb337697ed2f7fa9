"""The fourth renderer of photographs (tests/bench/fourth_light): truth against pictures, and textbook optics."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from bench.fourth_light.around import Around, directions, from_flat
from bench.fourth_light.disc import CONDITIONS, condition_of, random_disc
from bench.fourth_light.lines import Line
from bench.fourth_light.optics import fresnel, order_shift, rainbow, twin_shift_mm
from bench.fourth_light.photograph import draw
from bench.fourth_light.strokes import stroke
from bench.fourth_light.view import camera_at, enlarged, lower
from bench.other_light.view import through
from training.true_pictures import (
    TruthAndPictures,
    assert_a_label_is_seen_where_it_is_printed,
    assert_label_sides_take_the_place_of_others,
    draw_with_and_without,
    imported,
)

ROOM = Path(__file__).parents[1] / "bench" / "fourth_light"


def test_it_shares_no_code_with_what_nets_learn_from() -> None:
    """Of other_light the records, random shapes and the standards' numbers; of third_light how labels are printed."""
    ours = {"areas", "chance", "lines", "optics", "truth", "view"}
    for path, module, taken in imported(ROOM):
        assert not module.startswith(("models", "drawn", "discscan")), path
        assert not module.startswith("bench.third_light") or module == "bench.third_light.label", path
        if module.startswith("bench.other_light"):
            assert module.removeprefix("bench.other_light.") in ours, path
            if module.endswith("optics"):
                assert taken <= {"Array", "CLEAR_MM", "PITCH_NM"}, path
            if module.endswith("lines"):
                assert taken <= {"Groove", "length_mm"}, path


def test_a_track_bends_light_as_the_grating_equation_has_it() -> None:
    """First order straight from above: asin(650 / 740) = 61.45 degrees, asin(550 / 1600) = 20.11 (E. Hecht, Optics)."""
    assert np.rad2deg(np.arcsin(order_shift("dvd", 1, 650))) == pytest.approx(61.45, abs=0.01)
    assert np.rad2deg(np.arcsin(order_shift("cd", 1, 550))) == pytest.approx(20.11, abs=0.01)
    assert rainbow(20)[1].sum(0) == pytest.approx(np.ones(3))


def test_plastic_mirrors_as_fresnel_has_it() -> None:
    """Straight on ((n - 1) / (n + 1))^2, grazing all; at Brewster's angle half of s alone (E. Hecht, Optics)."""
    assert fresnel(np.array([1.0, 1e-6])) == pytest.approx([(0.58 / 2.58) ** 2, 1.0], abs=1e-4)
    brewster = np.arctan(1.58)
    assert fresnel(np.cos(np.array([brewster]))) == pytest.approx(np.cos(2 * brewster) ** 2 / 2)


def test_the_mirror_image_of_a_scratch_hangs_where_snell_has_it() -> None:
    """2 d tan(theta'), sin(theta) = n sin(theta'), towards the eye: under 45 degrees, 1.2 mm, n = 1.58."""
    to_eye = np.array([[np.sqrt(0.5), 0, np.sqrt(0.5)], [0, 0, 1.0]])
    inside = np.arcsin(np.sqrt(0.5) / 1.58)
    assert twin_shift_mm(to_eye, 1.2) == pytest.approx(np.array([[2.4 * np.tan(inside), 0], [0, 0]]))


def test_a_plane_looks_as_large_as_focal_length_over_distance() -> None:
    """The pinhole (textbook): at 250 mm, 4 px per mm; 50 mm lower, 1000 / 300; twice as large with the edges kept."""
    view = camera_at((640, 480), np.array([0, 0, 250.0]), np.zeros(2), 1000.0, 0.0)
    point = np.array([[30.0, -10.0]])
    assert through(view.homography, point) == pytest.approx(np.array([[439.5, 199.5]]))
    assert through(lower(view, -50), point) == pytest.approx(np.array([[419.5, 239.5 - 100 / 3]]))
    assert through(enlarged(view, 2).homography, point) == pytest.approx(np.array([[879.5, 399.5]]))


def test_even_light_all_around_falls_on_the_disc_as_lambert_has_it() -> None:
    """Irradiance pi times the radiance (textbook), and the same radiance whichever way one looks."""
    around = Around(lambda ways: np.ones_like(ways), np.eye(3))
    assert around.falls == pytest.approx(np.full(3, np.pi), rel=2e-3)
    ways = from_flat(np.array([[[0.0, 0.0], [0.6, -0.3], [0.9, 0.1]]]))
    assert np.linalg.norm(ways, axis=-1) == pytest.approx(np.ones((1, 3)))
    assert around.look(ways, 1) == pytest.approx(np.ones((1, 3, 3)))
    assert np.linalg.norm(directions(), axis=-1) == pytest.approx(np.ones(directions().shape[:2]), abs=1e-5)


@pytest.mark.parametrize("wide_px", [0.3, 1.0, 4.5])
def test_a_line_covers_as_much_of_the_pixels_as_it_is_wide(wide_px: float) -> None:
    """Length times width, at any angle, to a few parts in a hundred."""
    for angle in (0.0, 0.4, np.pi / 4):
        far = np.arange(0, 60, 0.7)[:, None] * np.array([np.cos(angle), np.sin(angle)])
        cover = stroke(20 + far, np.full(len(far), wide_px), (100, 100)).cover
        assert cover.sum() == pytest.approx(59.5 * wide_px, rel=0.05)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Its scratch sends light all ways."""
    here, plain = tmp_path_factory.mktemp("fourth_light"), random_disc(np.random.default_rng(5), "clean")
    return draw_with_and_without(
        here, draw, plain, lambda path: Line("scratch", "drag", path, 0.4, 1.0, np.ones(60), 0.6, 0.0)
    )


class TestTruthAndPictures(TruthAndPictures):
    draw = staticmethod(draw)


def test_a_label_is_seen_where_it_is_printed_and_told(tmp_path: Path) -> None:
    assert_a_label_is_seen_where_it_is_printed(draw, tmp_path, random_disc(np.random.default_rng(5), "clean"))


def test_as_many_label_sides_are_drawn_as_is_asked_and_the_others_stay_as_they_are(tmp_path: Path) -> None:
    assert_label_sides_take_the_place_of_others(draw, tmp_path)


def test_of_each_twenty_photographs_as_many_are_clean_or_worn_as_is_said() -> None:
    """On every second twenty one cracked disc is delaminated instead."""
    swapped = {**CONDITIONS, "cracked": 1, "delaminated": 2}
    for first, mix in ((0, CONDITIONS), (20, swapped), (100, swapped)):
        assert Counter(condition_of(3, first + number) for number in range(20)) == Counter(mix)
