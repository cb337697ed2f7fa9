"""A listing hides nothing that was measured, and claims nothing that was not seen."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as some

from discscan import records
from discscan.doubts import Doubt
from discscan.errors import UnreadableTable
from discscan.events import Check, Event, Item
from discscan.report.checks import ANSWERS, check_lines
from discscan.report.listing import listing
from discscan.report.words import KIND

DAY = date(2026, 1, 3)


def damage(kind: str, **facts: Any) -> dict[str, Any]:
    plain = {"length_mm": 20.1, "area_mm2": None, "radius_min_mm": 30, "radius_max_mm": 48.8, "confidence": 0.93}
    return {"kind": kind, **plain, **facts}


def scan(*defects: Mapping[str, Any], **facts: Any) -> Event:
    disc = {
        "diameter_mm": 120, "side": "data", "recording": "pressed", "format": "dvd", "format_source": "given",
        "measured_fraction": 0.95, "defects": defects, "doubts": [], **facts,
    }  # fmt: skip
    return event("scanned", document=json.dumps({"photo": {"discs": [disc]}}))


def event(kind: str, **facts: Any) -> Event:
    return Event(key=f"{kind}{facts}", item="1", kind=kind, day=DAY, title="Film", **facts)  # type: ignore[arg-type]


def advised(*events: Event) -> str:
    return "\n".join(check_lines(Item(1, (event("bought"), *events))))


def told(*events: Event) -> str:
    return listing(Item(1, (event("bought", note="bought too dear"), *events)))


def test_a_listing_tells_kinds_number_longest_and_where() -> None:
    text = told(scan(damage("scratch"), damage("scratch", length_mm=4.24, radius_min_mm=25.2), damage("crack")))
    assert text.startswith("Film (120 mm DVD)\n")
    assert "- 2 scratches, the largest 20 mm long, 25 to 49 mm from the centre.\n" in text
    assert "- 1 crack, 20 mm long, 30 to 49 mm from the centre; do not spin a cracked disc.\n" in text
    assert "About 95 % of the area that holds data was seen" in text


@given(kinds=some.lists(some.sampled_from(get_args(records.Kind)), max_size=30))
def test_every_defect_is_counted_under_its_kind(kinds: Sequence[records.Kind]) -> None:
    text = told(scan(*(damage(kind) for kind in kinds)))
    for kind in KIND:
        named = f"- {kinds.count(kind)} {KIND[kind][kinds.count(kind) != 1]},"
        assert (named in text) == (kind in kinds)
    assert ("No damage seen" in text) == (not kinds)


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("cd", "; on a CD the data lies right under the label."),
        ("unknown", "; on a CD the data lies right under the label."),
        ("dvd", "; on a DVD the data lies deeper, so that this spoils its looks alone."),
        ("bd", "; on a BD the data lies on the other side, so that this spoils its looks alone."),
    ],
)
def test_damage_of_the_label_is_told_with_what_it_means_for_the_format(name: str, words: str) -> None:
    """Byers, 5.2.2 and 5.2.3 (the latter from memory); BDA white paper 1.C, 1: 1.1 mm of substrate behind the data."""
    wound = damage("label_damage", length_mm=None, area_mm2=12.3)
    text = told(scan(wound, side="label", format=name))
    assert "- 1 damaged spot of label or mirror, 12 mm² in size, 30 to 49 mm from the centre" in text
    assert words in text


def test_where_a_doubt_tells_what_damage_of_the_label_means_that_is_told_once() -> None:
    wound = damage("label_damage", length_mm=None, area_mm2=12.3)
    doubt = {"code": Doubt.LABEL_DEPTH_UNKNOWN.name.lower(), "wrong": Doubt.LABEL_DEPTH_UNKNOWN.value.wrong}
    text = told(scan(wound, side="label", format="cd", doubts=[doubt]))
    assert "12 mm² in size, 30 to 49 mm from the centre.\n" in text
    assert text.count("right under") == 1


def test_how_much_of_each_side_was_seen_is_told() -> None:
    assert "- About 95 % of the area that holds data was seen well enough to judge." in told(scan())
    assert "- About 52 % of the print over the data was seen" in told(scan(side="label", measured_fraction=0.52))


def test_a_label_that_was_taken_as_one_with_the_data_side_was_photographed() -> None:
    text = told(scan(damage("label_damage"), merged_from=[{"side": "data"}, {"side": "label"}]))
    assert "Both sides, photographed on" in text and "not photographed" not in text


def test_a_hole_in_the_mirror_is_never_told_as_a_matter_of_looks() -> None:
    hole = damage("label_damage", length_mm=None, area_mm2=12.3, see_through=True)
    assert "from the centre; a lamp shines through it, and nothing there can be read.\n" in told(scan(hole))
    text = told(scan(hole, damage("label_damage", length_mm=None, area_mm2=2.0)))
    assert "; a lamp shines through 1 of them, and nothing there can be read.\n" in text


def test_what_is_not_sure_is_told_as_such() -> None:
    assert "from the centre; not sure.\n" in told(scan(damage("crack", confidence=0.4))).replace(
        "; do not spin a cracked disc", ""
    )
    assert "; none of them sure." in told(*[scan(*[damage("scratch", confidence=0.5)] * 3)])
    assert "; 1 of them not sure." in told(scan(damage("scratch"), damage("scratch", confidence=0.5)))


def test_what_the_photo_could_not_tell_is_told() -> None:
    doubt = {"code": "glare", "wrong": Doubt.GLARE.value.wrong, "remedy": "x"}
    text = told(scan(doubts=[doubt], format_source="guessed", recording="recordable"))
    assert Doubt.GLARE.value.wrong in text
    assert "by the look of it, recordable)" in text


def test_what_was_not_looked_at_is_told() -> None:
    assert "Label side: not photographed." in told(scan())
    assert "Data side: not photographed." in told(scan(side="label"))
    both = told(scan(side="label"), scan())
    assert "not photographed" not in both
    assert "nothing is said of its condition" in told()
    for text in (both, told()):
        for question in ("Case", "Manual or booklet", "Inserts", "Disc and case", "Print of label and paper"):
            assert f"{question}: not looked at." in text


def test_what_lies_beside_the_disc_is_told_as_it_was_last_answered() -> None:
    first = event("checked", document='{"case": true, "manual": false}')
    text = told(first, event("checked", document='{"case": false, "right_disc": true, "player": true}'))
    assert "Case: missing." in text and "Manual or booklet: missing." in text and "Inserts: not looked at." in text
    assert "Disc and case: belong together." in text and "player" not in text.lower()


def test_only_the_last_photo_of_a_side_is_told() -> None:
    text = told(scan(damage("smudge")), scan())
    assert "smudge" not in text and "No damage seen." in text


def test_a_polish_after_the_photo_or_the_test_is_told() -> None:
    test = event("tested", good=True)
    before = told(scan(), test, event("polished"))
    assert "Polished since: this is how it looked before." in before
    assert before.index("it played.") < before.index("Polished on") < before.index("Not tested since the polish.")
    after = told(event("polished"), scan(), test)
    assert "Polished on 2026-01-03." in after and "Polished since" not in after and "Not tested" not in after


@pytest.mark.parametrize(
    ("test", "words"),
    [
        ([], "Not tested: nobody has played it."),
        ([event("tested", good=True)], "Tested by playing on 2026-01-03: it played."),
        ([event("tested", good=False)], "it did not play all through."),
        ([event("tested", good=False, document="{}")], "Read by a drive on 2026-01-03: not all of it could be read."),
    ],
)
def test_whether_it_was_tested_is_told(test: Sequence[Event], words: str) -> None:
    assert words in told(scan(), *test)


def test_what_is_nobodys_business_is_not_told() -> None:
    assert "dear" not in told(scan())


def test_a_kept_report_that_makes_no_sense_is_no_silence() -> None:
    with pytest.raises(UnreadableTable):
        told(event("scanned", document='{"photo": {"discs": []}}'))


def test_what_is_missing_changes_the_price_and_what_is_wrong_warns() -> None:
    """Half or less without case and manual: common practice, no source."""
    assert "it brings 50% or less" in advised(event("checked", document='{"case": false, "manual": false}'))
    assert "it brings less; " in advised(event("checked", document='{"case": false}'))
    assert "or less" not in advised(event("checked", document='{"case": true, "inserts": false}'))
    assert "price what is in it" in advised(event("checked", document='{"right_disc": false}'))


def test_signs_of_a_copy_are_told_whether_seen_by_the_scan_or_by_eye() -> None:
    for signs in ([scan(recording="recordable")], [event("checked", document='{"good_print": false}')]):
        assert "may be a copy" in advised(*signs)
    assert "copy" not in advised(scan(), event("checked", document='{"good_print": true}'))


def test_ring_scratches_warn_of_the_player_sold_with_the_disc() -> None:
    player = event("checked", document='{"player": true}')
    assert "faulty" in advised(scan(damage("ring_arc")), player)
    assert "faulty" not in advised(scan(damage("scratch")), player)
    assert "faulty" not in advised(scan(damage("ring_arc")))


def test_every_question_has_its_words() -> None:
    assert set(ANSWERS) == set(get_args(Check)) - {"player"}
