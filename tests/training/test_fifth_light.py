"""The fifth renderer of photographs (tests/bench/fifth_light): truth against pictures, and textbook optics."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from bench.fifth_light.cards import Card, Lamp, Scene, painted
from bench.fifth_light.decay import fringe_colours
from bench.fifth_light.disc import CONDITIONS, OTHER_CONDITIONS, condition_of, random_disc
from bench.fifth_light.fan import fans
from bench.fifth_light.groovelight import Walls, density
from bench.fifth_light.optics import order_sine, rainbow, top_face, twin_mm
from bench.fifth_light.photograph import draw, shrunk
from bench.fifth_light.pose import image_of, looking, plane_mm
from bench.fifth_light.splat import sampled, splat, strands
from bench.fifth_light.wear import Line, arcs
from bench.other_light.view import through
from training.true_pictures import (
    SMALL_PX,
    TruthAndPictures,
    draw_with_and_without,
    imported,
)

ROOM = Path(__file__).parents[1] / "bench" / "fifth_light"


def test_it_shares_no_code_with_what_nets_learn_from_nor_with_the_other_renderers() -> None:
    """Of other_light the records and random shapes, and of its `optics` the standards' numbers only."""
    ours = {"areas", "chance", "lines", "optics", "truth", "view"}
    names = {
        "areas": {"FLAT_PX_MM", "HOLE_MM", "Area", "Flat", "Hair"},
        "lines": {"Groove", "length_mm"},
        "optics": {"Array", "CLEAR_MM", "PITCH_NM"},
    }
    for path, module, taken in imported(ROOM):
        assert not module.startswith(("models", "drawn", "discscan", "bench.third_light", "bench.fourth_light")), path
        if module.startswith("bench.other_light"):
            file = module.removeprefix("bench.other_light.")
            assert file in ours and taken <= names.get(file, taken), path


def test_a_track_bends_light_as_the_grating_equation_has_it() -> None:
    """First order straight from above: asin(650 / 740) = 61.45 degrees, asin(550 / 1600) = 20.11 (E. Hecht, Optics)."""
    assert np.rad2deg(np.arcsin(order_sine("dvd", 1, 650))) == pytest.approx(61.45, abs=0.01)
    assert np.rad2deg(np.arcsin(order_sine("cd", 1, 550))) == pytest.approx(20.11, abs=0.01)


@pytest.mark.parametrize("smear", [0.0, 0.03])
def test_no_light_is_lost_among_the_colours_of_an_order(smear: float) -> None:
    sines = np.linspace(-1, 2, 6000)
    sums = rainbow(sines, "cd", 1, smear)[sines > 0].sum(0) * (sines[1] - sines[0])
    assert sums == pytest.approx(np.ones(3), abs=2e-3)
    peaks = sines[rainbow(sines, "cd", 2, smear)[sines > 0].argmax(0) + (sines <= 0).sum()]
    assert (np.diff(peaks) < 0).all()  # red is bent most


def test_a_lamp_overhead_draws_blue_nearer_to_the_hub_than_red() -> None:
    """An eye beside the lamp: the farther out, the larger the sines on both sides, and so the wavelength."""
    lamps = [Lamp(np.array([0.0, 0, 250]), 3.0, np.ones(3))]
    points = np.stack([np.linspace(23, 58, 300), np.zeros(300)], -1)[None].astype(np.float32)
    way = -points / np.sqrt((points**2).sum(-1, keepdims=True) + 250**2)
    red, green, blue = fans(lamps, points, way, "cd", (0.1,), (0.0, 0.004, 0.1), 0.0)[0].argmax(0)
    assert blue < green < red
    expected = 2 * points[0, green, 0] / np.hypot(points[0, green, 0], 250)
    assert expected == pytest.approx(538 / 1600, abs=0.01)


def test_plastic_mirrors_as_fresnel_has_it() -> None:
    """Straight on ((n - 1) / (n + 1))^2, grazing nearly all; at Brewster's angle half of s alone (E. Hecht, Optics)."""
    assert top_face(np.array([1.0, 1e-3])) == pytest.approx([(0.585 / 2.585) ** 2, 1.0], abs=6e-3)
    brewster = np.arctan(1.585)
    assert top_face(np.cos(np.array([brewster]))) == pytest.approx(np.cos(2 * brewster) ** 2 / 2)


def test_the_mirror_image_of_a_scratch_hangs_where_snell_has_it() -> None:
    """2 t tan(theta'), sin(theta) = n sin(theta'), towards the eye: under 45 degrees through 1.2 mm."""
    inside = np.arcsin(np.sqrt(0.5) / 1.585)
    shift = twin_mm(np.array([[np.sqrt(0.5), 0], [0, 0]]), 1.2)
    assert shift == pytest.approx(np.array([[2.4 * np.tan(inside), 0], [0, 0]]))


def test_a_plane_looks_as_large_as_focal_length_over_distance() -> None:
    """The pinhole (textbook): at 250 mm, 4 px per mm; a point 50 mm higher 5 px per mm; back again to the plane."""
    view = looking((640, 480), np.array([0, 0, 250.0]), np.zeros(2), 1000.0, 0.0)
    point = np.array([[30.0, -10.0]])
    assert through(view.homography, point) == pytest.approx(np.array([[439.5, 199.5]]))
    assert image_of(view, np.array([[30.0, -10, 50]])) == pytest.approx(np.array([[469.5, 189.5]]))
    aslant = looking((640, 480), np.array([40.0, 130, 210]), np.array([5.0, -3]), 900.0, 0.2)
    back = plane_mm(aslant, np.array([100.0, 500]), np.array([50.0, 400]))
    assert aslant.px(back.reshape(-1, 2)) == pytest.approx(
        np.array([[100, 50], [500, 50], [100, 400], [500, 400.0]]), abs=1e-2
    )
    assert through(shrunk(view, 0.5).homography, point) == pytest.approx(np.array([[879.5, 399.5]]))


def test_a_mirror_shows_a_card_where_the_ray_meets_it() -> None:
    """Straight up from (10, 0) to a card whose left half is dark, right half bright; beyond it the horizon's grey."""
    picture = np.zeros((64, 64, 3), np.float32)
    picture[:, 32:] = 5
    scene = Scene("card", np.full(3, 0.2), np.full(3, 0.2))
    scene.hang(Card(np.array([-50.0, -50, 300]), np.array([100.0, 0, 0]), np.array([0, 100.0, 0]), painted(picture)))
    points = np.array([[[10.0, 0], [-10, 0], [80, 0]]], np.float32)
    up = np.broadcast_to(np.array([0, 0, 1], np.float32), (1, 3, 3))
    assert scene.look(points, up, (0.0, 1.0))[0, :, 0] == pytest.approx([5, 0, 0.2])


def test_a_lamps_light_falls_off_with_the_square_of_its_distance() -> None:
    """pi (r / d)^2 cos(theta) for a small round lamp (textbook)."""
    falls, way, wide = Lamp(np.array([0.0, 0, 400]), 10.0, np.ones(3)).from_points(np.array([[0.0, 0], [300, 0]]))
    assert falls == pytest.approx([np.pi / 1600, np.pi / 2500 * 0.8], rel=1e-5)
    assert way[1] == pytest.approx([-0.6, 0], abs=1e-6) and wide == pytest.approx([0.0125, 0.01])


@pytest.mark.parametrize("lamps", [(0, 0), (24, 24)])
def test_even_light_all_around_falls_on_the_table_as_lambert_has_it(lamps: tuple[int, int]) -> None:
    """Irradiance pi times the radiance (textbook), whether a wide ceiling's light comes as lamps or not."""
    scene = Scene("even", np.ones(3), np.ones(3))
    edges = np.array([40000.0, 0, 0]), np.array([0, 40000.0, 0])
    scene.hang(Card(np.array([-20000.0, -20000, 2000]), *edges, painted(np.ones((24, 24, 3), np.float32))), lamps)
    falls = scene.falls(np.array([[0, 0], [40.0, -30]], np.float32), scene.ambient())
    assert falls == pytest.approx(np.full((2, 3), np.pi), rel=0.06)


def test_the_facets_of_a_groove_send_all_their_light_somewhere() -> None:
    """The density of directions adds up to 1 for a face that mirrors and for one that refracts."""
    q = np.stack(np.meshgrid(np.linspace(-3, 3, 601), np.linspace(-3, 3, 601)), -1).reshape(-1, 2)
    ones = np.ones(len(q))
    walls = Walls(0.3 * ones, 0.1 * ones, 0.2 * ones, np.stack([ones, 0 * ones], 1))
    for scale in (2.0, 0.585):
        assert density(q, walls, scale, 0.02 * ones).sum() * 0.01**2 == pytest.approx(1, abs=3e-3)


def test_a_gap_of_a_quarter_wave_shines_and_none_is_dark() -> None:
    """(1 - cos(4 pi g / lambda)) / 2: dark at contact; at 0.135 um a quarter of 540 nm (Newton's rings, textbook)."""
    none, quarter = fringe_colours(np.array([0.0, 0.135]))
    assert none == pytest.approx(np.zeros(3)) and quarter[1] > 0.97


@pytest.mark.parametrize("wide_mm", [0.03, 0.1, 0.45])
def test_a_line_covers_as_much_of_the_pixels_as_it_is_wide(wide_mm: float) -> None:
    """Length times width, at any angle, at 10 px per mm."""
    for angle in (0.0, 0.4, np.pi / 4):
        path = 2 + np.linspace(0, 6, 80)[:, None] * np.array([np.cos(angle), np.sin(angle)])
        at, area, _ = strands(sampled([path], [np.full(5, wide_mm)], 10.0), 10.0)
        _, cover = splat(at * 10, area[:, None] * 100, (100, 100))
        assert cover.sum() == pytest.approx(60 * wide_mm * 10, rel=0.01)


def test_arcs_keep_to_their_radius_by_hundredths_of_a_millimetre() -> None:
    for arc in arcs(np.random.default_rng(1), 60.0, 8):
        assert np.ptp(np.hypot(*arc.path_mm.T)) < 0.04


@pytest.fixture(scope="module", params=[8, 10, 13], ids=["by a window", "by another", "in a shop"])
def folder(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Its scratch is torn and sends light all ways; the seeds give places with enough light to see by."""

    def at_a_place(folder: Path, _: int, number: int, **more: Any) -> Path:
        return draw(folder, request.param, number, **more)

    here, plain = tmp_path_factory.mktemp("fifth_light"), random_disc(np.random.default_rng(5), "clean")
    return draw_with_and_without(
        here, at_a_place, plain, lambda path: Line("scratch", "slip", path, 0.4, 1.0, np.ones(60), 0.6)
    )


class TestTruthAndPictures(TruthAndPictures):
    draw = staticmethod(draw)


def test_a_label_side_tells_wounds_where_they_are_drawn(tmp_path: Path) -> None:
    disc = replace(random_disc(np.random.default_rng(4), "heavy", labelled=True), sticker_mm=None)
    truth = json.loads(draw(tmp_path, 2, 7, long_px=SMALL_PX, disc=disc).read_text(encoding="utf-8"))["discs"][0]
    wounds = [one for one in truth["defects"] if one["kind"] == "label_damage"]
    assert truth["side"] == "label" and wounds and not any(one["kind"] == "scratch" for one in truth["defects"])
    labels = cv2.imread(str(tmp_path / "0007_disc0.png"), cv2.IMREAD_UNCHANGED)
    assert labels is not None and (labels == 7).any()


def test_of_each_twenty_photographs_as_many_are_clean_or_worn_as_is_said() -> None:
    for first, mix in ((0, CONDITIONS), (20, OTHER_CONDITIONS), (40, CONDITIONS), (100, OTHER_CONDITIONS)):
        assert sum(mix.values()) == 20
        assert Counter(condition_of(first + number) for number in range(20)) == Counter(mix)
