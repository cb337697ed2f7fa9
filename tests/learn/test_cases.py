"""Which discs of a ledger teach something, and what is learned from them."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some

from discscan.calibration import book, limit
from discscan.errors import UnreadableTable
from discscan.events import Event, Item
from discscan.learn import forget_lesson, learn, lesson, place_of, read_lesson, with_learned, write_lesson
from discscan.learn.cases import play_cases, polish_cases
from discscan.lessons import Curve, PlayCase, PolishCase
from discscan.records import Chance, Kind, Playback, Polish

DAY = date(2026, 1, 3)


def entries(table: Any, name: str = "") -> list[str]:
    """Dotted names of all limits in a calibration file."""
    if "value" in table:
        return [name]
    return [one for key, part in table.items() for one in entries(part, f"{name}.{key}".lstrip("."))]


def test_learning_does_not_feed_on_what_it_has_moved() -> None:
    moved = scan(0.2)
    document = json.loads(moved.document)
    document["photo"]["discs"][0]["playback"]["before_learning"] = {"probability": 0.9, "low": 0.8, "high": 0.95}
    moved = replace(moved, document=json.dumps(document))
    assert play_cases([item(moved, event("tested", good=True))]) == [PlayCase(0.9, True)]


@pytest.mark.parametrize("name", entries(book("learning")))
def test_every_prior_and_limit_of_learning_has_unit_since_and_why(name: str) -> None:
    chosen = limit(name, file="learning")
    assert chosen.value > 0 and chosen.unit and len(chosen.why) > 20
    assert date(2026, 1, 1) <= date.fromisoformat(chosen.since)
    assert not name.startswith("polish.") or "common practice, no source" in chosen.why.lower() or "other" in name


def test_every_kind_of_damage_that_a_polish_may_meet_has_a_prior() -> None:
    assert set(book("learning")["polish"]) == set(get_args(Kind)) - {"smudge", "dust"} | {"other"}


def item(*events: Event) -> Item:
    return Item(1, (event("bought"), *events))


def event(kind: str, good: bool | None = None, document: str = "") -> Event:
    return Event(key="k", item="i", kind=kind, day=DAY, good=good, document=document)  # type: ignore[arg-type]


def scan(chance: float | None, *kinds: str) -> Event:
    disc = {
        "format": "dvd",
        "defects": [{"kind": kind} for kind in kinds],
        "playback": None if chance is None else {"probability": chance},
    }
    return event("scanned", document=json.dumps({"photo": {"discs": [disc]}}))


YES, NO, POLISH = event("tested", True), event("tested", False), event("polished")


@pytest.mark.parametrize(
    ("events", "expected"),
    [
        ([scan(0.8), YES], [PlayCase(0.8, True)]),
        ([scan(0.8), scan(0.6), NO], [PlayCase(0.6, False)]),
        ([scan(0.8), scan(None), NO], [PlayCase(0.8, False)]),  # a label side has no forecast
        ([scan(0.8), NO, YES], [PlayCase(0.8, True)]),  # cleaned and tried again: one disc is one case
        ([YES, scan(0.8)], []),
        ([scan(0.8), POLISH, YES], []),  # no forecast was made of the polished disc
        ([scan(0.3), POLISH, scan(0.8), YES], [PlayCase(0.8, True)]),
        ([event("scanned", document="{}"), YES], []),
        ([scan(0.8), event("tested")], []),
    ],
)
def test_a_case_is_a_test_after_a_scan_with_no_polish_between(
    events: Sequence[Event], expected: Sequence[PlayCase]
) -> None:
    assert play_cases([item(*events)]) == expected


@pytest.mark.parametrize(
    ("events", "expected"),
    [
        ([scan(0.3, "dust", "ring_arc", "scratch"), event("polished", False)], [PolishCase("ring_arc", "dvd", False)]),
        ([scan(0.3, "scratch"), NO, POLISH, YES], [PolishCase("scratch", "dvd", True)]),
        ([POLISH, NO], [PolishCase(None, "unknown", False)]),
        ([scan(0.3, "scratch"), POLISH, scan(0.9), YES], [PolishCase("scratch", "dvd", True)]),
        ([scan(0.9, "scratch"), YES, POLISH, YES], []),  # it played before
        ([POLISH], []),
        ([event("polished", True), YES], [PolishCase(None, "unknown", True)]),  # once, not twice
    ],
)
def test_a_polish_counts_when_its_outcome_is_known(events: Sequence[Event], expected: Sequence[PolishCase]) -> None:
    assert polish_cases([item(*events)]) == expected


def cases(count: int, *, forecast: float, share: float) -> list[PlayCase]:
    return [PlayCase(forecast, n < round(share * count)) for n in range(count)]


def test_an_empty_book_teaches_nothing_and_says_so() -> None:
    found = learn([], today=DAY)
    assert (found.cases, found.scores, found.curve, found.polish, found.enough) == (0, None, None, (), False)


def test_few_cases_or_one_outcome_are_too_few_to_tell() -> None:
    few = lesson(plays=cases(29, forecast=0.9, share=0.5), polishes=[], today=DAY)
    alike = lesson(plays=cases(200, forecast=0.9, share=0.99), polishes=[], today=DAY)
    for found in (few, alike):
        assert (found.enough, found.curve, found.brier_after) == (False, None, None)
        assert found.scores is not None, "the score itself is told, with n"


def drawn(count: int, *, right: bool) -> list[PlayCase]:
    """Discs that play as often as forecast, or half as far from the middle as that in log odds."""
    random = np.random.default_rng(3)
    forecasts = random.uniform(0.02, 0.98, count)
    odds = np.log(forecasts / (1 - forecasts))
    truth = 1 / (1 + np.exp(-(odds if right else odds / 2 - 1)))
    return [PlayCase(float(f), bool(p)) for f, p in zip(forecasts, random.uniform(size=count) < truth, strict=True)]


def test_a_forecast_that_is_too_bold_is_drawn_in() -> None:
    found = lesson(plays=drawn(600, right=False), polishes=[], today=DAY)
    assert found.curve is not None and found.curve.method == "sigmoid" and found.scores is not None
    assert found.brier_after is not None and found.brier_after < found.scores.brier
    slope, offset = found.curve.knots[0]
    assert slope == pytest.approx(-0.5, abs=0.15) and offset == pytest.approx(1, abs=0.25)


def test_isotonic_needs_a_thousand_cases() -> None:
    """Niculescu-Mizil and Caruana 2005 (from memory)."""
    found = lesson(plays=drawn(1000, right=False), polishes=[], today=DAY)
    assert found.curve is not None and found.curve.method == "isotonic"


def test_a_forecast_that_is_right_is_left_as_it_is() -> None:
    found = lesson(
        plays=cases(50, forecast=0.2, share=0.2) + cases(50, forecast=0.8, share=0.8), polishes=[], today=DAY
    )
    assert found.enough and found.curve is None and found.brier_after is not None


@given(plays=some.lists(some.builds(PlayCase, some.floats(0, 1), some.booleans()), max_size=25))
def test_every_case_is_in_one_band_and_every_share_is_a_share(plays: list[PlayCase]) -> None:
    found = lesson(plays=plays, polishes=[], today=DAY)
    assert sum(band.played.cases for band in found.bands) == found.cases == len(plays)
    assert sum(band.played.happened for band in found.bands) == found.played
    for band in found.bands:
        assert 0 <= band.played.low <= band.played.high <= 1
        assert band.forecast is None or band.low - 1e-9 <= band.forecast <= band.high + 1e-9


def test_polishes_are_told_by_kind_and_format_from_the_trades_priors() -> None:
    polishes = [PolishCase("scratch", "dvd", n < 8) for n in range(10)] + [PolishCase(None, "cd", True)]
    scratch, other = sorted(lesson(plays=[], polishes=polishes, today=DAY).polish, key=lambda one: one.kind is None)
    assert (scratch.kind, scratch.format, scratch.helped.cases, scratch.helped.mean) == ("scratch", "dvd", 10, 0.75)
    assert (other.kind, other.format, other.helped.cases) == (None, "cd", 1)
    assert other.helped.mean == pytest.approx(2 / 3), "Laplace's rule of succession"


def test_what_was_learned_is_kept_beside_the_book_and_forgotten(tmp_path: Path) -> None:
    place = place_of(tmp_path / "shop.sqlite")
    assert place.name == "shop.learned.json" and read_lesson(place) is None
    polishes = [PolishCase("scratch", "dvd", True)]
    found = lesson(plays=drawn(60, right=False), polishes=polishes, today=DAY + timedelta(1))
    write_lesson(found, place)
    assert read_lesson(place) == found
    place.write_text('{"cases": 4')
    with pytest.raises(UnreadableTable, match="cannot be read"):
        read_lesson(place)
    assert forget_lesson(place) and not forget_lesson(place) and list(tmp_path.iterdir()) == []


def test_a_recalibrated_forecast_keeps_its_order_and_moves_the_polish_alike() -> None:
    before = Chance(0.9, 0.8, 0.96)
    playback = Playback("dvd", before, 1.2, 6.0, 0.0, 33.6)
    drawn_in = replace(lesson(plays=[], polishes=[], today=DAY), curve=Curve("sigmoid", ((-0.5, 1.0),)))
    after, polish = with_learned(playback, Polish(True, before, "scratches-within-reach"), drawn_in)
    assert after.chance == polish.chance and after.before_learning == polish.before_learning == before
    assert after.chance.low < after.chance.probability < after.chance.high < before.high
    falling = replace(drawn_in, curve=Curve("sigmoid", ((0.5, 0.0),)))
    upside_down = with_learned(playback, polish, falling)[0].chance
    assert upside_down.low < upside_down.probability < upside_down.high
