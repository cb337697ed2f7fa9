"""The main job of the README, on the demo images: everything real, from the photos to the page."""

from __future__ import annotations

import hashlib
import json
import re
import shlex
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

import discscan
from discscan.photo import expand
from discscan.report import json_schema

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()
PHOTOS = expand(str(ROOT / "demo_images"))


def program(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "discscan", *arguments]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def done(tmp_path_factory: pytest.TempPathFactory) -> tuple[subprocess.CompletedProcess[str], Path]:
    """The README's command for the main job, less its set-up, its results put elsewhere and written as JSON."""
    (line,) = re.findall(r"<!-- the main job -->\n```\n.+ && { \.venv/bin/discscan (.+) \|\| .+\n```", README)
    folder = tmp_path_factory.mktemp("main_job")
    arguments = [argument.replace("discscan-out", str(folder)) for argument in shlex.split(line)]
    return program(*arguments, "--json"), folder


Done = tuple[subprocess.CompletedProcess[str], Path]


def test_every_demo_photo_is_judged_and_the_report_obeys_its_schema(done: Done) -> None:
    ended, _ = done
    report = json.loads(ended.stdout)
    assert ended.returncode == (0 if all(photo["discs"] for photo in report["photos"]) else 1), ended.stderr
    jsonschema.validate(report, json_schema())
    assert len(PHOTOS) >= 12
    assert [Path(photo["file"]).name for photo in report["photos"]] == [Path(str(photo)).name for photo in PHOTOS]
    assert not any(photo["error"] for photo in report["photos"])


def test_it_leaves_pictures_and_a_page_and_tells_where(done: Done) -> None:
    ended, folder = done
    for photo in json.loads(ended.stdout)["photos"]:
        stem = Path(photo["file"]).stem
        assert (folder / f"{stem}_marks.jpg").stat().st_size > 10_000
        for number in range(1, len(photo["discs"]) + 1):
            assert (folder / f"{stem}_from_above_{number}.jpg").stat().st_size > 10_000
        assert Path(photo["file"]).name in (folder / "page.html").read_text()
    assert f"Pictures: {folder}" in ended.stderr
    assert f"Page: {folder / 'page.html'}" in ended.stderr


def test_the_library_gives_the_same_report_for_the_same_bytes(done: Done) -> None:
    first = Path(str(PHOTOS[0]))
    by_program = json.loads(done[0].stdout)["photos"][0]
    by_library = json.loads(discscan.scan(first.read_bytes()).to_json())["photos"][0]
    assert by_library["sha256"] == hashlib.sha256(first.read_bytes()).hexdigest()
    assert {**by_library, "file": ""} == {**by_program, "file": ""}


def test_the_answer_shown_in_the_readme_is_the_programs_own() -> None:
    (shown,) = re.findall(r"<!-- the example -->\n```\n\$ \.venv/bin/discscan (.+)\n([^`]+)```", README)
    command, answer = shown
    ended = program(*shlex.split(command))
    assert [line.rstrip() for line in ended.stdout.splitlines()] == answer.splitlines()
