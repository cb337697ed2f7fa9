"""What a stack leaves to read, and what a person decides about it."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from discscan.ledger import items_of
from discscan.records import Action
from discscan.report import PhotoReport, Report, json_schema, words
from discscan.report.forecasts import document_of
from discscan.stack import Review, default_work_folder, groups_of, spots_of
from discscan.stack.outputs import PAGE, REPORT, TABLE


def lying_at(photo: PhotoReport, *centres: tuple[float, float]) -> PhotoReport:
    """A photo with a disc of 100 px at each place, in that order."""
    disc = photo.discs[0]
    rims = [
        disc.outer_ellipse_px.model_copy(update={"cx": x, "cy": y, "axis_major": 100.0, "axis_minor": 100.0})
        for x, y in centres
    ]
    discs = [disc.model_copy(update={"outer_ellipse_px": rim}) for rim in rims]
    return photo.model_copy(update={"file": "tray.jpg", "discs": discs})


def test_discs_of_a_tray_are_read_like_a_page(entry: Any) -> None:
    tray = lying_at(entry.photo, (350, 60), (60, 210), (230, 40), (50, 55), (200, 190))
    places = {spot.disc: (spot.row, spot.place) for spot in spots_of([tray])}
    assert places == {4: (1, 1), 3: (1, 2), 1: (1, 3), 2: (2, 1), 5: (2, 2)}
    assert [group.spot.disc for group in groups_of([tray])] == [4, 3, 1, 2, 5]


def seen(photo: PhotoReport, file: str, fraction: float, *, cracked: bool = False) -> PhotoReport:
    from discscan.report.reasons import CAUTIONS

    (disc,) = photo.discs
    cautions = [CAUTIONS["do-not-spin"]] if cracked else []
    verdict = disc.verdict.model_copy(update={"cautions": cautions})
    changed = disc.model_copy(update={"measured_fraction": fraction, "verdict": verdict})
    return photo.model_copy(update={"file": file, "sha256": file.ljust(64, "0"), "discs": [changed]})


def test_photos_in_one_folder_are_of_one_disc_and_the_best_answers(entry: Any) -> None:
    photos = [seen(entry.photo, name, share) for name, share in (("a/1", 0.5), ("a/2", 0.9), ("b/1", 0.7), ("c", 0.8))]
    groups = groups_of(photos)
    assert [group.spot.report.file for group in groups] == ["a/2", "b/1", "c"]
    assert [spot.report.file for spot in groups[0].others] == ["a/1"]
    assert groups[0].key == groups_of(photos[:1])[0].key  # what was decided stays with the disc when photos are added


def test_a_crack_in_one_photo_of_a_disc_is_never_outvoted(entry: Any) -> None:
    """Safety: it can burst in a drive."""
    photos = [seen(entry.photo, "a/1", 0.3, cracked=True), seen(entry.photo, "a/2", 0.99)]
    (group,) = groups_of(photos)
    assert words.is_cracked(group.spot.judged)


def test_the_report_obeys_the_schema_and_the_table_has_a_row_for_each_disc(stack: Any) -> None:
    stack.put("tray 1.jpg")
    stack.put("tray, the 2nd.jpg")
    stack.run()
    report = json.loads((stack.place / REPORT).read_text())
    jsonschema.validate(report, json_schema())
    assert [photo["file"] for photo in report["photos"]] == ["tray 1.jpg", "tray, the 2nd.jpg"]
    rows = list(csv.DictReader(io.StringIO((stack.place / TABLE).read_text())))
    assert [(row["disc"], row["file"], row["where"]) for row in rows] == [
        ("1", "tray 1.jpg", "photo 1"), ("2", "tray, the 2nd.jpg", "photo 2"),
    ]  # fmt: skip
    assert {row["to_do"] for row in rows} <= {"polish", "sell", "retake", "pass"}
    assert float(rows[0]["chance"]) == report["photos"][0]["discs"][0]["playback"]["probability"]


def test_the_page_shows_each_disc_once_by_what_to_do_and_once_in_the_pick_list(stack: Any) -> None:
    stack.put("<b>tray.jpg")
    stack.put("tray2.jpg")
    stack.run()
    page = (stack.place / PAGE).read_text()
    assert "<b>" not in page and "<script" not in page and "http" not in re.sub(r"http://www.w3.org/\S+", "", page)
    pictures = re.findall(r'<img src="([^"]+)"', page)
    assert len(pictures) == 2 and all((stack.place / picture).is_file() for picture in pictures)
    assert all((stack.place / link).is_file() for link in re.findall(r'<a href="([^"#]+)"', page))
    assert page.count('class="box"') == 2


def test_served_and_kept_pictures_hold_no_metadata(stack: Any) -> None:
    from PIL import Image

    stack.put("tray.jpg")
    stack.run()
    for file in (stack.place / "pictures").iterdir():
        assert not Image.open(file).getexif() and b"Exif" not in file.read_bytes()


def test_results_lie_beside_the_photos_not_among_them(tmp_path: Path) -> None:
    assert default_work_folder(tmp_path / "trays") == tmp_path / "trays-judged"


@pytest.fixture
def review(stack: Any) -> Review:
    for number in (1, 2, 3):
        stack.put(f"{number}.jpg")
    stack.run()
    return Review(stack.place)


def test_the_last_word_counts_and_is_taken_back_one_by_one(review: Review) -> None:
    first, second, _ = review.groups
    review.decide(first, first.action)
    review.decide(second, "pass")
    other: Action = "pass" if first.action == "resurface" else "resurface"
    review.decide(first, other)
    assert review.standing()[first.key].action == other and not review.standing()[first.key].agreed
    assert review.undo() is not None
    assert review.standing()[first.key].agreed
    review.undo()
    assert set(review.standing()) == {first.key}
    review.undo()
    assert review.undo() is None and review.standing() == {}
    review.decide(second, "play")
    assert set(Review(review.pictures.parent).standing()) == {second.key}  # as another program reads it


def test_a_decision_cut_short_by_a_loss_of_power_spoils_no_other(review: Review) -> None:
    first, second, _ = review.groups
    review.decide(first, "play")
    with (review.pictures.parent / "decisions.jsonl").open("ab") as file:
        file.write(b'{"disc": "half')
    review.decide(second, "play")
    assert set(review.standing()) == {first.key, second.key}


def test_decided_discs_are_found_or_bought_and_scanned_and_retakes_stay_out(review: Review) -> None:
    first, second, third = review.groups
    review.decide(first, "play", title="The Last Ferry")
    review.decide(second, "retake")
    review.decide(third, "pass")
    day = date(2026, 11, 1)
    events = review.events([], day=day, source="a stall", cost=None, named="trays")
    items = items_of(events)
    assert [item.title for item in items] == ["The Last Ferry", "trays 3"]
    assert [event.kind for event in events] == ["found", "scanned"] * 2
    kept = json.loads(events[1].document)
    assert kept == json.loads(document_of(first.spot.report, first.spot.disc))
    again = review.events(events, day=day, source="a stall", cost=None, named="trays")
    assert again == []
    bought = review.events([], day=day, source="", cost=Decimal("0.50"), named="trays")
    assert [(one.kind, one.amount) for one in bought[::2]] == [("bought", Decimal("0.50"))] * 2


def test_a_title_that_is_taken_gets_a_number_and_a_bare_number_is_no_title(review: Review) -> None:
    first, second, third = review.groups
    for group, title in ((first, "The Last Ferry"), (second, " the last  ferry"), (third, "1984")):
        review.decide(group, "play", title=title)
    events = review.events([], day=date(2026, 11, 1), source="", cost=None, named="trays")
    assert [one.title for one in events[::2]] == ["The Last Ferry", "the last ferry (2)", "1984 (disc)"]


@pytest.fixture
def opened(stack: Any) -> Callable[[], Review]:
    return lambda: Review(stack.place)


def test_before_anything_is_judged_there_is_nothing_to_review(opened: Callable[[], Review]) -> None:
    assert opened().groups == [] and opened().standing() == {}


def test_photos_of_one_disc_are_taken_as_one_and_told_as_one(whole_run: tuple[Path, Path]) -> None:
    """What `discscan.scan(merge=True)` says of the same two photos."""
    import discscan

    photos, out = whole_run
    report = Report.model_validate_json((out / REPORT).read_bytes())
    (merged,) = report.merged or []
    (alone,) = discscan.scan(sorted((photos / "one disc").iterdir()), merge=True).merged or []
    names = {str(photos / "one disc/1.jpg"): "one disc/1.jpg", str(photos / "one disc/2.jpg"): "one disc/2.jpg"}
    sources = [one.model_copy(update={"file": names[one.file]}) for one in alone.merged_from or []]
    assert merged == alone.model_copy(update={"merged_from": sources})
    groups = groups_of(report.photos, report.merged or ())
    assert len(groups) == 5
    (group,) = [group for group in groups if group.others]
    assert group.judged == merged
    review = Review(out)
    assert all((review.pictures / group.picture(what)).is_file() for what in ("thumb", "above", "marks"))
    assert json.loads(review._documents()[group.key])["photo"]["discs"] == [json.loads(merged.model_dump_json())]
