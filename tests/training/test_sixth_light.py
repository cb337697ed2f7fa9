"""The sixth renderer of photographs (tests/bench/sixth_light): truth against pictures, and textbook optics."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
from bench.other_light.areas import Flat
from bench.other_light.view import through
from bench.sixth_light.breaks import bent_by, cracks
from bench.sixth_light.face import track_light
from bench.sixth_light.ink import walked
from bench.sixth_light.light import (
    INDEX,
    depth_shift_mm,
    face_share,
    film_colours,
    order_sines,
    responses,
    wavelengths_nm,
)
from bench.sixth_light.makes import CONDITIONS, random_disc
from bench.sixth_light.panorama import Card, Panorama
from bench.sixth_light.parting import STYLES, part
from bench.sixth_light.photograph import draw
from bench.sixth_light.pose import MOST_TILT_DEG, by_hand, pinhole, plane_mm
from bench.sixth_light.soil import fingerprint
from bench.sixth_light.strokes import Stroke, ring_arcs, scratches
from training.true_pictures import (
    SMALL_PX,
    TruthAndPictures,
    draw_with_and_without,
    imported,
)

ROOM = Path(__file__).parents[1] / "bench" / "sixth_light"


def test_it_shares_no_code_with_what_nets_learn_from_nor_with_the_other_renderers() -> None:
    """Of other_light the records and random shapes, and of its `optics` the standards' numbers only."""
    others = ("models", "drawn", "discscan", "bench.third_light", "bench.fourth_light", "bench.fifth_light")
    ours = {"areas", "chance", "lines", "optics", "truth", "view"}
    names = {
        "areas": {"FLAT_PX_MM", "HOLE_MM", "Flat", "Hair"},
        "lines": {"Groove", "length_mm"},
        "optics": {"Array", "CLEAR_MM", "PITCH_NM", "rgb"},
        "truth": {"Disc", "Truth"},
        "view": {"View"},
    }
    for path, module, taken in imported(ROOM):
        assert not module.startswith(others), path
        if module.startswith("bench.other_light"):
            file = module.removeprefix("bench.other_light.")
            assert file in ours and taken <= names.get(file, taken), path


def test_plastic_mirrors_as_fresnel_has_it() -> None:
    """Straight on ((n - 1) / (n + 1))^2, 4.65 % at n = 1.55; all when grazing; s alone at Brewster's angle (Hecht)."""
    assert face_share(np.array([1.0, 1e-6])) == pytest.approx([0.0465, 1.0], abs=1e-4)
    brewster = np.arctan(INDEX)
    assert face_share(np.cos(np.array([brewster]))) == pytest.approx(np.cos(2 * brewster) ** 2 / 2)


def test_what_lies_below_the_face_is_seen_where_snell_has_it() -> None:
    """t tan(theta'), sin(theta) = n sin(theta'): at 45 degrees through 1.2 mm of n = 1.55, 0.615 mm."""
    shift = depth_shift_mm(np.array([[np.sqrt(0.5), 0], [0, 0]]), 1.2)
    assert shift == pytest.approx(np.array([[0.615, 0], [0, 0]]), abs=1e-3)


def test_a_track_bends_light_as_the_grating_equation_has_it() -> None:
    """First order, straight on (E. Hecht, Optics, 10.2.8): asin(633 / 1600) = 23.3 degrees, asin(532 / 740) = 46.0;
    on a BD (320 nm) nothing that is seen."""
    none, radial = np.zeros((1, 2)), np.array([[1.0, 0]])
    assert np.rad2deg(np.arcsin(order_sines(none, radial, "cd", 1, 633)[0, 0])) == pytest.approx(23.3, abs=0.05)
    assert np.rad2deg(np.arcsin(order_sines(none, radial, "dvd", 1, 532)[0, 0])) == pytest.approx(46.0, abs=0.05)
    assert order_sines(none, radial, "bd", 1, 400)[0, 0] > 1
    assert order_sines(none, radial, "cd", -2, 500) == pytest.approx(-order_sines(none, radial, "cd", 2, 500))


@pytest.mark.parametrize(("disc_format", "order"), [("cd", 1), ("cd", -3), ("dvd", 1)])
def test_the_colours_of_an_order_add_up_to_white(disc_format: str, order: int) -> None:
    nm = wavelengths_nm(disc_format, order, 0.01)
    assert responses(nm).sum(0) == pytest.approx(np.ones(3), abs=1e-5)
    assert (np.diff(nm[responses(nm).argmax(0)]) < 0).all()


def test_a_film_is_dark_at_contact_and_shines_at_a_quarter_wave() -> None:
    """(1 - cos(4 pi g / lambda)) / 2: Newton's rings (E. Hecht, Optics, 9.4); 0.1338 um is a quarter of 535 nm."""
    contact, quarter = film_colours(np.array([0.0, 0.1338]))
    assert contact == pytest.approx(np.zeros(3), abs=1e-6) and quarter[1] > 0.95


def _even(radiance: float = 1.0) -> Panorama:
    return Panorama("even", np.full((256, 256, 3), radiance, np.float32), 2000.0)


def test_even_light_all_around_shows_white_paper_as_bright_as_itself() -> None:
    """E = pi L (Lambert): the mean over the sines."""
    points = np.array([[0.0, 0], [150.0, -80]], np.float32)
    assert _even(0.7).white_matt(points) == pytest.approx(np.full((2, 3), 0.7), rel=1e-3)


def test_a_card_hides_what_lies_behind_it_as_seen_from_each_point() -> None:
    """100 mm wide and 200 mm up, over (60, 0): straight up from there it is met, from (0, 0) it is not."""
    paint = np.ones((100, 100, 4), np.float32) * np.array([0, 0, 0, 1], np.float32)
    room = _even()
    room.cards.append(Card(np.array([60.0, 0, 200]), np.diag([1.0, 1.0, -1.0]), paint))
    points = np.array([[60.0, 0], [0.0, 0], [0.0, 0]], np.float32)
    aslant = 60 / np.hypot(60, 200)
    seen = room.look(points, np.array([[0.0, 0], [0.0, 0], [aslant, 0]], np.float32), 0)
    assert seen[:, 0] == pytest.approx([0, 1, 0], abs=0.01)


def test_a_lamp_overhead_draws_blue_nearer_to_the_hub_than_red() -> None:
    """Eye and lamp above the middle: the sines of both grow outwards, and with them the wavelength."""
    picture = np.zeros((400, 400, 3), np.float32)
    picture[198:202, 198:202] = 1000
    view = pinhole((600, 600), np.array([0, 0, 120.0]), np.zeros(2), 600.0, 0.0)
    disc = replace(random_disc(np.random.default_rng(3), "clean"), format="cd", rim_mm=60.0, bowl=np.zeros((2, 2)))
    unrolled = track_light(replace(disc, orders={1: 0.1, -1: 0.1}), Panorama("lamp", picture, 1e6), view)
    red, green, blue = unrolled.mean(1).argmax(0)
    assert blue < green < red
    radius = disc.tracks_mm + green / (len(unrolled) - 1) * (60 - disc.tracks_mm)
    assert radius / np.hypot(radius, 120) == pytest.approx(535 / 1600, abs=0.01)  # the lamp's own sine is nil


def test_the_camera_is_a_pinhole() -> None:
    """At 250 mm and a focal length of 1000 px, 4 px per mm; from a slant the pixels lead back to the plane."""
    view = pinhole((640, 480), np.array([0, 0, 250.0]), np.zeros(2), 1000.0, 0.0)
    assert through(view.homography, np.array([[30.0, -10.0]])) == pytest.approx(np.array([[439.5, 199.5]]))
    aslant = pinhole((64, 48), np.array([40.0, 130, 210]), np.array([5.0, -3]), 90.0, 0.2)
    assert plane_mm(aslant)[40, 7] == pytest.approx(aslant.mm(np.array([7.0]), np.array([40.0]))[0, 0], abs=1e-3)


def test_the_phone_is_tilted_by_45_degrees_at_most_and_the_disc_is_all_but_whole() -> None:
    rng = np.random.default_rng(1)
    for _ in range(200):
        view = by_hand(rng, 60.0, (900, 3000))
        assert view.tilt_deg <= MOST_TILT_DEG + 0.01
        assert 899 <= max(view.width_px, view.height_px) <= 3001
        middle = view.px(np.zeros((1, 2)))[0]
        assert (middle > 0).all() and (middle < [view.width_px, view.height_px]).all()


def test_a_walk_along_a_line_is_as_long_as_the_line() -> None:
    path = np.stack([np.linspace(0, 12, 7), np.linspace(0, 5, 7)], 1)
    points = walked([Stroke("scratch", "straight", path, 0.1, 0.3, np.ones(9), 0.2, 0.1)], 0.07)
    assert points.step_mm.sum() == pytest.approx(13) and points.step_mm.max() <= 0.07
    assert np.abs(points.across @ [12 / 13, 5 / 13]).max() < 1e-6


def test_arcs_keep_to_their_radius_and_scratches_to_the_disc() -> None:
    rng = np.random.default_rng(2)
    for arc in ring_arcs(rng, 60.0, 8):
        assert np.ptp(np.hypot(*arc.path_mm.T)) < 0.1
    for line in scratches(rng, 40.0, 60):
        assert np.hypot(*line.path_mm.T).max() < 40 and 0.02 <= line.width_mm <= 0.25


def test_a_crack_begins_at_an_edge_and_bends_the_face_to_either_side() -> None:
    for seed in range(6):
        first = cracks(np.random.default_rng(seed), 60.0)[0]
        radius = np.hypot(*first.path_mm[:, :2].T)
        assert radius[0] < 8.2 or radius[0] > 59.2
        way = first.path_mm[2, :2] - first.path_mm[1, :2]
        aside = 0.4 * np.array([-way[1], way[0]]) / np.hypot(*way)
        left, right = bent_by([first], np.stack([first.path_mm[2, :2] + aside, first.path_mm[2, :2] - aside]))
        assert left @ aside * (right @ aside) < 0


@pytest.mark.parametrize("style", STYLES)
def test_parted_layers_are_told_where_they_are_laid(style: str) -> None:
    for seed in range(3):
        flat = Flat(60.0)
        part(np.random.default_rng(seed), flat, style, 20.0, 59.0)
        (area,) = flat.areas
        assert area.kind == "delamination" and area.style == style
        laid = flat.layers[style] > 0.3
        assert laid.any() and (laid & ~area.mask).sum() < 0.05 * laid.sum()
        assert not (area.mask & ~flat.on_disc(20.0, 59.0)).any()


def test_the_ridges_of_a_finger_lie_half_a_millimetre_apart() -> None:
    flat = Flat(40.0)
    fingerprint(np.random.default_rng(4), flat, np.array([20.0, 0]))
    middle = flat.layers["grease"][350:490, 550:690]
    power = np.abs(np.fft.rfft2(middle - middle.mean())) ** 2
    fy, fx = np.meshgrid(np.fft.fftfreq(140, 0.1), np.fft.rfftfreq(140, 0.1), indexing="ij")
    size = np.hypot(fy, fx)
    sums = [power[(size > low) & (size <= low + 0.4)].sum() for low in np.arange(0.8, 4.4, 0.4)]
    assert 1 / 0.65 < 1.0 + 0.4 * int(np.argmax(sums)) < 1 / 0.35


@pytest.fixture(scope="module", params=[14, 15], ids=["in a kitchen", "in a car boot"])
def folder(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The seeds give places with enough light to see by, and discs large enough."""

    def at_a_place(folder: Path, _: int, number: int, **more: Any) -> Path:
        return draw(folder, request.param, number, **more)

    here, plain = tmp_path_factory.mktemp("sixth_light"), random_disc(np.random.default_rng(5), "clean")
    return draw_with_and_without(
        here, at_a_place, plain, lambda path: Stroke("scratch", "straight", path, 0.4, 0.8, np.ones(60), 0.2, 0.8)
    )


class TestTruthAndPictures(TruthAndPictures):
    draw = staticmethod(draw)


KINDS = {
    "clean": set(),
    "dusty": {"dust"},
    "greasy": {"smudge"},
    "scratched": {"scratch"},
    "heavy": {"scratch"},
    "arcs": {"ring_arc"},
    "cracked": {"crack"},
    "delaminated": {"delamination"},
    "mixed": {"scratch"},
    "polished": set(),
}


@pytest.mark.parametrize("condition", dict.fromkeys(CONDITIONS))
def test_each_condition_draws_what_it_says(condition: str) -> None:
    """On the disc itself: its lines, areas, cracks and dust."""
    for seed in range(2):
        disc = random_disc(np.random.default_rng(seed), condition)
        found = {line.kind for line in disc.lines} | {area.kind for area in disc.flat.areas}
        found |= ({"crack"} if disc.cracks else set()) | (
            {"dust"} if len(disc.specks) + len(disc.hairs) > 30 else set()
        )
        assert found >= KINDS[condition]
        assert condition != "clean" or not disc.lines
        assert (condition == "polished") == ("swirl" in found)
    assert min(Counter(CONDITIONS).values()) >= 1 and len(CONDITIONS) == 20


def test_a_cracked_disc_is_told_in_json_and_labels(tmp_path: Path) -> None:
    disc = replace(random_disc(np.random.default_rng(7), "cracked"), sticker_mm=None)
    truth = json.loads(draw(tmp_path, 1, 5, long_px=SMALL_PX, disc=disc).read_text(encoding="utf-8"))["discs"][0]
    told = Counter(one["kind"] for one in truth["defects"])
    assert truth["side"] == "data" and told["crack"] == len(disc.cracks)
    labels = cv2.imread(str(tmp_path / "0005_disc0.png"), cv2.IMREAD_UNCHANGED)
    assert labels is not None and (labels == 3).any()
