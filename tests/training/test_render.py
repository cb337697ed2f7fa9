"""The renderer's geometry and truth, torch-free, held against the grating equation, Snell and OpenCV's ellipse fit."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
from skimage.measure import CircleModel, LineModelND

from models.training.render import areas, pieces, polish, truth
from models.training.render import geometry as g
from models.training.render.again import second, upright
from models.training.render.marks import LINES, Mark, delamination, on_face, ring_arcs, scratches
from models.training.render.ranges import Ranges
from models.training.render.scene import Scene, sample_scene

ROOT = Path(__file__).parents[2]
RANGES = Ranges.load()


def some_scene(seed: int, **given: object) -> Scene:
    return sample_scene(np.random.default_rng(seed), RANGES, width_px=1600, height_px=1200, seed=seed, count=1, **given)


@pytest.mark.parametrize(
    ("format_", "wavelength_nm", "order", "degrees"),
    # First and higher orders at normal incidence, d sin(theta) = m lambda (any optics handbook; from memory Born &
    # Wolf, Principles of Optics, 8.6.1) for the nominal pitches 1.6 and 0.74 um; the angles were worked out separately.
    [
        ("cd", 450, 1, 16.33), ("cd", 450, 2, 34.23), ("cd", 450, 3, 57.54), ("cd", 550, 1, 20.11),
        ("cd", 550, 2, 43.43), ("cd", 650, 1, 23.97), ("cd", 650, 2, 54.34),
        ("dvd", 450, 1, 37.45), ("dvd", 550, 1, 48.01), ("dvd", 650, 1, 61.45),
    ],
)  # fmt: skip
def test_first_colours_leave_at_the_angles_of_the_grating_equation(
    format_: str, wavelength_nm: float, order: int, degrees: float
) -> None:
    sine = g.diffracted_sine(pitch_nm=g.PITCH_NM[format_], wavelength_nm=wavelength_nm, order=order)
    assert np.degrees(np.arcsin(sine)) == pytest.approx(degrees, abs=0.01)


def test_a_measured_dvd_sends_650_nm_to_62_degrees() -> None:
    # "Difracción en un DVD", Electrónica y Ciencia, July 2010: 62.4 degrees measured, hence 0.734 um.
    sine = g.diffracted_sine(pitch_nm=g.PITCH_NM["dvd"], wavelength_nm=650, order=1)
    assert np.degrees(np.arcsin(sine)) == pytest.approx(62.4, abs=1.0)


@pytest.mark.parametrize(("wavelength_nm", "needed"), [(450, 1.406), (550, 1.719), (650, 2.031)])
def test_a_bd_shows_no_colour_near_the_normal(wavelength_nm: float, needed: float) -> None:
    # BDA white paper 1.C: pitch 0.32 um; sin(theta_i) + sin(theta_d) must reach lambda / d.
    assert g.diffracted_sine(pitch_nm=g.PITCH_NM["bd"], wavelength_nm=wavelength_nm, order=1) == pytest.approx(
        needed, abs=0.001
    )
    assert needed > 1  # so nothing at normal incidence


def test_a_mark_and_its_reflection_lie_two_layers_apart_by_snells_law() -> None:
    # By hand: sin 30 / 1.58 = 0.31646, tan = 0.33360; 2 x 1.2 mm x 0.33360 = 0.8006 mm.
    assert g.ghost_shift_mm(clear_layer_mm=1.2, incidence_deg=30) == pytest.approx(0.8006, abs=1e-4)
    assert g.ghost_shift_mm(clear_layer_mm=1.2, incidence_deg=0) == 0


@pytest.mark.parametrize("seed", range(12))
def test_rim_and_hole_ellipses_are_those_that_opencv_fits_to_the_projected_circles(seed: int) -> None:
    scene = some_scene(seed)
    disc = scene.discs[0]
    matrix = g.homography_px_to_mm(camera=scene.camera, frame=disc.frame, radius_mm=disc.radius_mm)
    turn = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    for radius_mm in (disc.radius_mm, g.HOLE_MM):
        ours = g.circle_ellipse(homography_px_to_mm=matrix, radius_mm=radius_mm)
        circle = disc.frame.to_world(radius_mm * np.stack([np.cos(turn), np.sin(turn)], 1))
        # far from the origin float32 loses the fit: bring the points to it first
        points = scene.camera.project(circle)
        shift = points.mean(0)
        (cx, cy), axes, _ = cv2.fitEllipseDirect((points - shift).astype(np.float32))
        assert (ours["cx"], ours["cy"]) == pytest.approx((cx + shift[0], cy + shift[1]), abs=0.6)
        assert (ours["axis_major"], ours["axis_minor"]) == pytest.approx((max(axes), min(axes)), abs=1.2)


@pytest.mark.parametrize("seed", range(12))
def test_a_true_line_comes_back_from_the_photograph_through_the_homography(seed: int) -> None:
    scene = some_scene(seed)
    disc = scene.discs[0]
    matrix = g.homography_px_to_mm(camera=scene.camera, frame=disc.frame, radius_mm=disc.radius_mm)
    line_mm = np.stack([np.linspace(-50, 50, 40), np.linspace(-20, 25, 40)], 1) * disc.radius_mm / 60
    back = g.map_points(matrix, scene.camera.project(disc.frame.to_world(line_mm)))
    assert np.hypot(*(back - line_mm).T).max() < 0.1  # lens distortion is what remains


@pytest.mark.parametrize("seed", range(12))
def test_the_discs_x_axis_runs_along_the_photographs_and_y_down(seed: int) -> None:
    scene = some_scene(seed)
    disc = scene.discs[0]
    steps = np.array([[0.0, 0.0], [0.01, 0.0], [0.0, 0.01]])
    straight = g.Camera(1600, 1200, scene.camera.focal_px, 0.0, scene.camera.axes, scene.camera.position_mm)
    middle, right, below = straight.project(disc.frame.to_world(steps))
    assert (right - middle)[0] > 0
    assert abs((right - middle)[1]) < 1e-6
    assert (below - middle)[1] > 0
    assert np.cross(disc.frame.x_axis, disc.frame.normal) == pytest.approx(disc.frame.y_axis)


def test_ring_arcs_keep_their_distance_from_the_centre_within_hundredths_of_a_millimetre() -> None:
    for seed in range(30):
        for mark in ring_arcs(np.random.default_rng(seed), RANGES, 60.0):
            assert np.ptp(np.hypot(*mark.outline_mm.T)) < 0.11  # twice the 0.05 mm that the range allows


def test_hairlines_of_a_polish_are_arcs_of_circles_on_the_face() -> None:
    bowed = 0
    for seed in range(12):
        paths = polish.strokes(np.random.default_rng(seed), 60, 60.0)
        assert len(paths) > 20
        for path in paths:
            radius_mm = np.hypot(*path.T)
            assert radius_mm.min() > polish.INNER_MM and radius_mm.max() < 60.0 - polish.TO_RIM_MM
            if np.abs(LineModelND.from_estimate(path).residuals(path)).max() > 0.2:  # a straight one tells no circle
                assert np.abs(CircleModel.from_estimate(path).residuals(path)).max() < 1e-6
                bowed += 1
    assert bowed > 100


def test_what_a_polish_leaves_is_drawn_and_is_no_damage() -> None:
    always = RANGES.narrowed({"condition.polished": 1.0, "photo.side": "data"})
    for seed in range(4):
        rng = np.random.default_rng(seed)
        scene = sample_scene(rng, always, width_px=800, height_px=600, seed=seed, count=1, condition_="clean")
        kinds = [mark.kind for mark in scene.discs[0].marks]
        assert kinds.count("swirl") > 20
        built = truth.build(scene, np.zeros((600, 800), np.int16), [{}], scale=1.0, file="0000.jpg")
        told = built.record["discs"][0]
        assert told["polished"] and not {d["kind"] for d in told["defects"]} & set(LINES)


def test_breaks_from_hole_to_rim_part_a_disc_and_each_piece_lies_askew_in_its_own_way() -> None:
    in_pieces = 0
    for seed in range(8):
        marks = tuple(pieces.shattered(np.random.default_rng(seed), RANGES, 60.0))
        assert {mark.kind for mark in marks} == {"crack"}
        through = [m for m in marks if np.hypot(*m.outline_mm[0]) < 7.6 and np.hypot(*m.outline_mm[-1]) > 59]
        lean = pieces.leans(marks, 120, lean_rad=0.02, seed=seed)
        if lean is None:  # two lines that cross, say
            continue
        in_pieces += 1
        slopes = np.unique(lean.reshape(2, -1).T, axis=0)
        assert lean.shape == (2, 1240, 1240) and 2 <= len(slopes) <= 3 * len(through)
        assert np.abs(slopes).max() < 0.02 * 4.5
    assert in_pieces >= 6


def test_a_crack_that_ends_in_the_plastic_leaves_a_disc_whole() -> None:
    line = np.stack([np.linspace(7.5, 50, 100), np.zeros(100)], 1)
    assert pieces.leans((Mark("crack", "crack", line),), 120, lean_rad=0.02, seed=1) is None


def test_a_break_gapes_as_wide_as_it_says_and_the_label_image_holds_the_gap() -> None:
    line = np.stack([np.linspace(8, 59, 200), np.zeros(200)], 1)
    mark = Mark("crack", "break", line, 100.0, 1200.0, np.ones(200), 1.0)
    gap = areas.masks((mark,), 120)["gap"]
    across_mm = gap[:, 620 + 580].sum() / 255 / areas.PX_PER_MM  # 58 mm from the centre, near its wide end
    assert across_mm == pytest.approx(1.0, abs=0.15)  # OpenCV fills half a pixel more on either side
    disc = replace(some_scene(3, side="data", condition_="clean", diameter_mm=120).discs[0], marks=(mark,))
    labels = truth.label_image(disc, np.ones((1240, 1240), bool))
    assert 10 <= (labels[:, 620 + 450] == 3).sum() <= 13  # a gap of 1 mm and a face of 0.1 mm at 10 px per mm


def test_corroded_spots_lie_within_the_mirror() -> None:
    always = RANGES.narrowed({"delamination.style": "spots"})
    drawn = [mark for seed in range(40) for mark in delamination(np.random.default_rng(seed), always, 60.0, 21.0)]
    assert len(drawn) > 80
    for mark in drawn:
        radius_mm = np.hypot(*mark.outline_mm.T)
        assert mark.style == "spot" and radius_mm.min() > 21.0 and radius_mm.max() < 60.0


def test_some_scratches_begin_at_an_edge_and_run_inwards_as_cracks_do() -> None:
    always = RANGES.narrowed({"scratch.over_edge": 1.0, "scratch.bunch": 0.0})
    drawn = scratches(np.random.default_rng(1), always, 200, 60.0)
    first = np.array([np.hypot(*mark.outline_mm[0]) for mark in drawn])
    assert len(drawn) > 150 and np.all((first < 9.5) | (first > 59.0))


def test_a_line_ends_where_it_leaves_the_face() -> None:
    outwards = np.stack([np.arange(30.0, 90.0), np.full(60, 0.5)], 1)
    assert np.array_equal(on_face(outwards, 7.5, 60.0), outwards[:30])
    assert np.array_equal(on_face(outwards[::-1], 7.5, 60.0), outwards[:30][::-1])
    assert np.array_equal(on_face(outwards - [26, 0.5], 7.5, 60.0), (outwards - [26, 0.5])[4:56])
    assert len(on_face(outwards, 7.5, 20.0)) == 0


def test_some_scratches_sway_as_cracks_do() -> None:
    """Their headings stray by up to as much as a crack's kinks, 0.17 radians."""
    straight, swaying = (
        scratches(np.random.default_rng(3), RANGES.narrowed({"scratch.sways": chance}), 60, 60.0)
        for chance in (0.0, 1.0)
    )

    def strays(mark: Mark) -> float:
        heading = np.unwrap(np.arctan2(*np.diff(mark.outline_mm, axis=0).T))
        along = np.arange(len(heading))
        return float(np.std(heading - np.polyval(np.polyfit(along, heading, 1), along)))

    assert np.median([strays(mark) for mark in straight]) < 0.02
    assert 0.05 < np.median([strays(mark) for mark in swaying]) < 0.2
    assert max(strays(mark) for mark in swaying) > 0.17


def test_the_label_image_shows_a_line_where_the_report_format_puts_it() -> None:
    scene = some_scene(3, side="data", condition_="clean", diameter_mm=120)
    disc = scene.discs[0]
    line = np.stack([np.full(50, 30.0), np.linspace(-10, 10, 50)], 1)
    marked = replace(disc, marks=(Mark("scratch", "groove", line, 200.0, 20.0, np.ones(50)),))
    seen = np.ones((1240, 1240), bool)
    seen[:, :200] = False
    labels = truth.label_image(marked, seen)
    assert labels.shape == (1240, 1240)
    assert labels[620, 10 * 30 + 620] == 1  # row = 10 y + side / 2, column = 10 x + side / 2
    assert labels[620, 10 * 28 + 620] == 0
    assert labels[620, 100] == truth.NOT_MEASURED  # on the disc, not seen
    assert labels[0, 0] == 0  # off the disc
    assert labels[620, 620] == 0  # the hole


def test_breaks_do_not_count_towards_a_lines_length() -> None:
    line = np.stack([np.linspace(0, 10, 101), np.full(101, 30.0)], 1)
    profile = np.ones(101)
    profile[40:61] = 0
    record = truth.defect_record(Mark("scratch", "groove", line, 50.0, 5.0, profile), 0.2, 1.0)
    assert record["length_mm"] == pytest.approx(3.9 + 3.9)
    assert len(record["pieces_mm"]) == 2


def test_the_truth_of_a_scene_has_every_promised_field_and_is_json() -> None:
    scene = some_scene(5, condition_="mixed", side="data")
    owner = np.zeros((1200, 1600), np.int16)
    built = truth.build(scene, owner, [{}], scale=0.5, file="0000.jpg")
    record = json.loads(json.dumps(built.record))
    assert (record["width_px"], record["height_px"]) == (800, 600)
    disc = record["discs"][0]
    promised = "diameter_mm homography_px_to_mm outer_ellipse_px hole_ellipse_px side recording format"
    for name in [*promised.split(), "visible_fraction", "rim_seen_fraction", "recorded_to_mm", "defects"]:
        assert name in disc
    for defect in disc["defects"]:
        assert defect["kind"] in truth.LABELS
        assert 0 <= defect["radius_min_mm"] <= defect["radius_max_mm"] <= 75
        assert (defect["length_mm"] is None) != (defect["area_mm2"] is None)
        assert (defect["length_mm"] is None) == (defect["profile"] is None)
        assert 0 <= defect["strength"] <= 1


def test_half_the_picture_size_doubles_the_millimetres_per_pixel() -> None:
    scene = some_scene(6)
    owner = np.zeros((1200, 1600), np.int16)
    full, half = (truth.build(scene, owner, [{}], scale=scale).record["discs"][0] for scale in (1.0, 0.5))
    assert half["outer_ellipse_px"]["axis_major"] == pytest.approx(full["outer_ellipse_px"]["axis_major"] / 2)
    assert half["outer_ellipse_px"]["cx"] + 0.5 == pytest.approx((full["outer_ellipse_px"]["cx"] + 0.5) / 2)


def test_every_range_has_a_reason() -> None:
    for section in RANGES.table.values():
        for name, entry in section.items():
            assert entry["why"].strip(), name
            assert len(set(entry) & {"range", "log", "chance", "pick"}) == 1, name


def test_the_same_seed_gives_the_same_scene() -> None:
    one, other = some_scene(9, condition_="mixed"), some_scene(9, condition_="mixed")
    assert len(one.discs[0].marks) == len(other.discs[0].marks)
    for a, b in zip(one.discs[0].marks, other.discs[0].marks, strict=True):
        assert np.array_equal(a.outline_mm, b.outline_mm)


def test_geometry_and_truth_need_no_torch() -> None:
    code = "import sys; sys.modules['torch'] = None; import models.training.render.scene, models.training.render.truth"
    subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True)


def test_every_demo_photograph_has_its_truth_its_line_in_the_readme_and_a_modest_size() -> None:
    folder = ROOT / "demo_images"
    records = json.loads((folder / "truth.json").read_text(encoding="utf-8"))["photos"]
    photos = sorted(folder.glob("*.jpg"))
    assert sorted(record["file"] for record in records) == [photo.name for photo in photos]
    readme = (folder / "README.md").read_text(encoding="utf-8")
    for record, photo in zip(sorted(records, key=lambda r: r["file"]), photos, strict=True):
        assert f"`{photo.name}`" in readme
        assert photo.stat().st_size < 500_000
        picture = cv2.imread(str(photo))
        assert picture.shape[:2] == (record["height_px"], record["width_px"])
    kinds = {defect["kind"] for record in records for disc in record["discs"] for defect in disc["defects"]}
    assert kinds == set(truth.LABELS)


if importlib.util.find_spec("torch"):  # the drawing itself is tried only where torch happens to be

    def test_a_scratch_is_drawn_where_the_truth_says() -> None:
        import torch

        from models.training.render.picture import radiance

        torch.set_num_threads(1)
        scene = sample_scene(
            np.random.default_rng(4), RANGES, width_px=480, height_px=360, seed=4, count=1, side="data",
            condition_="clean", diameter_mm=120, background="plain", kind="phone",
        )  # fmt: skip
        disc = scene.discs[0]
        line = np.stack([np.full(200, 35.0), np.linspace(-15, 15, 200)], 1)
        mark = Mark("scratch", "groove", line, 300.0, 60.0, np.ones(200))
        pictures = []
        for marks in ((), (mark,)):
            changed = replace(scene, discs=(replace(disc, marks=marks),))
            pictures.append(radiance(changed, torch.device("cpu"))[0].mean(0).numpy())
        rows, columns = np.nonzero(np.abs(pictures[1] - pictures[0]) > 0.2 * np.abs(pictures[1] - pictures[0]).max())
        matrix = g.homography_px_to_mm(camera=scene.camera, frame=disc.frame, radius_mm=60.0)
        where = g.map_points(matrix, np.stack([columns, rows], 1).astype(float))
        ghost = g.ghost_shift_mm(clear_layer_mm=1.2, incidence_deg=50)
        mm_per_px = 1 / abs(np.linalg.det(np.linalg.inv(matrix)[:2, :2])) ** 0.5
        assert len(rows) > 10
        assert np.abs(where[:, 0] - 35).max() < ghost + 2.5 * mm_per_px
        assert np.abs(where[:, 1]).max() < 15 + ghost + 2.5 * mm_per_px


def test_a_disc_photographed_again_keeps_its_marks_where_they_were_on_it() -> None:
    scene = some_scene(3, side="data", condition_="scratched")
    later = second(np.random.default_rng(4), RANGES, scene, "same")
    disc, again = scene.discs[0], later.discs[0]
    kept = [mark for mark in again.marks if mark.kind != "dust"]
    assert [mark.outline_mm.tolist() for mark in kept] == [
        mark.outline_mm.tolist() for mark in disc.marks if mark.kind != "dust"
    ]
    there = upright(again)
    for mark, seen in zip(again.marks, there.marks, strict=True):
        assert again.frame.to_world(mark.outline_mm) == pytest.approx(there.frame.to_world(seen.outline_mm))
    turn = np.radians(again.turn_deg)
    x, y = kept[0].outline_mm[0]
    turned = [x * np.cos(turn) - y * np.sin(turn), x * np.sin(turn) + y * np.cos(turn)]
    assert there.marks[0].outline_mm[0] == pytest.approx(turned)
