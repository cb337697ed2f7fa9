"""Which photographs are meant by the names that somebody typed."""

from __future__ import annotations

from pathlib import Path

import pytest

from discscan.errors import UnreadablePhoto
from discscan.photo import by_disc, expand, read_photo


@pytest.fixture
def table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name in ("stack/b.jpg", "stack/a.PNG", "stack/notes.txt", "stack/._a.jpg", "stack/deeper/c.jpg", "lone.heic"):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).touch()
    (tmp_path / "bare").mkdir()
    return tmp_path


def test_a_folder_stands_for_its_own_pictures_by_name(table: Path) -> None:
    assert expand(["stack"]) == ["stack/a.PNG", "stack/b.jpg"]


def test_files_patterns_and_folders_keep_their_order_and_each_file_comes_once(table: Path) -> None:
    assert expand(["stack/b.jpg", "./stack/b.jpg", "lone.heic", "stack", table / "lone.heic", "s*/*.jpg"]) == [
        "stack/b.jpg",
        "lone.heic",
        "stack/a.PNG",
    ]


def test_a_pattern_reaches_below_only_when_it_says_so(table: Path) -> None:
    assert expand(["*.jpg"]) == ["*.jpg"]
    assert expand(["**/*.jpg"]) == ["stack/b.jpg", "stack/deeper/c.jpg"]


def test_a_pattern_that_meets_a_folder_opens_it_as_the_shell_would(table: Path) -> None:
    assert expand(["sta?k"]) == ["stack/a.PNG", "stack/b.jpg"]


def test_a_file_with_brackets_in_its_name_is_that_file(table: Path) -> None:
    (table / "disc[1].jpg").touch()
    (table / "disc1.jpg").touch()
    assert expand(["disc[1].jpg"]) == ["disc[1].jpg"]


def test_what_names_nothing_stays_so_that_reading_it_says_why(table: Path) -> None:
    for nothing in ("none.jpg", "no*.jpg", "bare", "a\0b", ""):
        assert expand([nothing]) == [nothing]
        with pytest.raises(UnreadablePhoto):
            read_photo(nothing)


def test_one_source_needs_no_list_and_bytes_pass_through() -> None:
    assert expand(b"bytes") == [b"bytes"]
    assert expand([b"bytes", b"bytes", b"others"]) == [b"bytes", b"others"]
    assert expand("none.jpg") == ["none.jpg"]


def test_photos_named_one_by_one_show_one_disc_and_each_folder_another(table: Path) -> None:
    assert by_disc(["lone.heic", "stack", "stack/b.jpg"]) == [
        ["lone.heic", "stack/b.jpg"],
        ["stack/a.PNG", "stack/b.jpg"],
    ]


def test_a_folder_of_folders_holds_a_disc_in_each(table: Path) -> None:
    for name in ("shelf/two/x.jpg", "shelf/one/y.jpg", "shelf/none/notes.txt"):
        (table / name).parent.mkdir(parents=True, exist_ok=True)
        (table / name).touch()
    assert by_disc("shelf") == [["shelf/one/y.jpg"], ["shelf/two/x.jpg"]]
    assert by_disc(["bare", b"bytes"]) == [[b"bytes"], ["bare"]]
