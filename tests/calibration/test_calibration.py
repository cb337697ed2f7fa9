"""Every number has its facts, and a broken installation says so."""

from __future__ import annotations

import math
import re
from datetime import date
from pathlib import Path

import pytest

from discscan import calibration
from discscan.calibration import book, calibration_sha256, constant, limit, models_folder, setting, source
from discscan.errors import BrokenInstallation
from discscan.formats import FORMATS

CONSTANTS = [(name, key) for name in FORMATS for key in book(name)]
LIMITS = [*book("house"), *book("playback")]
FITTED = list(book("fitted"))
SETTINGS = [
    (room, f"{key}.{part}" if part else key)
    for room, entries in book("settings").items()
    for key, entry in entries.items()
    for part in ([""] if "value" in entry else entry)  # a table within a room's table holds settings of its own
]
PACKAGE = Path(calibration.__file__).parent


@pytest.mark.parametrize(("name", "key"), CONSTANTS)
def test_every_constant_has_its_five_facts_and_a_listed_source(name: str, key: str) -> None:
    fact = constant(name, key)
    assert math.isfinite(fact.value)
    assert fact.unit and fact.place
    assert source(fact.source).title
    assert fact.low is None or (fact.high is not None and fact.low <= fact.value <= fact.high)
    assert isinstance(fact.read, bool)
    assert not (fact.read and "from memory" in fact.place), "what is remembered was not read"


@pytest.mark.parametrize("key", list(book("sources")))
def test_every_source_is_cited_and_has_title_edition_and_where(key: str) -> None:
    document = source(key)
    assert document.title and document.edition and document.where
    assert any(constant(name, fact).source == key for name, fact in CONSTANTS)


@pytest.mark.parametrize("name", FORMATS)
def test_no_constant_stands_without_a_use_or_a_test(name: str) -> None:
    written = "".join(
        path.read_text() for folder in (PACKAGE, Path(__file__).parents[1]) for path in folder.rglob("*.py")
    )
    unused = [key for key in book(name) if key not in written]
    assert not unused


@pytest.mark.parametrize(("file", "name"), [(file, name) for file in ("match", "together") for name in book(file)])
def test_every_limit_of_photographs_taken_together_has_its_facts_and_is_used(file: str, name: str) -> None:
    chosen = limit(name, file=file)
    assert math.isfinite(chosen.value) and chosen.unit and len(chosen.why) > 20
    assert f'"{name}"' in "".join(path.read_text() for path in (PACKAGE / "match").glob("*.py"))


@pytest.mark.parametrize("name", LIMITS)
def test_every_house_limit_has_unit_since_and_why(name: str) -> None:
    chosen = limit(name)
    assert math.isfinite(chosen.value)
    assert chosen.unit and len(chosen.why) > 20
    assert date(2026, 1, 1) <= date.fromisoformat(chosen.since)


def test_every_house_limit_is_used() -> None:
    used = set(re.findall(r'"([a-z0-9_]+)"', "".join(path.read_text() for path in PACKAGE.rglob("*.py"))))
    assert set(LIMITS) <= used


@pytest.mark.parametrize(("room", "name"), SETTINGS)
def test_every_setting_has_value_unit_and_why(room: str, name: str) -> None:
    entry = book("settings")[room]
    for part in name.split("."):
        entry = entry[part]
    assert math.isfinite(setting(room, name))
    assert entry["unit"] and entry["why"]


def test_the_track_pitch_of_a_cd_is_known_with_its_tolerance() -> None:
    pitch = constant("cd", "track_pitch_um")
    assert (pitch.value, pitch.unit, pitch.source) == (1.6, "um", "ecma-130")
    assert pitch.plus_minus == pytest.approx(0.1)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty calibration folder in place of the real one, and no memory of it afterwards."""
    monkeypatch.setattr(calibration, "_folder", lambda name: tmp_path)
    cached = (book, constant, limit, setting, source, calibration_sha256)
    for function in cached:
        monkeypatch.setattr(calibration, function.__name__, function.__wrapped__)
    return tmp_path


def test_a_missing_file_is_a_broken_installation(folder: Path) -> None:
    with pytest.raises(BrokenInstallation, match=r"house\.toml"):
        calibration.limit("play_chance")


def test_a_file_that_is_not_toml_is_a_broken_installation(folder: Path) -> None:
    (folder / "house.toml").write_text("= nonsense")
    with pytest.raises(BrokenInstallation, match=r"house\.toml"):
        calibration.limit("play_chance")


def test_a_limit_without_its_reason_is_a_broken_installation(folder: Path) -> None:
    (folder / "house.toml").write_text('[play_chance]\nvalue = 0.8\nunit = "1"\nsince = 2026-11-25\n')
    with pytest.raises(BrokenInstallation, match="`play_chance` lacks why"):
        calibration.limit("play_chance")


def test_a_constant_without_a_tolerance_is_a_broken_installation(folder: Path) -> None:
    (folder / "cd.toml").write_text('x = { value = 1, unit = "um", source = "s", place = "1", read = true }\n')
    with pytest.raises(BrokenInstallation, match="`x` lacks a tolerance"):
        calibration.constant("cd", "x")


def test_the_sha_moves_with_any_byte(folder: Path) -> None:
    (folder / "a.toml").write_text("x = 1\n")
    before = calibration.calibration_sha256()
    (folder / "a.toml").write_text("x = 2\n")
    assert calibration.calibration_sha256() != before
    assert len(before) == 64


def test_the_models_folder_exists() -> None:
    assert models_folder().is_dir()
