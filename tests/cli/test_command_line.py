"""The command line: exit statuses, streams, files. What is judged is a stand-in (conftest.py)."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from discscan.cli.app import Format, app
from discscan.cli.streams import put
from discscan.photo import DEFAULT
from discscan.records import FormatName

ROOT = Path(__file__).parents[2]
Call = Callable[..., Any]
"""Runs the program and returns its `status`, `out` and `err`."""


def test_the_exit_status_tells_whether_the_work_was_done_and_not_whether_the_disc_is_good(run: Call) -> None:
    assert run("scan", "play.jpg").status == 0
    assert run("scan", "pass.jpg", "retake.jpg").status == 0
    assert run("scan", "no_disc.jpg").status == 1
    assert run("scan", "play.jpg", "cut.jpg").status == 1
    assert run("scan", "none.jpg").status == 1


@pytest.mark.parametrize(
    "arguments",
    [
        ["scan"],
        ["scan", "play.jpg", "--format", "vinyl"],
        ["scan", "play.jpg", "--max-megapixels", "many"],
        ["scan", "play.jpg", "--max-megapixels", "179"],
        ["scan", "play.jpg", "--sideways"],
        ["scan", "play.jpg", "--polished", "-1"],
        ["scan", "play.jpg", "--polished", "1", "--item", "Harbour Songs"],
        ["grade", "play.jpg"],
        ["scan", "play.jpg", "--page", "."],
        ["scan", "play.jpg", "--pictures", "play.jpg"],
        ["scan", "play.jpg", "--labels-out", "/dev/null/labels"],
        ["scan", "play.jpg", "--page", "play.jpg/page.html"],
    ],
)
def test_wrong_usage_is_2_and_says_so_on_standard_error_alone(run: Call, arguments: list[str]) -> None:
    called = run(*arguments)
    assert called.status == 2
    assert called.out == ""
    assert called.err and "Traceback" not in called.err


def test_one_broken_photo_does_not_stop_the_others(run: Call) -> None:
    called = run("scan", "cut.jpg", "none.jpg", "play.jpg", "--json")
    photos = json.loads(called.out)["photos"]
    assert [photo["error"] and photo["error"]["code"] for photo in photos] == ["broken-photo", "no-such-file", None]
    assert [photo["file"] for photo in photos] == ["cut.jpg", "none.jpg", "play.jpg"]
    assert len(photos[2]["discs"]) == 1
    cut, none = called.err.splitlines()
    assert re.fullmatch(r"discscan: cut\.jpg: .* cut short .*\. .*again.*\.", cut)
    assert none == "discscan: none.jpg: There is no such file. Check how its name is written."


def test_json_is_one_document_and_the_same_bytes_give_the_same_report(run: Call) -> None:
    first = run("scan", "play.jpg", "two_discs.jpg", "--json")
    assert len(json.loads(first.out)["photos"]) == 2
    assert first.err == ""
    assert run("scan", "play.jpg", "two_discs.jpg", "--json").out == first.out


def polishes_told(run: Call, *options: str) -> int:
    called = run("scan", "play.jpg", "--json", *options)
    assert called.status == 0, called.err
    return int(json.loads(called.out)["photos"][0]["discs"][0]["resurfacing"]["polished"])


def test_how_often_a_disc_was_polished_is_typed_or_taken_from_the_ledger(
    run: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DISCSCAN_BOOK", "book.sqlite")
    for command in ("bought", "polished", "polished"):
        cost = "--fee" if command == "polished" else "--cost"
        assert run("ledger", command, "Harbour Songs", cost, "2").status == 0
    assert polishes_told(run) == 0
    assert polishes_told(run, "--polished", "1") == 1
    assert polishes_told(run, "--item", "harbour songs") == 2
    unknown = run("scan", "play.jpg", "--item", "The Last Ferry")
    assert unknown.status != 0 and unknown.out == "" and "Traceback" not in unknown.err


def test_text_has_a_line_of_verdict_for_each_disc_and_a_table_of_all(run: Call) -> None:
    called = run("scan", "play.jpg", "two_discs.jpg", "pass.jpg")
    lines = called.out.splitlines()
    assert [line.split(":")[0].strip() for line in lines if re.match("  [A-Z ]+: ", line)] == [
        "PLAY", "PLAY", "RETAKE", "PASS UP",
    ]  # fmt: skip
    assert "two_discs.jpg, disc 2: 120 mm DVD" in called.out
    head = next(number for number, line in enumerate(lines) if line.startswith("Disc "))
    rows = [re.split("  +", line.strip()) for line in lines[head + 1 : head + 5]]
    assert rows[0] == ["play.jpg", "Play", "about 9 in 10", "95 %"]
    assert [row[0] for row in rows[1:]] == ["two_discs.jpg, disc 1", "two_discs.jpg, disc 2", "pass.jpg"]
    assert "3 photos" in lines[-1]


def test_a_lone_disc_is_told_in_full(run: Call) -> None:
    called = run("scan", "play.jpg")
    assert re.search(r"1 +scratch.* 20 mm long", called.out)
    assert "A lamp or window burns out part of the disc. Tilt the disc" in called.out


def test_in_a_list_a_disc_to_be_taken_again_says_how(run: Call) -> None:
    out = run("scan", "play.jpg", "retake.jpg").out
    assert out.count("Tilt the disc") == 1


def test_in_a_list_each_caution_comes_once_and_says_for_which_discs(run: Call) -> None:
    out = run("scan", "pass.jpg", "play.jpg", "two_discs.jpg").out
    assert re.search(r"^Caution \(pass\.jpg\): .* burst ", out, re.MULTILINE)
    assert re.search(r"^Caution \(play\.jpg; two_discs\.jpg, disc 1; two_discs\.jpg, disc 2\): ", out, re.MULTILINE)
    assert out.count("Caution") == 2


def test_explain_tells_what_was_turned_down_and_every_reason(run: Call) -> None:
    photos = "play.jpg", "pass.jpg", "no_disc.jpg"
    plain, full = run("scan", *photos), run("scan", *photos, "--explain")
    assert "No hole was found in it." not in plain.out
    assert full.out.count("No hole was found in it.") == 3
    assert "parted" in full.out and "parted" not in plain.out
    assert full.out.count("mm long") == 2 and "mm long" not in plain.out


def test_piped_text_is_plain(run: Call) -> None:
    out = run("scan", "play.jpg", "pass.jpg").out
    assert "\x1b" not in out
    assert not re.search("[─│┃━┏╭]", out)
    assert max(map(len, out.splitlines())) > 80  # sentences are not broken for a width that a pipe does not have


def test_pictures_labels_and_page_are_left_where_asked_and_their_places_told(run: Call, stall: Path) -> None:
    called = run(
        "scan", "play.jpg", "two_discs.jpg", "no_disc.jpg", "cut.jpg",
        "--pictures", "out/pictures", "--labels-out", "out/labels", "--page", "out/page/all.html",
    )  # fmt: skip
    assert sorted(path.name for path in (stall / "out/pictures").iterdir()) == [
        "no_disc_marks.jpg", "play_from_above_1.jpg", "play_marks.jpg",
        "two_discs_from_above_1.jpg", "two_discs_from_above_2.jpg", "two_discs_marks.jpg",
    ]  # fmt: skip
    assert sorted(path.name for path in (stall / "out/labels").iterdir()) == [
        "play_disc0.png", "two_discs_disc0.png", "two_discs_disc1.png",
    ]  # fmt: skip
    labels = cv2.imread(str(stall / "out/labels/play_disc0.png"), cv2.IMREAD_UNCHANGED)
    assert labels.shape == (1240, 1240) and labels.dtype == np.uint8
    assert (labels == 1).any() and (labels == 255).any()
    assert "cut.jpg" in (stall / "out/page/all.html").read_text()
    for place in ("out/pictures", "out/labels", "out/page/all.html"):
        assert str(stall / place) in called.err and place not in called.out


def test_two_photos_of_one_name_do_not_overwrite_each_other(run: Call, stall: Path) -> None:
    (stall / "more").mkdir()
    (stall / "more/play.jpg").write_bytes((stall / "play.jpg").read_bytes())
    run("scan", "play.jpg", "more/play.jpg", "--labels-out", "labels")
    assert sorted(path.name for path in (stall / "labels").iterdir()) == ["play-2_disc0.png", "play_disc0.png"]


def test_a_folder_and_a_pattern_are_accepted(run: Call, stall: Path) -> None:
    (stall / "stack").mkdir()
    (stall / "play.jpg").rename(stall / "stack/play.jpg")
    assert len(json.loads(run("scan", "stack", "p*.jpg", "--json").out)["photos"]) == 2


def test_the_given_format_reaches_the_judging(run: Call) -> None:
    disc = json.loads(run("scan", "play.jpg", "--json", "--format", "bd").out)["photos"][0]["discs"][0]
    assert (disc["format"], disc["format_source"]) == ("bd", "given")


def test_limits_can_be_set(run: Call) -> None:
    refused = run("scan", "play.jpg", "--max-megapixels", "0.1", "--json")  # 0.33 megapixels: within half of one
    assert refused.status == 0
    assert run("scan", "play.jpg", "--max-megabytes", "0.001").status == 1


def test_the_help_names_the_limits_that_hold(run: Call) -> None:
    told = " ".join(run("scan", "--help").out.split())
    assert f"Refuse larger pictures ({DEFAULT.max_megapixels:g} when not given)" in told
    assert f"Refuse larger files ({DEFAULT.max_megabytes:g} when not given)" in told


def test_stopped_with_ctrl_c_it_reports_what_was_judged_by_then(run: Call, stall: Path) -> None:
    called = run("scan", "play.jpg", "ctrl_c.jpg", "pass.jpg", "--json", "--page", "page.html")
    assert called.status == 130
    assert [photo["file"] for photo in json.loads(called.out)["photos"]] == ["play.jpg"]
    assert "Stopped after 1 of 3 photos." in called.err
    assert "play.jpg" in (stall / "page.html").read_text()


def test_a_terminal_without_the_letters_gets_others(monkeypatch: pytest.MonkeyPatch) -> None:
    narrow = io.TextIOWrapper(io.BytesIO(), encoding="ascii")
    monkeypatch.setattr(sys, "stdout", narrow)
    put("12 mm²\n")
    narrow.seek(0)
    assert narrow.read() == "12 mm?\n"


def program(*arguments: str, **options: Any) -> subprocess.CompletedProcess[str]:
    """The real program in a process of its own."""
    command = [sys.executable, "-m", "discscan", *arguments]
    return subprocess.run(command, cwd=ROOT, stderr=subprocess.PIPE, text=True, check=False, **options)


def test_a_full_disk_is_told_in_words() -> None:
    with Path("/dev/full").open("w") as full:
        ended = program("schema", stdout=full)
    assert ended.returncode == 2
    assert ended.stderr == (
        "discscan: standard output: The results cannot be written: No space left on device. "
        "Send them to another place, or make room there.\n"
    )


def test_a_closed_output_is_told_in_words() -> None:
    ended = program("schema", preexec_fn=lambda: os.close(1))
    assert ended.returncode == 2
    assert ended.stderr.startswith("discscan: standard output: ") and "Traceback" not in ended.stderr


def test_a_reader_that_leaves_is_no_error_to_talk_about() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    with os.fdopen(writing, "w") as pipe:
        ended = program("schema", stdout=pipe)
    assert ended.stderr == ""


def test_the_schema_is_one_json_document(run: Call) -> None:
    called = run("schema")
    assert called.status == 0 and called.err == ""
    assert json.loads(called.out)["properties"]["photos"]


def test_the_version_is_told(run: Call) -> None:
    called = run("--version")
    assert called.status == 0
    assert re.fullmatch(r"discscan (\d+\.\d+\.\d+|unknown)\n", called.out)


def test_formats_offered_are_those_that_exist() -> None:
    assert [one.value for one in Format] == list(FormatName.__args__)


def test_help_imports_neither_opencv_nor_numpy() -> None:
    code = (
        "import sys\nfrom discscan.cli import main\nsys.argv = ['discscan', 'scan', '--help']\n"
        "try:\n    main()\nfinally:\n    heavy = {'cv2', 'numpy', 'PIL', 'onnxruntime'} & set(sys.modules)\n"
        "    print('heavy:', sorted(heavy), file=sys.stderr)\n"
    )
    run = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert "--labels-out" in run.stdout
    assert run.stderr.strip() == "heavy: []"


def test_every_command_and_option_says_what_it_is_for() -> None:
    import typer.main

    for command in typer.main.get_command(app).commands.values():
        assert command.help
        for parameter in command.params:
            assert parameter.param_type_name == "argument" or parameter.help, parameter.name
