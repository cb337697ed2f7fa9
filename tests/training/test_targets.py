"""What the nets are asked to say, worked out by hand: edges in bands, lines that show, paint, scores of outlines."""

from __future__ import annotations

import importlib.util
import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from discscan.damage.maps import SIDE_UP, _place
from discscan.flatten.grid import PX_PER_MM
from discscan.locate.rings import CELLS
from discscan.records import FloatArray, Side
from models.training import painted
from models.training.damage_crops import CROP, showing
from models.training.painted import MASKS, paint, swirl
from models.training.painted_label import wear
from models.training.painted_layer import add_layer
from models.training.piece import Piece, places
from models.training.ring_bands import HIDDEN, edge_cells
from models.training.score_discs import circle_off_mm, overlap

EVERYWHERE = np.ones(720, bool)
POSE = np.array([[0.1, 0, -60], [0, 0.1, -50], [0, 0, 1.0]])


def test_a_right_pose_has_the_edge_in_the_middle_of_the_band() -> None:
    cells = edge_cells(POSE, POSE, EVERYWHERE, radius=60.0, reach=0.12)
    assert cells == pytest.approx(np.full(len(cells), CELLS / 2 - 0.5), abs=1e-3)


def test_a_pose_too_large_by_three_per_cent_has_it_a_quarter_of_the_reach_further_out() -> None:
    larger = np.diag([1.03, 1.03, 1.0]) @ POSE
    cells = edge_cells(POSE, larger, EVERYWHERE, radius=60.0, reach=0.12)
    assert cells == pytest.approx(np.full(len(cells), CELLS / 2 - 0.5 + 0.25 * CELLS / 2), abs=1e-3)


def test_an_edge_that_is_covered_or_beyond_the_band_is_not_asked_for() -> None:
    half = np.arange(720) < 360
    cells = edge_cells(POSE, POSE, half, radius=60.0, reach=0.12)
    assert (cells == HIDDEN).mean() == pytest.approx(0.5, abs=0.03)
    assert (edge_cells(POSE, np.diag([1.2, 1.2, 1.0]) @ POSE, EVERYWHERE, radius=60.0, reach=0.12) == HIDDEN).all()


@pytest.mark.parametrize(("levels", "shows"), [(0, False), (12, True), (-12, True)])
def test_a_line_is_asked_for_only_where_the_picture_shows_it(levels: int, shows: bool) -> None:
    ground = np.random.default_rng(1).normal(120, 2, (200, 200))
    cv2.line(line := np.zeros((200, 200)), (20, 100), (180, 100), 1.0, 2)
    picture = np.clip(ground + levels * line, 0, 255).astype(np.uint8)
    points = np.stack([np.arange(30, 170, 2.0), np.full(70, 100.0)], 1)
    assert (showing(points, picture).mean() > 0.9) == shows
    if not shows:
        assert showing(points, picture).mean() < 0.2


def piece() -> Piece:
    masks = {name: np.zeros((CROP, CROP), np.uint8) for name in MASKS}
    return Piece(np.full((CROP, CROP, 3), 120, np.float32), masks, np.array([-100.0, -550.0]), 600.0, 0.8)


def test_traces_of_polishing_change_the_picture_and_are_no_damage() -> None:
    for seed in range(20):
        polished = piece()
        swirl(polished, np.random.default_rng(seed))
        assert np.ptp(polished.image) > 1, seed
        assert not any(mask.any() for mask in polished.masks.values()), seed


def test_paint_changes_the_picture_where_it_says_and_every_kind_comes_up() -> None:
    came = set()
    for seed in range(40):
        used = piece()
        (wear if seed % 4 == 3 else paint)(used, np.random.default_rng(seed))
        came |= {name for name, mask in used.masks.items() if mask.any()}
        any_mask = np.maximum.reduce(list(used.masks.values()))
        changed = np.abs(used.image - 120).max(axis=2) > 40  # plainly
        near = cv2.dilate(any_mask, np.ones((61, 61), np.uint8)) > 0  # a mirror image lies up to 2 to 3 mm aside
        assert not (changed & ~near).any(), seed
    assert came == set(MASKS)


def test_painted_scratches_go_straight_on_or_waver_and_so_do_cracks(monkeypatch: pytest.MonkeyPatch) -> None:
    """What wavers is no crack for that; and a scratch ends with the plastic, 7.5 to 60 mm (ECMA-267, 10.1)."""
    ways: dict[str, list[float]] = {"line": [], "crack": []}

    def note(
        piece: Piece, rng: object, points: FloatArray, width: float, change: object, kind: str, *_: object
    ) -> None:
        if kind == "line" and len(points):
            radius = np.hypot(*points.T)
            assert radius.min() > 75 and radius.max() < 600
        if len(points) > 20:
            turns = np.diff(np.unwrap(np.arctan2(*np.diff(points, axis=0).T)))
            ways[kind].append(float(np.std(turns)))

    monkeypatch.setattr(painted, "add_line", note)
    hub = replace(piece(), corner=np.array([20.0, 20.0]))
    for seed in range(60):
        painted.add_scratches(hub if seed % 2 else piece(), np.random.default_rng(seed))
        painted.add_crack(piece(), np.random.default_rng(seed))
    for kind in ways:
        assert min(ways[kind]) < 0.01 < 0.05 < max(ways[kind]), kind
    assert 0.15 < np.mean(np.array(ways["line"]) > 0.01) < 0.5


def test_a_painted_crack_is_darker_here_and_brighter_there_or_does_not_show() -> None:
    darker = brighter = both = hidden = 0
    for seed in range(60):
        used = replace(piece(), image=np.full_like(piece().image, 128.0))
        painted.add_crack(used, np.random.default_rng(seed))
        told = used.image.mean(2)[used.masks["crack"] > 0] - 128
        down, up = bool((told < -12).any()), bool((told > 12).any())
        darker, brighter, both = darker + down, brighter + up, both + (down and up)
        hidden += bool((used.masks["faint"] > used.masks["crack"]).any())
    assert min(darker, brighter, both, hidden) > 5
    assert both < 40


def test_a_painted_layer_ends_with_the_disc_and_stands_out_where_it_is_said_to_be() -> None:
    rim = replace(piece(), corner=np.array([450.0, -125.0]))
    outside = np.hypot(*places(rim)) > 600
    outlines = []
    for seed in range(80):
        used = replace(rim, image=np.full_like(rim.image, 128.0), masks={k: m.copy() for k, m in rim.masks.items()})
        add_layer(used, np.random.default_rng(seed))
        patch = used.masks["layer"]
        assert not patch[outside].any()
        if not 400 < patch.sum() < 20000:
            continue
        away = np.abs(used.image - 128).mean(2)
        assert away[patch > 0].mean() > 2 * away[cv2.dilate(patch, None, iterations=12) == 0].mean()
        outlines.append(len(cv2.findContours(patch, cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE)[0]))
    assert min(outlines) == 1 and max(outlines) > 10  # whole ones, and ones that fray


def test_paint_is_the_same_for_the_same_lot() -> None:
    one, other = piece(), piece()
    for used in (one, other):
        paint(used, np.random.default_rng(5))
    assert np.array_equal(one.image, other.image)


def test_an_outline_a_tenth_too_small_overlaps_by_its_area() -> None:
    rim = {"cx": 300.0, "cy": 200.0, "axis_major": 400.0, "axis_minor": 300.0, "angle_deg": 20.0}
    small = {**rim, "axis_major": 360.0, "axis_minor": 270.0}
    assert overlap(rim, rim) == 1.0
    assert overlap(rim, small) == pytest.approx(0.81, abs=0.01)


def test_a_pose_one_per_cent_off_is_six_tenths_of_a_millimetre_off_at_the_rim() -> None:
    true = {"homography_px_to_mm": POSE.tolist()}
    found = {"homography_px_to_mm": (np.diag([1.01, 1.01, 1.0]) @ POSE).tolist()}
    assert circle_off_mm(found, true, 60.0) == pytest.approx(0.6)
    assert math.isclose(circle_off_mm(true, true, 7.5), 0.0, abs_tol=1e-9)


if importlib.util.find_spec("torch"):  # tried only where torch happens to be

    @pytest.mark.parametrize(("diameter_mm", "up"), [(120, "data"), (80, "label"), (120, "unknown")])
    def test_the_damage_net_is_told_the_same_places_in_training_as_in_use(diameter_mm: int, up: Side) -> None:
        import torch

        from models.training.train_damage import place_of

        side = diameter_mm * round(PX_PER_MM) // 32 * 32
        corner = torch.tensor([[-side / 2 / PX_PER_MM] * 2 + [diameter_mm]])
        told = place_of(corner, torch.tensor([SIDE_UP[up]]), side // 4).numpy()
        assert told == pytest.approx(_place(side, PX_PER_MM, diameter_mm, up), abs=1e-5)  # half a cell is 3e-3

    def test_the_damage_net_is_mostly_told_the_right_side_in_training() -> None:
        import torch

        from models.training.train_damage import SIDE_UNKNOWN, SIDE_WRONG, side_told

        torch.manual_seed(1)
        data_side = torch.randint(0, 2, (20_000,), dtype=torch.uint8)
        told = side_told(data_side)
        assert set(told.tolist()) == set(SIDE_UP.values())
        known = told != SIDE_UP["unknown"]
        assert float((~known).float().mean()) == pytest.approx(SIDE_UNKNOWN, abs=0.01)
        wrong = known & (told != torch.where(data_side > 0, SIDE_UP["data"], SIDE_UP["label"]))
        assert float(wrong.float().mean()) == pytest.approx(SIDE_WRONG, abs=0.005)
