"""The book on disk: it only grows, what was acknowledged is there, and what is no book is told in words."""

from __future__ import annotations

import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discscan.errors import UnreadableTable, UnusableBook
from discscan.events import Event
from discscan.ledger import Book, from_table, to_csv, to_json

DAY = date(2026, 11, 25)
SCAN = '{"photo": {"discs": [{"verdict": {"action": "play"}}]}}'

WRITER = """
import sys
from datetime import date
from pathlib import Path
from uuid import uuid4
from discscan.events import Event
from discscan.ledger import Book
book = Book(Path(sys.argv[1]))
print("ready", flush=True)
while True:
    key = uuid4().hex
    book.append([Event(key=key, item=key, kind="found", day=date(2026, 11, 25), title="x" * 3000)])
    print(key, flush=True)
"""


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return tmp_path / "books" / "ledger.sqlite"


def sold(key: str, **more: object) -> Event:
    told = {"amount": Decimal("14.05"), "fees": Decimal("0.10"), "title": "Film"} | more
    return Event(key=key, item=key, kind="sold", day=DAY, **told)  # type: ignore[arg-type]


def test_what_is_written_is_read_again_by_another_program(place: Path) -> None:
    written = Book(place).append([sold("a"), sold("b", good=False, note='ä, "b"\n\'; --', document=SCAN, amount=None)])
    assert [one.number for one in written] == [1, 2]
    assert Book(place).events() == written


def test_events_are_written_all_or_none(place: Path) -> None:
    book = Book(place)
    book.append([sold("a")])
    with pytest.raises(UnusableBook, match="already"):
        book.append([sold("b"), sold("a")])
    assert [one.key for one in book.events()] == ["a"]


@pytest.mark.parametrize("change", ["UPDATE events SET amount_cents = 1", "DELETE FROM events"])
def test_the_database_itself_refuses_any_change_but_growth(place: Path, change: str) -> None:
    Book(place).append([sold("a")])
    with closing(sqlite3.connect(place)) as other, pytest.raises(sqlite3.IntegrityError, match="only grows"):
        other.execute(change)


def test_an_event_is_undone_once(place: Path) -> None:
    book = Book(place)
    book.append([sold("a"), Event(key="b", item="a", kind="undo", day=DAY, undoes="a")])
    with pytest.raises(UnusableBook, match="undone before"):
        book.append([Event(key="c", item="a", kind="undo", day=DAY, undoes="a")])


def test_every_commit_is_on_disk_before_it_is_acknowledged(place: Path) -> None:
    """SQLite: synchronous FULL (2) flushes the write-ahead log at every commit; NORMAL may lose the last ones."""
    with Book(place)._engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA synchronous").scalar() == 2
        assert connection.exec_driver_sql("PRAGMA journal_mode").scalar() == "wal"


def test_every_acknowledged_row_outlives_a_killed_writer(place: Path) -> None:
    acknowledged: set[str] = set()
    for kill in range(4):
        with subprocess.Popen([sys.executable, "-c", WRITER, str(place)], stdout=subprocess.PIPE, text=True) as writer:
            assert writer.stdout is not None
            assert writer.stdout.readline() == "ready\n"
            time.sleep(0.02 + 0.03 * kill)
            writer.send_signal(signal.SIGKILL)
            acknowledged |= {line.strip() for line in writer.stdout if line.endswith("\n")}
    assert len(acknowledged) > 4
    assert acknowledged <= {one.key for one in Book(place).events()}
    with closing(sqlite3.connect(place)) as other:
        assert other.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_a_backup_of_an_open_book_is_a_book(place: Path, tmp_path: Path) -> None:
    book = Book(place)
    book.append([sold("a")])
    book.back_up(tmp_path / "copy.sqlite")
    book.append([sold("b")])
    assert [one.key for one in Book(tmp_path / "copy.sqlite").events()] == ["a"]
    with pytest.raises(UnusableBook, match="already"):
        book.back_up(tmp_path / "copy.sqlite")


def test_opening_a_book_again_takes_no_step_twice(place: Path) -> None:
    for _ in range(3):
        Book(place)
    with closing(sqlite3.connect(place)) as other:
        assert other.execute("SELECT count(*) FROM steps").fetchone() == (1,)


def test_a_book_of_a_later_version_is_left_alone(place: Path) -> None:
    Book(place)
    with closing(sqlite3.connect(place)) as other, other:
        other.execute("INSERT INTO steps VALUES ('2030-01-01 tomorrow', '')")
    with pytest.raises(UnusableBook, match="later version"):
        Book(place)


def test_another_programs_database_is_left_alone(place: Path) -> None:
    place.parent.mkdir()
    with closing(sqlite3.connect(place)) as other, other:
        other.execute("CREATE TABLE recipes (name)")
    with pytest.raises(UnusableBook, match="another program"):
        Book(place)


def test_what_is_no_database_is_told_in_words(place: Path, tmp_path: Path) -> None:
    place.parent.mkdir()
    place.write_text("not a book, but a text of some length\n" * 100)
    with pytest.raises(UnusableBook, match="cannot be used"):
        Book(place)
    assert place.read_text().startswith("not a book")
    with pytest.raises(UnusableBook):
        Book(place / "below a file")
    with pytest.raises(UnusableBook):
        Book(tmp_path)


# -- export and import ------------------------------------------------------------------------------------------------

plain = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\0"), max_size=20)
amounts = st.none() | st.integers(0, 10**6).map(lambda count: Decimal(count) / 100)


@given(st.lists(st.tuples(plain, amounts, amounts, st.sampled_from([None, True, False]), plain), max_size=6))
def test_what_is_exported_is_taken_in_whole(
    tmp_path_factory: pytest.TempPathFactory, told: list[tuple[str, Decimal | None, Decimal | None, bool | None, str]]
) -> None:
    events = [
        sold(f"k{n}", title=title, amount=amount, fees=fees, good=good, note=note, document=SCAN)
        for n, (title, amount, fees, good, note) in enumerate(told)
    ]
    path = tmp_path_factory.getbasetemp() / "export"
    for write in (to_csv, to_json):
        path.write_bytes(write(events).encode())
        assert from_table(path, known=[]) == (events, 0)
        assert from_table(path, known=events[:2]) == (events[2:], len(events[:2]))


def test_a_large_report_survives_the_table(tmp_path: Path) -> None:
    document = '{"photo": {"discs": [{"verdict": {"action": "play"}}]}, "more": "' + "x" * 300_000 + '"}'
    one = Event(key="a", item="a", kind="scanned", day=DAY, title="Film", document=document)
    path = tmp_path / "export.csv"
    path.write_text(to_csv([one]))
    assert from_table(path, known=[]) == ([one], 0)


@pytest.mark.parametrize(
    "text",
    ["", "x", "{", "[]", '{"events": [1]}', '{"events": [{}]}', "key,item\n",
     to_csv([sold("a")]).replace("sold", "lost"), to_csv([sold("a")]).replace("14.05", "1.405"),
     to_csv([sold("a"), sold("a")]), to_csv([Event(key="a", item="z", kind="sold", day=DAY)])],
)  # fmt: skip
def test_what_is_no_export_is_refused_whole(tmp_path: Path, text: str) -> None:
    path = tmp_path / "export.csv"
    path.write_text(text)
    with pytest.raises(UnreadableTable):
        from_table(path, known=[])
