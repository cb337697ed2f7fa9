"""Basket, trip, ledger, learning and the review of a stack say what the command line says, and let nothing else in."""

from __future__ import annotations

import csv
import html
import json
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from discscan.report import PageEntry, words
from discscan.stack import Outputs, Review, WorkFolder
from discscan.stack.work import answer_of

ROOT = Path(__file__).parents[2]
FINDS = ROOT / "tests/worth/quay_street_finds.csv"
ORIGIN = {"Origin": "http://127.0.0.1:8037"}
WRITES = (
    "/ledger", "/ledger/1", "/ledger/events/1", "/ledger/events/1/undo", "/learning", "/stack/1", "/stack/undo",
    "/stack/ledger", "/photos/abc/disc-1/ledger",
)  # fmt: skip


def text_of(page: str) -> str:
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", page)).split())


def typed_rows() -> dict[str, str]:
    """The table of finds as somebody types it in."""
    with FINDS.open(newline="") as file:
        rows = list(csv.DictReader(file))
    return {f"{name}-{at}": value for at, row in enumerate(rows, start=1) for name, value in row.items() if value}


def command_line(*arguments: str) -> list[str]:
    command = [sys.executable, "-m", "discscan", *arguments]
    return subprocess.run(command, cwd=ROOT, text=True, capture_output=True, check=True).stdout.splitlines()


@pytest.mark.parametrize("wish", [{"budget": "15"}, {"budget": "0"}, {"box": "12"}])
def test_the_basket_says_what_the_command_says(stall: Any, wish: dict[str, str]) -> None:
    ((name, value),) = wish.items()
    page = stall.client.get("/basket", params={**typed_rows(), **wish})
    assert page.status_code == 200
    said = text_of(page.text)
    for line in command_line("basket", str(FINDS), f"--{name}", value):
        for cell in re.split(r"\s{3,}", line):
            assert cell in said


def test_the_trip_says_what_the_command_says(stall: Any) -> None:
    told = {
        "fee": "4",
        "fee_from": "2:3.50",
        "going": "3",
        "at_most": "5",
        "bench_price": "90",
        "bench_supplies": "0.40",
    }
    page = stall.client.get("/trip", params={**typed_rows(), **told})
    options = [part for name, value in told.items() for part in (f"--{name.replace('_', '-')}", value)]
    said = text_of(page.text)
    for line in command_line("trip", str(FINDS), *options):
        for cell in re.split(r"\s{3,}", line):
            assert cell.removeprefix("Caution: ") in said


def test_a_judged_disc_needs_only_its_prices(stall: Any, photo: bytes) -> None:
    stall.until_done(stall.send(photo).url)
    blank = stall.client.get("/basket").text
    assert 'name="photo-1" value="Photo 1"' in blank
    query = {"budget": "20", "photo-1": "Photo 1", "item-1": "The Last Ferry", "sells-1": "12", "asked-1": "1"}
    assert re.search(r"TAKE (1 of 1|NONE)", stall.client.get("/basket", params=query).text)


def test_a_find_that_cannot_be_used_says_why_beside_its_row(stall: Any) -> None:
    query = {"budget": "20", "item-1": "The Last Ferry", "sells-1": "twelve", "asked-1": "1", "chance-1": "0.5"}
    page = stall.client.get("/basket", params=query)
    assert page.status_code == 422 and "This is no price: twelve." in page.text
    assert 'value="twelve"' in page.text
    other = stall.client.get("/basket", params={**query, "sells-1": "12", "photo-1": "Photo 9", "chance-1": ""})
    assert "no forecast for this photo" in other.text


def test_more_rows_keep_what_was_typed_and_find_nothing_wrong_yet(stall: Any) -> None:
    page = stall.client.get("/trip", params={"item-1": "The Last Ferry", "more": "1"}).text
    assert 'value="The Last Ferry"' in page and "Please mend" not in page
    assert page.count('class="find"') == 4


def write(stall: Any, path: str, **told: str) -> Any:
    return stall.client.post(path, data=told, headers=ORIGIN)


def test_what_the_page_writes_the_command_line_reads(stall: Any, tmp_path: Path) -> None:
    write(stall, "/ledger", kind="bought", what="Harbour Songs", amount="1,50", source="Quay Street", day="2026-10-03")
    write(stall, "/ledger/1", kind="checked", case="yes", manual="no")
    page = write(stall, "/ledger/1", kind="sold", amount="12", fees="2.40", day="2026-10-20")
    assert page.status_code == 200
    told = command_line("ledger", "--book", str(tmp_path / "ledger.sqlite"), "show", "1")
    said = text_of(page.text)
    for cell in (cell for line in told[2:] for cell in re.split(r"\s{3,}", line.strip())[1:]):
        assert cell in said
    exported = stall.client.get("/ledger/export.csv")
    assert exported.text.splitlines() == command_line("ledger", "--book", str(tmp_path / "ledger.sqlite"), "export")
    assert json.loads(stall.client.get("/ledger/export.json").text)["events"][0]["title"] == "Harbour Songs"
    assert stall.client.get("/ledger/export.exe").status_code == 404


def test_a_correction_and_an_undoing_stay_in_the_book(stall: Any) -> None:
    write(stall, "/ledger", kind="bought", what="Harbour Songs", amount="15")
    page = write(stall, "/ledger/events/1", amount="1.50", note="misread")
    assert "1.50" in page.text and "15.00" not in page.text
    wrong = write(stall, "/ledger/events/1", amount="")
    assert wrong.status_code == 422 and "This is needed." in wrong.text
    gone = write(stall, "/ledger/events/1/undo")
    assert gone.url.path == "/ledger" and "Taken back." in gone.text
    assert stall.client.get("/ledger/1").status_code == 404
    kinds = [one["kind"] for one in json.loads(stall.client.get("/ledger/export.json").text)["events"]]
    assert kinds == ["bought", "correction", "undo", "undo"]


def test_what_cannot_follow_is_refused_in_words_and_not_offered(stall: Any) -> None:
    write(stall, "/ledger", kind="bought", what="Harbour Songs", amount="1")
    page = write(stall, "/ledger/1", kind="discarded")
    assert 'value="sold"' not in page.text
    refused = write(stall, "/ledger/1", kind="sold", amount="9")
    assert refused.status_code == 409 and "already" in refused.text
    assert write(stall, "/ledger/1", kind="stolen").status_code == 422
    assert write(stall, "/ledger", kind="sold", what="Another", amount="9").status_code == 422
    assert write(stall, "/ledger", kind="bought", what="", amount="9").status_code == 422
    assert write(stall, "/ledger", kind="bought", what="A", amount="9", day="2999-01-01").status_code == 422


def test_what_is_typed_is_never_markup(stall: Any) -> None:
    write(stall, "/ledger", kind="found", what="<script>1</script>", source='"><b>', note="</p><b>")
    for path in ("/ledger", "/ledger/1", "/ledger/1/listing", "/ledger?q=<b>", "/basket?item-1=<b>&budget=<b>"):
        assert "<b>" not in stall.client.get(path).text and "<script>1" not in stall.client.get(path).text, path


def test_an_answer_goes_into_the_ledger_with_its_report_and_its_photo(
    stall: Any, photo: bytes, judged: PageEntry, tmp_path: Path
) -> None:
    url = stall.until_done(stall.send(photo).url).url
    page = write(stall, f"{url.path}/disc-1/ledger", what="The Last Ferry", amount="2")
    assert "bought" in page.text and "scanned" in page.text
    again = write(stall, f"{url.path}/disc-1/ledger", what="The Last Ferry")
    assert again.text.count("<strong>scanned</strong>") == 2
    (item,) = command_line("ledger", "--book", str(tmp_path / "ledger.sqlite"), "show")[1:]
    assert "The Last Ferry" in item
    (kept,) = (tmp_path / "ledger.photos").iterdir()
    assert kept.read_bytes() == photo
    assert write(stall, f"{url.path}/disc-2/ledger", what="None").status_code == 404
    assert write(stall, f"{url.path}/disc-1/ledger", what="").status_code == 422


def test_learning_says_what_the_command_says(stall: Any, tmp_path: Path) -> None:
    assert "Nothing was learned yet." in stall.client.get("/learning").text
    assert stall.client.get("/learning/diagram.svg").status_code == 404
    page = write(stall, "/learning", act="learn")
    said = text_of(page.text)
    for line in command_line("learn", "--book", str(tmp_path / "ledger.sqlite"), "--show"):
        for cell in re.split(r"\s{3,}", line):
            assert cell in said
    assert stall.client.get("/learning/diagram.svg").headers["content-type"] == "image/svg+xml"
    write(stall, "/learning", act="off")
    assert "Switched off." in stall.client.get("/learning").text
    assert write(stall, "/learning", act="format the disk").status_code == 422


@pytest.fixture
def with_stack(serve: Callable[..., Any], judged: PageEntry, tmp_path: Path) -> Any:
    """A stack of two photos, one disc in each."""
    place = tmp_path / "trays-judged"
    work, answer = WorkFolder(place), answer_of(judged)
    photos = [judged.photo.model_copy(update={"file": f"{one}.jpg", "sha256": one * 64}) for one in ("a", "b")]
    for photo in photos:
        work.keep(str(photo.sha256), answer)
    Outputs(place, title="trays").write(photos)
    return serve(stack=Review(place))


def test_a_stack_is_gone_through_disc_by_disc(with_stack: Any, judged: PageEntry) -> None:
    first = with_stack.client.get("/stack/1").text
    assert words.deciding_reason(judged.photo.discs[0]) in html.unescape(first)
    key = re.search(r'name="disc" value="([^"]+)"', first).group(1)  # type: ignore[union-attr]
    second = write(with_stack, "/stack/1", disc=key, action="play")
    assert second.url.path == "/stack/2"
    assert write(with_stack, "/stack/1", disc="another", action="play").status_code == 404
    assert write(with_stack, "/stack/1", disc=key, action="eat").status_code == 422
    for what in ("thumb", "above", "marks"):
        assert with_stack.client.get(f"/stack/1/{what}.jpg").headers["content-type"] == "image/jpeg"


def test_the_label_of_a_disc_in_a_stack_is_shown_with_its_marks(
    serve: Callable[..., Any], judged: PageEntry, tmp_path: Path
) -> None:
    """A folder of one disc, its data side and its label."""
    place = tmp_path / "trays-judged"
    work, (disc,) = WorkFolder(place), judged.photo.discs
    sides = {"a": disc, "b": disc.model_copy(update={"side": "label"})}
    photos = []
    for name, shown in sides.items():
        update = {"file": f"one disc/{name}.jpg", "sha256": name * 64, "discs": [shown]}
        photos.append(judged.photo.model_copy(update=update))
        work.keep(name * 64, replace(answer_of(judged), pictures={"marks": name.encode()}))
    Outputs(place, title="trays").write(photos)
    stall = serve(stack=Review(place))
    page = stall.client.get("/stack/1").text
    assert 'href="/stack/1/label.jpg"' in page
    assert stall.client.get("/stack/1/label.jpg").content == b"b"
    assert stall.client.get("/stack/1/marks.jpg").content == b"a"


def test_a_disc_without_a_photo_of_its_label_has_no_picture_of_it(with_stack: Any) -> None:
    assert "label.jpg" not in with_stack.client.get("/stack/1").text
    assert with_stack.client.get("/stack/1/label.jpg").status_code == 404


@pytest.mark.parametrize(
    "path",
    ["/stack/0", "/stack/3", "/stack/99999999999999999999", "/stack/1/passwd.jpg", "/stack/1/..%2f..%2freport.json",
     "/stack/1/%2e%2e/decisions.jsonl", "/stack/report.json", "/stack/1/marks.png"],
)  # fmt: skip
def test_no_path_of_the_stack_is_made_of_what_a_client_writes(with_stack: Any, path: str) -> None:
    assert with_stack.client.get(path).status_code == 404


def test_without_a_stack_there_is_no_page_for_one(stall: Any) -> None:
    assert stall.client.get("/stack").status_code == 404
    assert 'href="/stack"' not in stall.client.get("/").text


@pytest.mark.parametrize("path", WRITES)
def test_every_write_asks_for_its_origin_and_a_token(with_stack: Any, path: str) -> None:
    assert with_stack.client.post(path, data={"act": "learn"}).status_code == 403
    evil = {"Origin": "http://evil.example"}
    assert with_stack.client.post(path, data={"act": "learn"}, headers=evil).status_code == 403
    assert with_stack.from_elsewhere().post(path, data={"act": "learn"}, headers=ORIGIN).status_code == 401


@pytest.mark.parametrize("path", ["/ledger", "/ledger/export.csv", "/learning", "/basket", "/stack/1/marks.jpg"])
def test_every_page_asks_for_a_token_from_elsewhere(with_stack: Any, path: str) -> None:
    assert with_stack.from_elsewhere().get(path).status_code == 401


def test_a_form_larger_than_any_of_ours_is_refused(stall: Any) -> None:
    assert write(stall, "/ledger", kind="found", what="x" * 20_000).status_code == 413
