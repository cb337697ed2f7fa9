"""The rest of the ledger through the command line: photos and pictures, corrections, returns, barcodes, tables."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import zxingcpp

import discscan
from discscan.matches import Comparison
from discscan.photo import PhotoLimits
from discscan.records import FlatDisc

Call = Callable[..., Any]
Book = Callable[[str], Any]


@pytest.fixture
def scanned(book: Book, run: Call, stall: Path) -> Book:
    """The book with a disc that was bought, photographed and judged."""
    (stall / "disc.json").write_text(run("scan", "play.jpg", "--json").out)
    assert book("bought Film --cost 4 --on 2026-01-02").status == 0
    done = book("scanned Film disc.json --on 2026-01-03")
    assert (done.status, done.err) == (0, "")
    return book


def kept(stall: Path) -> list[Path]:
    return [file for folder in stall.rglob("*.photos") for file in folder.iterdir()]


def test_a_scan_keeps_its_photo_under_its_hash(scanned: Book, stall: Path) -> None:
    photo = (stall / "play.jpg").read_bytes()
    (file,) = kept(stall)
    assert (file.name, file.read_bytes()) == (sha256(photo).hexdigest(), photo)


def test_a_photo_that_is_gone_is_told_and_may_be_named(book: Book, run: Call, stall: Path) -> None:
    (stall / "disc.json").write_text(run("scan", "play.jpg", "--json").out)
    (stall / "play.jpg").rename(stall / "moved.jpg")
    book("bought Film --cost 4")
    done = book("scanned Film disc.json")
    assert done.status == 0 and "The photo was not kept: play.jpg is not there any more" in done.err
    assert kept(stall) == []
    assert book("listing Film --pictures pictures").err.startswith("discscan: No photo is kept of the scan of ")
    (stall / "other.jpg").write_bytes((stall / "moved.jpg").read_bytes() + b"x")
    assert book("scanned Film disc.json --photo other.jpg").status == 2
    assert book("scanned Film disc.json --photo moved.jpg").err == ""
    assert len(kept(stall)) == 1


def test_pictures_go_with_the_listing(scanned: Book, stall: Path) -> None:
    (stall / "play.jpg").unlink()
    done = scanned("listing Film --pictures pictures")
    assert done.status == 0 and done.out.startswith("Film (120 mm DVD")
    marks, above = sorted((stall / "pictures").iterdir(), key=lambda file: "above" in file.name)
    assert (marks.name, above.name) == ("1_data_marks.jpg", "1_data_from_above.jpg")
    picture = cv2.imread(str(marks))
    assert picture is not None and picture.shape[1] >= 900


def test_unreadable_sectors_are_drawn_over_the_disc(scanned: Book, stall: Path) -> None:
    (stall / "bad.txt").write_text("700000 700749\n2200000 2200249\n")
    done = scanned("tested Film --unreadable bad.txt --picture drawn.png")
    assert done.status == 0 and "Picture: " in done.err
    assert cv2.imread(str(stall / "drawn.png")) is not None
    for command in ("--unreadable bad.txt --picture drawn.xyz", "--plays --picture drawn.png"):
        assert scanned(f"tested Film {command}").status == 2
    events = json.loads(scanned("export --format json").out)["events"]
    assert [one["kind"] for one in events] == ["bought", "scanned", "tested"], "a wrong name writes nothing"


def test_without_a_photo_there_is_nothing_to_draw_on(book: Book, stall: Path) -> None:
    (stall / "bad.txt").write_text("700000\n")
    book("bought Film --cost 4")
    done = book("tested Film --unreadable bad.txt --format dvd --picture drawn.png")
    assert done.status == 2 and "No photo of it is kept" in done.err
    assert not (stall / "drawn.png").exists()


def test_a_backup_takes_the_photos_along(scanned: Book, stall: Path) -> None:
    done = scanned("backup saved/copy.sqlite")
    assert done.status == 0 and "copy.photos" in done.err
    for file in [*kept(stall)]:
        if "saved" not in str(file):
            file.unlink()
    assert scanned("--book saved/copy.sqlite listing Film --pictures again").status == 0
    assert len(list((stall / "again").iterdir())) == 2
    assert scanned("--book saved/copy.sqlite export").out == scanned("export").out


def test_what_was_wrong_is_corrected_and_stays_in_the_export(book: Book) -> None:
    book("bought Flim --cost 40 --on 2026-01-02")
    book("sold Flim --price 9 --on 2026-01-04")
    done = book("correct 1 --amount 4 --title Film --on 2026-01-03")
    assert done.out == "Corrected. Item 1, Film: bought, 4.00 on 2026-01-03.\n"
    assert book("summary --on 2026-01-04").out.startswith("Gain 5.00 with 1 item")
    assert book("undo").out == "Taken back: Film, corrected on 2026-01-03.\n"
    assert book("summary --on 2026-01-04").out.startswith("Loss 31.00")
    kinds = [one["kind"] for one in json.loads(book("export --format json").out)["events"]]
    assert kinds == ["bought", "sold", "correction", "undo"]
    for command in ("correct 9 --amount 4", "correct 1", "correct 1 --fees 2", "correct 2 --title Film"):
        done = book(command)
        assert done.status == 2 and done.err and "Traceback" not in done.err


def test_what_comes_back_is_in_stock_again(book: Book) -> None:
    book("bought Film --cost 4 --on 2026-01-02")
    assert book("returned Film --refund 9").status == 2
    book("sold Film --price 9 --on 2026-01-04")
    done = book("returned Film --refund 9 --fees 2.50 --another --on 2026-01-08 --note 'no hub text'")
    assert done.out == "Item 1, Film: sent back, 9.00 on 2026-01-08.\n"
    shown = book("show Film").out
    assert "another disc" in shown
    summary = book("summary --on 2026-01-08").out
    assert "In stock: 1 item for 4.00." in summary and "Sent back by buyers: 1." in summary
    book("sold Film --price 7 --on 2026-01-09")
    assert book("summary --on 2026-01-09").out.startswith("Gain 0.50 with 1 item")


FLAT = FlatDisc(120, 2.0, np.zeros((248, 248, 3), np.uint8), np.zeros((248, 248), np.uint8), 4.0, 0.8, 0.0, 0.9)
ANSWERS: dict[str, Comparison] = {
    "resurface.jpg": Comparison("same", 4000.0, "marks-agree", 90.0, (), (), (), FLAT, FLAT),
    "pass.jpg": Comparison("another", 0.002, "marks-differ", None, (), (), (), FLAT, FLAT),
    "retake.jpg": Comparison("cannot tell", 1.5, "not-sure", None, (), (), (), FLAT, FLAT),
}


@pytest.mark.parametrize(
    ("told", "good", "answer"),
    [("--photo resurface.jpg", "yes", "same"), ("--photo pass.jpg", "no", "another"),
     ("--photo retake.jpg", "", "cannot tell"), ("--photo retake.jpg --photo pass.jpg", "no", "another"),
     ("--photo pass.jpg --photo resurface.jpg", "yes", "same"), ("--photo retake.jpg --same", "yes", "cannot tell")],
)  # fmt: skip
def test_what_comes_back_is_held_against_the_photo_of_what_was_sold(
    scanned: Book, stall: Path, monkeypatch: pytest.MonkeyPatch, told: str, good: str, answer: str
) -> None:
    """The comparing itself has its own tests; here it is a stand-in."""
    photo = (stall / "play.jpg").read_bytes()

    def same(first: bytes, second: str, *, limits: PhotoLimits) -> Comparison:
        assert first == photo, "what was kept of the sale comes first"
        return ANSWERS[second]

    monkeypatch.setitem(vars(discscan), "same", same)
    monkeypatch.delitem(sys.modules, "discscan.cli.returns", raising=False)
    scanned("sold Film --price 9")
    done = scanned(f"returned Film --refund 9 {told}")
    monkeypatch.delitem(sys.modules, "discscan.cli.returns", raising=False)
    assert done.status == 0, done.err
    last = json.loads(scanned("export --format json").out)["events"][-1]
    document = json.loads(last["document"])
    assert (last["kind"], last["good"], document["answer"]) == ("returned", good, answer)
    assert document["likelihood_ratio"] == {"same": 4000, "another": 0.002, "cannot tell": 1.5}[answer]


def test_a_return_without_a_photo_of_the_sale_must_be_told_otherwise(book: Book) -> None:
    book("bought Film --cost 4")
    book("sold Film --price 9")
    for told in ("--photo play.jpg", "--photo none.jpg"):
        done = book(f"returned Film {told}")
        assert done.status == 2 and "No photo of its data side is kept" in done.err


def case_photo(path: Path, digits: str) -> None:
    code = zxingcpp.create_barcode(digits, zxingcpp.BarcodeFormat.EAN13).to_image(scale=5, add_quiet_zones=True)
    photo = np.full((1200, 1600), 105, np.uint8)
    photo[300 : 300 + code.shape[0], 400 : 400 + code.shape[1]] = 40 + np.asarray(code) // 255 * 190
    cv2.imwrite(str(path), cv2.GaussianBlur(photo, (0, 0), 0.8))


def test_a_disc_is_found_again_by_the_barcode_of_its_case(book: Book, stall: Path) -> None:
    case_photo(stall / "case.png", "629104150021")
    book("bought Harbour --cost 1")
    assert book("found Film --asked 5 --barcode-photo case.png").status == 0
    for look in ("show 6291041500213", "show --barcode-photo case.png"):
        assert book(look).out.startswith("2: Film")
    assert book("bought 6291041500213 --cost 4").out.startswith("Item 2, Film: bought, 4.00")
    assert json.loads(book("export --format json").out)["events"][1]["barcode"] == "6291041500213"
    for command in (
        "found Other --barcode 6291041500214", "found Other --barcode-photo play.jpg",
        "found Other --barcode 6291041500213 --barcode-photo case.png",
    ):  # fmt: skip
        done = book(command)
        assert done.status == 2 and done.err and "Traceback" not in done.err


def test_many_events_are_entered_at_once_and_bad_rows_are_told(book: Book, stall: Path) -> None:
    (stall / "rows.csv").write_text(
        "date;item;event;amount;fees;outcome\n"
        "3.1.2026;The Last Ferry;bought;4,50;;\n"
        "9.1.2026;The Last Ferry;sold;12,x;;\n"
        "9.1.2026;The Last Ferry;tested;;;yes\n"
        "9.1.2026;Nothing;sold;12;;\n"
    )
    done = book("enter rows.csv")
    assert (done.status, done.out) == (1, "2 events taken in.\n")
    told = done.err.splitlines()
    assert told[0] == "discscan: rows.csv: Line 3 is left out. This is no price: 12,x."
    assert told[1].startswith("discscan: rows.csv: Line 5 is left out. No item is called 'Nothing'.")
    (stall / "rows.csv").write_text((stall / "rows.csv").read_text().replace("12,x", "12,50").replace("Nothing", "1"))
    done = book("enter rows.csv")
    assert done.out == "1 event taken in; 2 passed over, being there already.\n"
    assert "1 is sold already" not in done.err and "Line 5" in done.err
    assert book("summary --on 2026-01-10").out.startswith("Gain 8.00 with 1 item")
    assert book("enter none.csv").status == 2


@pytest.mark.parametrize(
    ("command", "head", "good", "bad"),
    [("ledger enter", "item,event,date,amount", "Disc {},bought,2026-01-03,4", "Disc {},bought,2026-01-03,cheap"),
     ("prices", "item,price,date,status", "Disc {},4,2026-01-03,sold", "Disc {},cheap,2026-01-03,sold"),
     ("basket --budget 9", "item,asked,sells,chance", "Disc {},1,4,0.5", "Disc {},cheap,4,0.5")],
)  # fmt: skip
def test_a_hundred_faults_are_each_told_with_their_line(
    run: Call, stall: Path, command: str, head: str, good: str, bad: str
) -> None:
    rows = [(good if line % 3 == 0 else bad).format(line) for line in range(2, 152)]
    (stall / "rows.csv").write_text("\n".join([head, *rows]) + "\n")
    first, *rest = command.split()
    done = run(first, *rest, "rows.csv") if first == "ledger" else run(first, "rows.csv", *rest)
    told = [
        f"discscan: rows.csv: Line {line} is left out. This is no price: cheap." for line in range(2, 152) if line % 3
    ]
    assert len(told) == 100
    assert (done.status, done.err.splitlines()) == (1, told)
