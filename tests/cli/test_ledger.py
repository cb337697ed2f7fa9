"""The ledger through the command line, in a file and on PostgreSQL: a book kept from finding to selling."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Call = Callable[..., Any]


def test_a_disc_is_followed_from_finding_to_selling(book: Callable[[str], Any], run: Call, stall: Path) -> None:
    (stall / "disc.json").write_text(run("scan", "play.jpg", "--json").out)
    for command in (
        "found 'The Last Ferry' --asked 5 --source 'yard sale' --on 2026-01-02",
        "bought 'The Last Ferry' --cost 4,50 --on 2026-01-02",
        "scanned 1 disc.json --on 2026-01-03",
        "polished 1 --fee 3 --helped --on 2026-01-10",
        "tested 1 --plays --on 2026-01-10",
        "listed 1 --price 15 --on 2026-01-11",
        "sold 1 --price 15.00 --fees 2.25 --note 'to a friend' --on 2026-01-12",
    ):
        done = book(command)
        assert (done.status, done.err) == (0, ""), done.err
        assert done.out.startswith("Item 1, The Last Ferry: ")
    assert "1: The Last Ferry" in book("show 'the last ferry'").out
    summary = book("summary --on 2026-01-22").out
    assert summary.startswith("Gain 5.25 with 1 item sold or thrown away since 2026-01-02, 1.70 back for each unit")
    assert "From buying to selling: 10 days" in summary
    assert "From: yard sale" in summary and "Verdict: play" in summary


def test_a_mistake_is_taken_back_and_stays_in_the_export(book: Callable[[str], Any]) -> None:
    book("bought Film --cost 4")
    book("sold Film --price 90")
    assert book("undo").out.startswith("Taken back: Film, sold on ")
    assert book("sold Film --price 9").status == 0
    events = json.loads(book("export --format json").out)["events"]
    assert [one["kind"] for one in events] == ["bought", "sold", "undo", "sold"]
    assert book("undo --event 1").status == 2


def test_a_book_goes_into_another_and_twice_is_once(book: Callable[[str], Any], run: Call, stall: Path) -> None:
    (stall / "disc.json").write_text(run("scan", "play.jpg", "--json").out)
    for command in ("bought Film --cost 4", "scanned Film disc.json", "sold Film --price 9", "undo"):
        assert book(command).status == 0
    for shape in ("csv", "json"):
        exported = book(f"export --format {shape}").out
        (stall / "export").write_bytes(exported.encode())
        other = f"--book {shape}.sqlite"
        assert book(f"{other} import export").out == "4 events taken in.\n"
        assert book(f"{other} import export").out == "0 events taken in; 4 passed over, being there already.\n"
        assert book(f"{other} export --format {shape}").out == exported


def test_a_backup_opens_as_a_book(book: Callable[[str], Any]) -> None:
    book("bought Film --cost 4")
    assert book("backup copy.sqlite").status == 0
    assert book("--book copy.sqlite show").out == book("show").out
    assert book("backup copy.sqlite").status == 2


def test_unreadable_sectors_are_placed_and_held_against_the_damage_seen(
    book: Callable[[str], Any], run: Call, stall: Path
) -> None:
    """The stand-in disc is a DVD scratched from 30 to 48.8 mm, (48.8^2 - 30^2) / (58^2 - 24^2) = 53 % of its data area.

    Of 2 295 115 sectors (4.700 GB, ECMA-267 7), number 700 000 lies at sqrt(24^2 + 0.3050 (58^2 - 24^2)) = 37.8 mm, and
    2 200 000 at 57.0 mm.
    """
    (stall / "disc.json").write_text(run("scan", "play.jpg", "--json").out)
    (stall / "bad.txt").write_text("# of a reading program\n700000 700749\n0x2191C0 0x2192B9\n")
    book("bought Film --cost 4")
    assert book("tested Film --unreadable bad.txt").status == 2, "nobody knows its format yet"
    book("scanned Film disc.json")
    out = book("tested Film --unreadable bad.txt").out
    assert "1000 unreadable sectors at 37.7 to 37.9 mm, 56.8 to 57.2 mm from the centre." in out
    assert "750 of them lie at a distance at which damage was seen, 75 %; by chance it would be 53 %." in out
    last = json.loads(book("export --format json").out)["events"][-1]
    assert (last["kind"], last["good"]) == ("tested", "no")
    assert json.loads(last["document"])["sectors"] == [[700000, 700749], [2200000, 2200249]]
    (stall / "none.txt").write_text("# all was read\n")
    book("tested Film --unreadable none.txt")
    assert json.loads(book("export --format json").out)["events"][-1]["good"] == "yes"
    assert book("tested Film --unreadable bad.txt --plays").status == 2


def test_items_are_found_by_what_is_written_of_them(book: Callable[[str], Any]) -> None:
    book("bought 'The Last Ferry' --cost 4 --source 'Quay Street Exchange'")
    book("bought 'Harbour Songs' --cost 1")
    book("listed 2 --price 5 --note 'ferry on the cover'")
    assert book("show quay").out.splitlines()[1].split("   ")[1] == "The Last Ferry"
    assert len(book("show FERRY").out.splitlines()) == 3
    assert book("show lighthouse").status == 2


def test_an_empty_book_says_how_to_begin(book: Callable[[str], Any]) -> None:
    assert "discscan ledger bought" in book("show").out
    assert "discscan ledger bought" in book("summary").out


@pytest.mark.parametrize(
    "command",
    ["bought Film", "bought Film --cost x", "sold Nothing --price 4", "sold Film --price 4 --on 2999-01-01", "undo",
     "tested Film", "scanned Film none.json", "scanned Film play.jpg", "import none.csv", "import play.jpg",
     "show Nothing", "--book play.jpg show", "--book play.jpg/x show"],
)  # fmt: skip
def test_wrong_usage_is_2_and_told_in_words_on_standard_error_alone(book: Callable[[str], Any], command: str) -> None:
    done = book(command)
    assert (done.status, done.out) == (2, "")
    assert done.err and "Traceback" not in done.err


def test_which_disc_of_a_report_must_be_plain(book: Callable[[str], Any], run: Call, stall: Path) -> None:
    (stall / "two.json").write_text(run("scan", "play.jpg", "pass.jpg", "--json").out)
    book("bought Film --cost 4")
    unclear = book("scanned Film two.json")
    assert unclear.status == 2 and "1: play.jpg; 2: pass.jpg" in unclear.err
    assert book("scanned Film two.json --disc 3").status == 2
    assert book("scanned Film two.json --disc 2").status == 0
    (kept,) = [json.loads(one["document"]) for one in json.loads(book("export --format json").out)["events"][1:]]
    assert kept["photo"]["file"] == "pass.jpg" and kept["calibration_sha256"]
    assert [disc["verdict"]["action"] for disc in kept["photo"]["discs"]] == ["pass"]


def test_a_listing_goes_to_standard_output_or_to_a_file(book: Callable[[str], Any], run: Call, stall: Path) -> None:
    (stall / "disc.json").write_text(run("scan", "play.jpg", "--json").out)
    book("bought Film --cost 4")
    book("scanned Film disc.json")
    out = book("listing Film").out
    assert out.startswith("Film (120 mm DVD") and "1 scratch, 20 mm long, 30 to 49 mm from the centre." in out
    done = book("listing 1 --out words.txt")
    assert (done.status, done.out) == (0, "") and (stall / "words.txt").read_text() == out
    assert book("listing 1 --out nowhere/words.txt").status == 2
    assert book("listing Other").status == 2


def test_what_lies_beside_the_disc_is_asked_and_kept(book: Callable[[str], Any], stall: Path) -> None:
    book("bought Film --cost 4")
    assert book("checked Film").status == 2
    done = book("checked Film --no-case --right-disc --on 2026-01-03")
    assert done.out.startswith(
        "Item 1, Film: looked over on 2026-01-03.\nWithout case it brings less; without case and manual"
    )
    assert "Not looked at: manual or booklet, inserts, print of label and paper." in done.out
    assert "Case: missing." in book("listing Film").out
    for shape in ("csv", "json"):
        exported = book(f"export --format {shape}").out
        (stall / "export").write_bytes(exported.encode())
        assert book(f"--book {shape}.sqlite import export").status == 0
        assert book(f"--book {shape}.sqlite listing Film").out == book("listing Film").out
    (stall / "export").write_text(book("export --format json").out.replace("false", '\\"no\\"'))
    assert book("--book fresh.sqlite import export").status == 2
