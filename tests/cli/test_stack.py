"""`discscan stack` from the command line: what it says, and what it refuses."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
import urllib.request
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "demo_images"


def stack(*arguments: object, book: Path) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "discscan", "stack", *map(str, arguments)]
    environment = {**os.environ, "DISCSCAN_BOOK": str(book)}
    return subprocess.run(command, cwd=ROOT, text=True, capture_output=True, check=False, env=environment)


@pytest.fixture
def trays(tmp_path: Path) -> Path:
    """One disc, one photo without any, and one that is broken."""
    folder = tmp_path / "trays"
    folder.mkdir()
    for name in ("clean_language_course_cd.jpg", "no_disc_at_all.jpg"):
        (folder / name).write_bytes((DEMO / name).read_bytes())
    (folder / "broken.jpg").write_bytes((DEMO / "no_disc_at_all.jpg").read_bytes()[:5000])
    return folder


def test_it_counts_what_to_do_says_what_failed_and_where_the_page_is(trays: Path, tmp_path: Path) -> None:
    run = stack(trays, "--format", "cd", "--workers", "1", book=tmp_path / "book.sqlite")
    assert run.returncode == 1  # not every photo gave a disc
    assert run.stdout.splitlines()[0].startswith("1 disc in 3 photos: 1 to ")
    assert "broken.jpg: The picture is cut short or damaged." in run.stderr
    page = Path(re.search(r"Page: (.+)", run.stderr).group(1))  # type: ignore[union-attr]
    assert page == tmp_path / "trays-judged/stack.html" and page.is_file()
    assert sorted(file.name for file in trays.iterdir()) == [
        "broken.jpg", "clean_language_course_cd.jpg", "no_disc_at_all.jpg",
    ]  # fmt: skip


def test_what_cannot_be_a_stack_is_refused_with_what_to_do(trays: Path, tmp_path: Path) -> None:
    book = tmp_path / "book.sqlite"
    for arguments in ((tmp_path / "nowhere",), (trays / "broken.jpg",), (trays, "--out", trays)):
        run = stack(*arguments, book=book)
        assert run.returncode == 2 and "Name" in run.stderr and "Traceback" not in run.stderr
    run = stack(trays, "--out", trays / "broken.jpg", book=book)
    assert run.returncode == 2 and "cannot be written" in run.stderr and "Traceback" not in run.stderr
    run = stack(trays, "--cluster", "tcp://127.0.0.1:9", book=book)
    assert run.returncode == 2 and "No scheduler answers there." in run.stderr and "Traceback" not in run.stderr


def test_the_review_is_served_while_photos_are_judged_and_ends_with_ctrl_c(trays: Path, tmp_path: Path) -> None:
    command = [sys.executable, "-m", "discscan", "stack", str(trays), "--review", "--port", "0"]
    environment = {**os.environ, "DISCSCAN_BOOK": str(tmp_path / "book.sqlite")}
    with subprocess.Popen(
        command, cwd=ROOT, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment
    ) as run:
        assert run.stdout is not None
        (address,) = re.findall(r"http://127\.0\.0\.1:\d+/", run.stdout.readline())
        for _ in range(600):
            with urllib.request.urlopen(f"{address}stack", timeout=20) as answer:
                page = answer.read().decode()
            if "1 disc in 3 photos" in page:
                break
            time.sleep(0.1)
        assert "Go through them" in page
        run.send_signal(signal.SIGINT)
        _, errors = run.communicate(timeout=60)
    assert run.returncode == 1 and "Traceback" not in errors
