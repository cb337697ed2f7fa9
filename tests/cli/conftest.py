"""A stand-in for the judging, so that the command line is tested by itself, with answers known in advance."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
import pytest

import discscan
from discscan.doubts import Doubt
from discscan.errors import UnreadablePhoto
from discscan.judged import JudgedDisc, JudgedPhoto
from discscan.learn import with_learned
from discscan.lessons import Learned
from discscan.photo import PhotoLimits, expand, read_photo
from discscan.records import (
    NOTHING_SAID,
    Action,
    Chance,
    DamageSurvey,
    Defect,
    Ellipse,
    Face,
    FlatDisc,
    FormatName,
    Given,
    LocatedDisc,
    NotADisc,
    Photo,
    Playback,
    Polish,
    Reading,
    Sight,
    Spoken,
    Verdict,
)
from discscan.report import PhotoReport, Report, error_report, photo_report, report

MM_PER_PX = 0.25


def judged_disc(action: Action, *, format: FormatName | None, cx: float = 300, cy: float = 260) -> JudgedDisc:
    """A DVD with one scratch, 480 pixels wide."""
    side = 248
    y, x = (np.mgrid[:side, :side] - side / 2) / 2
    sight = np.where(np.hypot(x, y) < 60, Sight.SEEN, Sight.OFF_DISC).astype(np.uint8)
    to_mm = np.array([[MM_PER_PX, 0, -MM_PER_PX * cx], [0, MM_PER_PX, -MM_PER_PX * cy], [0, 0, 1]])
    scratch = Defect(
        kind="scratch", outline_mm=np.array([[30.0, 0.0], [48.0, 9.0]]), length_mm=Reading(20.1, 0.3),
        width_um=Reading(180, 40), width_is_bound=False, area_mm2=None, radius_min_mm=30, radius_max_mm=48.8,
        arc_deg=10.6, confidence=0.93,
    )  # fmt: skip
    chance = Chance(0.9, 0.8, 0.96)
    decided = {
        "play": Spoken("plays", "play"),
        "resurface": Spoken("polish-helps", "resurface", 0.9),
        "pass": Spoken("crack", "pass", 0.97),
        "retake": Spoken("undecided", "retake"),
    }[action]
    also = Spoken("delamination", "pass", 0.7)
    return JudgedDisc(
        located=LocatedDisc(
            120, to_mm, Ellipse(cx, cy, 480, 480, 0), Ellipse(cx, cy, 60, 60, 0), MM_PER_PX, (0.035, 0.0), 1.0, 0.05
        ),
        flat=FlatDisc(120, 2.0, np.full((side, side, 3), 128, np.uint8), sight, 4.0, 0.8, 0.02, 0.95, (Doubt.GLARE,)),
        face=Face("data", 0.99, "pressed", format or "dvd", "given" if format else "guessed", ("dvd",)),
        survey=DamageSurvey((scratch,), 0.2, 0.95),
        playback=Playback("dvd", chance, 1.2, 6.0, 0.0, 33.6),
        polish=Polish(True, chance, "scratches-within-reach"),
        verdict=Verdict(action, (decided, also), ("do-not-spin",) if action == "pass" else ("test-by-playing",)),
    )


def judge_photo(photo: Photo, *, given: Given = NOTHING_SAID, learned: Learned | None = None) -> JudgedPhoto:
    """What a photo shows is told by its file's name: two_discs, no_disc, else one of the verdicts."""
    shown = _shown(photo, format=given.format)
    shown = replace(shown, discs=tuple(_with_polishes(disc, given.polished) for disc in shown.discs))
    if learned is None:
        return shown
    return replace(shown, discs=tuple(_with_learned(disc, learned) for disc in shown.discs))


def _with_polishes(disc: JudgedDisc, polished: int) -> JudgedDisc:
    assert disc.polish is not None
    return replace(disc, polish=replace(disc.polish, polished=polished))


def _with_learned(disc: JudgedDisc, learned: Learned) -> JudgedDisc:
    assert disc.playback is not None and disc.polish is not None
    playback, polish = with_learned(disc.playback, disc.polish, learned.lesson)
    return replace(disc, playback=playback, polish=polish)


def _shown(photo: Photo, *, format: FormatName | None) -> JudgedPhoto:
    name = Path(photo.name).stem if photo.name != "(bytes)" else "play"  # bytes that a ledger keeps have no name
    plate = NotADisc(Ellipse(400, 300, 200, 190, 0), "No hole was found in it.")
    if name == "no_disc":
        return JudgedPhoto(photo, (), (plate,))
    if name == "two_discs":
        return JudgedPhoto(photo, (judged_disc("play", format=format), judged_disc("retake", format=format, cx=320)))
    return JudgedPhoto(photo, (judged_disc(name, format=format),), (plate,))


def scan(
    sources: Iterable[str],
    *,
    format: FormatName | None = None,
    polished: int = 0,
    limits: PhotoLimits = PhotoLimits(),  # noqa: B008
    merge: bool,
    lamp: str | None,
    on_photo: Callable[[PhotoReport, JudgedPhoto | None], None],
    on_merged: object,
    learned: Learned | None = None,
) -> Report:
    assert not merge, "several photos of one disc are tested with the real judging: tests/match, test_together"
    entries = []
    for source in expand(sources):
        judged = None
        try:
            photo = read_photo(source, limits=limits)
            if Path(photo.name).stem == "ctrl_c":
                raise KeyboardInterrupt
            judged = judge_photo(photo, given=Given(format, polished), learned=learned)
            entry = photo_report(judged)
        except UnreadablePhoto as error:
            entry = error_report(error)
        entries.append(entry)
        on_photo(entry, judged)
    return report(entries, learned=learned)


@dataclass(frozen=True)
class Run:
    status: int
    out: str
    err: str


@pytest.fixture
def stall(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to stand in, with a photo for each answer."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("DISCSCAN_BOOK", str(tmp_path / "ledger.sqlite"))
    pixels = np.full((520, 640, 3), 90, np.uint8)
    done, data = cv2.imencode(".jpg", pixels)
    assert done
    for name in ("play", "resurface", "pass", "retake", "two_discs", "no_disc", "ctrl_c"):
        (tmp_path / f"{name}.jpg").write_bytes(data.tobytes())
    (tmp_path / "cut.jpg").write_bytes(data.tobytes()[:-200])
    return tmp_path


@pytest.fixture
def book(
    run: Callable[..., Run], stall: Path, book_named: str, monkeypatch: pytest.MonkeyPatch
) -> Callable[[str], Run]:
    """Runs commands of the ledger on a book of its own: a file, and a database on PostgreSQL."""
    monkeypatch.setenv("DISCSCAN_BOOK", book_named)
    monkeypatch.setenv("XDG_DATA_HOME", str(stall / "data"))
    return lambda command: run("ledger", *shlex.split(command))


@pytest.fixture
def run(stall: Path, monkeypatch: pytest.MonkeyPatch, capfdbinary: pytest.CaptureFixture[bytes]) -> Callable[..., Run]:
    """Call the program as the shell does, with the stand-in for the judging."""
    monkeypatch.setitem(vars(discscan), "scan", scan)
    monkeypatch.setitem(vars(discscan), "judge_photo", judge_photo)
    monkeypatch.delitem(sys.modules, "discscan.cli.judge", raising=False)

    def call(*arguments: str) -> Run:
        from discscan.cli import main

        monkeypatch.setattr(sys, "argv", ["discscan", *arguments])
        with pytest.raises(SystemExit) as left:
            main()
        out, err = capfdbinary.readouterr()
        status = left.value.code
        return Run(status if isinstance(status, int) else 0 if status is None else 1, out.decode(), err.decode())

    yield call
    monkeypatch.delitem(sys.modules, "discscan.cli.judge", raising=False)
