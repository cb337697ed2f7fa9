"""The third renderer of photographs (tests/bench/third_light): its truth against its pictures, and textbook optics.

What nets learn from it is tried only where torch happens to be.
"""

from __future__ import annotations

import importlib.util
import json
from collections import Counter
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from bench.other_light.areas import Hair
from bench.other_light.view import View, through
from bench.third_light.damage import Line
from bench.third_light.disc import CONDITIONS, condition_of, random_disc
from bench.third_light.optics import apparent, mirror_ray
from bench.third_light.photograph import draw
from bench.third_light.view import at_height
from training.true_pictures import (
    TruthAndPictures,
    assert_a_label_is_seen_where_it_is_printed,
    assert_label_sides_take_the_place_of_others,
    draw_with_and_without,
    imported,
)

from discscan.flatten.grid import warp_to_grid
from discscan.locate.conics import without_turn
from models.training.damage_crops import BITS, CROP, crops_of, truth_bits

ROOM = Path(__file__).parents[1] / "bench" / "third_light"


def test_it_shares_no_code_with_what_trains_the_nets_nor_the_light_of_what_measures_them() -> None:
    """`optics` of other_light: the standards' numbers only."""
    ours = {"areas", "chance", "lines", "optics", "truth", "view"}
    for path, module, taken in imported(ROOM):
        assert not module.startswith(("models", "drawn", "discscan")), path
        if module.startswith("bench.other_light"):
            assert module.removeprefix("bench.other_light.") in ours, path
            if module.endswith("optics"):
                assert taken <= {"Array", "CLEAR_MM", "PITCH_NM"}, path


def above(distance_mm: float) -> View:
    """A camera of 1000 px focal length straight above the disc."""
    lens = np.array([[1000 / distance_mm, 0, 319.5], [0, 1000 / distance_mm, 239.5], [0, 0, 1]])
    return View(640, 480, lens, np.array([0, 0, distance_mm]), np.diag([1.0, 1, -1]), 1000, 0)


def test_a_plane_looks_as_large_as_focal_length_over_distance() -> None:
    """The pinhole (textbook): at 250 mm, 4 px per mm; 50 mm lower, 1000 / 300."""
    view = above(250)
    assert at_height(view, 0) == pytest.approx(view.homography)
    assert through(at_height(view, -50), np.array([[30.0, 0]])) == pytest.approx(np.array([[419.5, 239.5]]))


def test_light_is_mirrored_as_the_textbook_has_it() -> None:
    """The angles are equal on a level mirror; a mirror that leans by 10 degrees turns the light by 20."""
    to_eye = np.array([[np.sin(0.3), 0, np.cos(0.3)]])
    assert mirror_ray(np.array([[0, 0, 1.0]]), to_eye) == pytest.approx(to_eye * [-1, 1, 1])
    lean = np.deg2rad(10)
    turned = mirror_ray(np.array([[2 * np.sin(lean), 0, 2 * np.cos(lean)]]), np.array([[0, 0, 1.0]]))
    assert turned == pytest.approx(np.array([[np.sin(2 * lean), 0, np.cos(2 * lean)]]))


def test_the_metal_seems_to_lie_as_deep_as_the_textbook_has_it() -> None:
    """Snell: straight from above at 1 / n of its depth; aslant tan(theta') / tan(theta), sin(theta) = n sin(theta')."""
    disc = random_disc(np.random.default_rng(5), "clean")
    assert apparent(disc, above(250)) == pytest.approx(1 / 1.58, rel=1e-3)
    aslant = replace(above(250), camera_mm=np.array([250.0, 0, 250.0]))
    assert apparent(disc, aslant) == pytest.approx(np.tan(np.arcsin(np.sqrt(0.5) / 1.58)))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Its scratch sends light all ways."""
    here, plain = tmp_path_factory.mktemp("third_light"), random_disc(np.random.default_rng(5), "clean")
    return draw_with_and_without(
        here, draw, plain, lambda path: Line("scratch", "straight", path, 0.4, 1.0, np.ones(60), 0.4)
    )


class TestTruthAndPictures(TruthAndPictures):
    draw = staticmethod(draw)


def test_a_label_is_seen_where_it_is_printed_and_told(tmp_path: Path) -> None:
    assert_a_label_is_seen_where_it_is_printed(draw, tmp_path, random_disc(np.random.default_rng(5), "clean"))


def test_as_many_label_sides_are_drawn_as_is_asked_and_the_others_stay_as_they_are(tmp_path: Path) -> None:
    assert_label_sides_take_the_place_of_others(draw, tmp_path)


def test_of_each_twenty_photographs_as_many_are_clean_or_worn_as_is_said() -> None:
    for first in (0, 20, 100):
        assert Counter(condition_of(3, first + number) for number in range(20)) == Counter(CONDITIONS)


if importlib.util.find_spec("torch"):
    from models.training.shards import CROPS, PHOTO_PX, Job, _rows, by_other_code, views_of

    def test_what_nets_learn_from_its_photographs_is_what_is_true_there(tmp_path: Path) -> None:
        """Pieces show the picture and its truth; a hair is dust along its path and none beside it; no side is asked."""
        number = next(n for n in range(40) if condition_of(9, n) == "heavy")
        disc = replace(random_disc(np.random.default_rng(3), "heavy"), sticker_mm=None)
        bow = np.linspace(0, np.pi, 60)
        hair = Hair(np.stack([8 * np.cos(bow), 40 + 8 * np.sin(bow)], 1), 0.06, 1.0)
        truth = draw(tmp_path, 9, number, long_px=(1200.0, 1201.0), disc=replace(disc, hairs=[hair], specks=[]))
        bgr, discs, labels = by_other_code(truth)
        pose = without_turn(np.array(discs[0]["homography_px_to_mm"]))
        flat = warp_to_grid(bgr, pose, diameter_mm=discs[0]["diameter_mm"])
        bits = truth_bits(discs[0], labels[0], pose, flat)
        has = {name: (bits >> BITS.index(name)) & 1 > 0 for name in BITS}
        turn = pose @ np.linalg.inv(np.array(discs[0]["homography_px_to_mm"]))

        def cell(x_mm: float, y_mm: float) -> tuple[int, int]:
            x, y = through(turn, np.array([[x_mm, y_mm]]))[0]
            return round(5 * y + bits.shape[0] / 2), round(5 * x + bits.shape[0] / 2)

        assert has["dust"][cell(0, 48)]
        assert not has["dust"][cell(0, 43)]
        assert has["line"].any()
        crops = crops_of(bgr, discs[0], labels[0], 2, np.random.default_rng(1))
        assert [crop.shape for crop, *_ in crops] == [(CROP, CROP, 3)] * 2
        assert all(up == 1 for _, _, _, up, _ in crops)
        job = Job(9, 0, 1, ("cpu",), ("damage",), PHOTO_PX, tmp_path, (truth,), both_sides=False, cuts=2)
        twice = _rows(job, 0, "cpu")["damage"]
        assert len(twice) == 2 * CROPS["data"]
        assert len({piece.tobytes() for piece, *_ in twice}) == len(twice)
        views = views_of(bgr, discs, [], np.random.default_rng(1), both_sides=False)
        of_disc = [asked for _, asked, _ in views if asked[0] == 1]
        told = views_of(bgr, discs, [], np.random.default_rng(1), both_sides=True)
        assert of_disc
        assert all(asked[2] == 1 for _, asked, _ in told if asked[0] == 1)
        assert all(asked[2] == -1 and asked[3] == int(disc.recording == "recordable") for asked in of_disc)

    def test_what_covers_a_disc_that_is_a_little_larger_lies_where_it_lay(tmp_path: Path) -> None:
        """The grid of a disc of 120 mm has 1240 cells across (`discscan/flatten/grid.py`), one of 120.1 mm one more."""
        truth = {"file": "0.png", "discs": [{"diameter_mm": 120}]}
        (tmp_path / "0.json").write_text(json.dumps(truth), encoding="utf-8")
        covered = np.zeros((1241, 1241), np.uint8)
        covered[720:821, 620:] = 255  # 10 to 20 mm below the centre, from there to the right
        for name in ("0.png", "0_disc0.png"):
            cv2.imwrite(str(tmp_path / name), covered)
        _, _, (labels,) = by_other_code(tmp_path / "0.json")
        rows, columns = np.nonzero(labels)
        assert labels.shape == (1240, 1240)
        assert (rows.min() - 620) / 10 == pytest.approx(10, abs=0.11) and columns.max() == 1239
        assert (rows.max() - 620) / 10 == pytest.approx(20, abs=0.11) and (columns.min() - 620) / 10 <= 0.1

    def test_a_truth_without_its_photograph_is_told_by_name(tmp_path: Path) -> None:
        (tmp_path / "0000.json").write_text('{"file": "0000.jpg", "discs": []}', encoding="utf-8")
        with pytest.raises(OSError, match=r"0000\.jpg cannot be read"):
            by_other_code(tmp_path / "0000.json")
