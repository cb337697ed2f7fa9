"""Several photographs of one disc on the command line: everything real, on discs drawn twice."""

from __future__ import annotations

import json
import subprocess
import sys
from hashlib import sha256
from pathlib import Path

import cv2
import jsonschema
import numpy as np
import pytest
from drawn import draw
from drawn_lamp import Lamp, Pinhole, draw_against_lamp
from match.conftest import LIGHTS, scratches, turned

import discscan
from discscan.errors import NoDisc
from discscan.report import json_schema
from discscan.report.same import SAME_HEAD, WHY, same_lines, same_report, same_rows
from discscan.report.side_by_side import draw_comparison

ROOT = Path(__file__).parents[2]
TURN_DEG = 140.0
MARKS = scratches(16, seed=41)


def program(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "discscan", *arguments]
    environment = {"PYTHONPATH": str(ROOT), "PATH": ""}
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, check=False, env=environment)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """before.png and after.png show one disc, other.png another one, bare.png none."""
    place = tmp_path_factory.mktemp("together")
    shown = {
        "before": (MARKS, 0),
        "after": (turned(MARKS[:12], TURN_DEG), 1),
        "other": (scratches(16, seed=42), 1),
    }
    for name, (marks, light) in shown.items():
        look, camera = LIGHTS[light]
        cv2.imwrite(str(place / f"{name}.png"), draw(*marks, look=look, camera=camera, seed=light)[0])
    holes = [Pinhole(40, 0, 0.6), Pinhole(-30, 20, 0.4)]
    cv2.imwrite(str(place / "lamp.png"), draw_against_lamp(*holes, lamp=Lamp(level=0.9))[0])
    cv2.imwrite(str(place / "bare.png"), cv2.imread(str(place / "before.png"))[:200, :300])
    return place


def test_two_photos_are_taken_as_one_and_all_that_was_asked_for_is_left(folder: Path) -> None:
    run = program(
        folder, "scan", "--merge", "before.png", "after.png", "--format", "dvd", "--json", "--pictures", "out",
        "--page", "out/page.html", "--labels-out", "out",
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    document = json.loads(run.stdout)
    jsonschema.validate(document, json_schema())
    (merged,) = document["merged"]
    assert [one["joined"] for one in merged["merged_from"]] == [True, True]
    assert merged["measured_fraction"] >= max(photo["discs"][0]["measured_fraction"] for photo in document["photos"])
    assert merged["playback"] is not None and merged["verdict"]["reasons"]
    left = {path.name for path in (folder / "out").iterdir()}
    stem = f"{Path(merged['merged_from'][0]['file']).stem}_merged"
    assert {f"{stem}_from_above.jpg", f"{stem}_side_by_side.jpg", f"{stem}.png"} <= left
    page = (folder / "out/page.html").read_text()
    assert "taken as one" in page and "the disc lies turned by" in page


def test_a_photo_against_a_lamp_adds_pinholes_that_are_told(folder: Path) -> None:
    run = program(folder, "scan", "--merge", "before.png", "--lamp", "lamp.png", "--format", "dvd", "--json")
    assert run.returncode == 0, run.stderr
    document = json.loads(run.stdout)
    jsonschema.validate(document, json_schema())
    (merged,) = document["merged"]
    digest = sha256((folder / "lamp.png").read_bytes()).hexdigest()
    assert merged["lamp"] == {"file": "lamp.png", "sha256": digest, "used": True, "pinholes": 2}
    radii = sorted((d["radius_min_mm"] + d["radius_max_mm"]) / 2 for d in merged["defects"] if d["see_through"])
    assert radii == pytest.approx([np.hypot(30, 20), 40], abs=0.3)
    assert "pinhole_turn_unknown" in {doubt["code"] for doubt in merged["doubts"]}
    assert all(not d["see_through"] for d in document["photos"][0]["discs"][0]["defects"])
    assert "in 2 places" in program(folder, "scan", "--merge", "before.png", "--lamp", "lamp.png", "--explain").stdout


@pytest.mark.parametrize(("photo", "doubt"), [("before.png", "lamp_not_behind"), ("bare.png", "lamp_no_disc")])
def test_a_photo_that_shows_no_disc_before_a_lamp_is_a_doubt(folder: Path, photo: str, doubt: str) -> None:
    (merged,) = discscan.scan(folder / "before.png", merge=True, lamp=folder / photo).merged or []
    assert doubt in {one.code for one in merged.doubts}
    assert merged.lamp is not None and not merged.lamp.used


def test_a_photo_against_the_lamp_that_cannot_be_read_is_told_and_the_others_are_judged(folder: Path) -> None:
    report = discscan.scan(folder / "before.png", merge=True, lamp=folder / "none.png")
    assert [one.error and one.error.code for one in report.photos] == ["no-such-file", None]
    assert report.merged and report.merged[0].lamp is None


def test_a_photo_against_the_lamp_goes_with_the_photos_of_one_disc(folder: Path) -> None:
    run = program(folder, "scan", "before.png", "--lamp", "lamp.png")
    assert run.returncode == 2 and not run.stdout and "--merge" in run.stderr


def test_without_merge_nothing_is_taken_together(folder: Path) -> None:
    assert "merged" not in json.loads(discscan.scan(folder / "bare.png").to_json())


def test_a_polished_disc_is_known_by_what_is_left_and_what_is_gone_is_told(folder: Path) -> None:
    run = program(folder, "same", "before.png", "after.png", "--json", "--picture", "both.jpg")
    assert run.returncode == 0, run.stderr
    told = json.loads(run.stdout)
    assert told["answer"] == "same" and told["likelihood_ratio"] > 100
    assert told["turn_deg"] == pytest.approx(TURN_DEG, abs=1)
    assert len(told["both"]) >= 8
    assert len(told["only_first"]) >= 2
    picture = cv2.imread(str(folder / "both.jpg"))
    assert picture.shape[1] == 2 * 900


def test_another_disc_is_never_called_the_same(folder: Path) -> None:
    run = program(folder, "same", "before.png", "other.png")
    assert run.returncode == 0
    assert run.stdout.startswith(("ANOTHER DISC", "CANNOT TELL"))


def test_one_photo_held_against_itself_proves_nothing(folder: Path) -> None:
    found = discscan.same(folder / "before.png", folder / "before.png")
    assert (found.answer, found.why) == ("cannot tell", "one-photo")


def test_a_photo_without_a_disc_is_an_error_that_says_so(folder: Path) -> None:
    with pytest.raises(NoDisc):
        discscan.same(folder / "before.png", folder / "bare.png")
    run = program(folder, "same", "before.png", "bare.png")
    assert run.returncode == 1 and not run.stdout
    assert run.stderr.startswith("discscan: bare.png: ")


def test_the_words_name_every_mark_once_and_number_those_in_both(folder: Path) -> None:
    found = discscan.same(folder / "before.png", folder / "after.png")
    told = same_report(found, ("before.png", "after.png"))
    rows = same_rows(told)
    assert all(len(row) == len(SAME_HEAD) for row in rows)
    assert [row[0] for row in rows[: len(told.both)]] == [str(n + 1) for n in range(len(told.both))]
    assert "clockwise" in " ".join(same_lines(told))
    assert draw_comparison(found, ("before.png", "after.png")).shape[1] == 1800


@pytest.mark.parametrize("why", WHY)
def test_every_reason_of_an_answer_is_given_by_the_code_and_is_a_sentence(why: str) -> None:
    assert f'"{why}"' in (ROOT / "discscan/compare.py").read_text()
    assert WHY[why][0].isupper() and WHY[why].endswith(".")
