"""From events to items and sums, and which event may come next."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from discscan.errors import BadTerms, NoSuchItem, OutOfOrder
from discscan.events import Event, Item
from discscan.ledger import correction_of, items_of, next_event, summarise, undo_of

D = Decimal
START = date(2026, 1, 1)


class Stall:
    """A book in memory."""

    def __init__(self) -> None:
        self.events: list[Event] = []

    def do(self, kind: str, what: str, *, on: int = 0, **details: object) -> None:
        day = START + timedelta(days=on)
        self._keep(next_event(kind, what=what, day=day, items=self.items, **details))  # type: ignore[arg-type]

    def undo(self, number: int | None = None) -> None:
        self._keep(undo_of(self.events, day=START, number=number)[0])

    def correct(self, number: int, **changes: object) -> None:
        self._keep(correction_of(self.events, number=number, **changes))

    def _keep(self, event: Event) -> None:
        from dataclasses import replace

        self.events.append(replace(event, number=len(self.events) + 1))

    @property
    def items(self) -> list[Item]:
        return items_of(self.events)


@pytest.fixture
def stall() -> Stall:
    return Stall()


def test_an_item_goes_from_found_to_sold(stall: Stall) -> None:
    stall.do("found", "The Last Ferry", amount=D(5))
    stall.do("bought", "the last  FERRY", amount=D(4))
    for kind in ("scanned", "polished", "tested", "listed", "sold"):
        stall.do(kind, "1")
    (item,) = stall.items
    assert [event.kind for event in item.events] == [
        "found", "bought", "scanned", "polished", "tested", "listed", "sold",
    ]  # fmt: skip
    assert item.ended and item.state == "sold" and item.title == "The Last Ferry"


def test_nothing_happens_to_an_item_after_its_end(stall: Stall) -> None:
    stall.do("bought", "Film", amount=D(4))
    stall.do("sold", "Film", amount=D(9))
    with pytest.raises(OutOfOrder, match="sold already"):
        stall.do("listed", "1")
    stall.do("bought", "Film", amount=D(3))
    assert [item.ended for item in stall.items] == [True, False], "the same title once more is another item"


def test_one_item_is_bought_once(stall: Stall) -> None:
    stall.do("bought", "Film", amount=D(4))
    with pytest.raises(OutOfOrder, match="bought already"):
        stall.do("bought", "Film", amount=D(4))


@pytest.mark.parametrize(("kind", "what"), [("sold", "Film"), ("bought", "7"), ("found", " ")])
def test_what_is_not_there_is_told(stall: Stall, kind: str, what: str) -> None:
    with pytest.raises(NoSuchItem):
        stall.do(kind, what)


def test_an_undone_event_stands_no_more_and_can_happen_again(stall: Stall) -> None:
    stall.do("bought", "Film", amount=D(4))
    stall.do("sold", "Film", amount=D(90))
    stall.undo()
    assert stall.items[0].state == "bought"
    stall.do("sold", "Film", amount=D(9))
    assert stall.items[0].total("sold") == 9
    assert len(stall.events) == 4, "nothing is ever taken out"


def test_a_correction_puts_itself_in_the_place_of_what_was_wrong(stall: Stall) -> None:
    stall.do("bought", "Flim", amount=D(40), source="yard sale")
    stall.do("listed", "Flim", amount=D(9))
    stall.correct(1, amount=D(4), title="Film", day=START + timedelta(days=1))
    (item,) = stall.items
    first = item.events[0]
    assert (item.title, item.number, item.total("bought"), first.source) == ("Film", 1, D(4), "yard sale")
    assert (first.kind, first.number, first.day) == ("bought", 1, START + timedelta(days=1))
    stall.correct(1, amount=D(5))
    assert stall.items[0].total("bought") == 5 and stall.items[0].title == "Film", "a correction of the correction"
    stall.undo()
    assert stall.items[0].total("bought") == 4, "the last correction was taken back"
    stall.undo()
    assert stall.items[0].total("bought") == 40
    stall.correct(1, amount=D(6))
    assert stall.items[0].total("bought") == 6
    assert len(stall.events) == 7, "nothing is ever taken out"
    stall.do("sold", "1", amount=D(9))
    stall.undo(2)
    assert [event.kind for event in stall.items[0].events] == ["bought", "sold"]


@pytest.mark.parametrize(
    ("number", "changes", "error"),
    [(9, {"amount": D(1)}, NoSuchItem), (1, {}, BadTerms), (1, {"fees": D(1)}, BadTerms), (1, {"good": True}, BadTerms),
     (2, {"title": "Film"}, BadTerms), (2, {"amount": D(1)}, BadTerms)],
)  # fmt: skip
def test_what_cannot_be_corrected_is_told(
    stall: Stall, number: int, changes: dict[str, object], error: type[Exception]
) -> None:
    stall.do("bought", "Film", amount=D(4))
    stall.do("tested", "Film", good=True)
    with pytest.raises(error):
        stall.correct(number, **changes)


def test_what_a_buyer_sends_back_is_in_stock_again_and_may_be_sold_again(stall: Stall) -> None:
    stall.do("bought", "Film", amount=D(4))
    with pytest.raises(OutOfOrder, match="not sold"):
        stall.do("returned", "Film", amount=D(9))
    stall.do("sold", "Film", on=5, amount=D(9), fees=D(1))
    stall.do("returned", "film", on=9, amount=D(9), fees=D(2), good=True)
    found = summarise(stall.items, today=START + timedelta(days=10))
    assert (found.ended, found.stock, found.returned, found.gain) == (0, 1, 1, 0)
    stall.do("sold", "Film", on=10, amount=D(8))
    found = summarise(stall.items, today=START + timedelta(days=10))
    assert found.gain == 9 - 1 - 9 - 2 + 8 - 4, "what was paid back, and what that cost, are taken off"
    assert (found.ended, found.days_to_sell) == (1, 10)


def test_items_are_numbered_one_after_another_and_keep_their_numbers(stall: Stall) -> None:
    stall.do("found", "A", amount=D(5))
    stall.do("bought", "A", amount=D(4))
    stall.do("bought", "B", amount=D(4))
    stall.do("bought", "C", amount=D(4))
    assert [item.number for item in stall.items] == [1, 2, 3]
    stall.undo(3)
    assert [(item.number, item.title) for item in stall.items] == [(1, "A"), (3, "C")]


def test_an_item_is_called_by_its_barcode_as_well(stall: Stall) -> None:
    stall.do("bought", "Film", amount=D(4), barcode="0036000291452")
    stall.do("sold", "36000291452", amount=D(9))
    assert stall.items[0].ended
    stall.do("bought", "Film", amount=D(5), barcode="0036000291452")
    stall.do("listed", "0036000291452", amount=D(9))
    assert [item.state for item in stall.items] == ["sold", "listed"], "of two, the one that is here"


def test_undoing_goes_back_step_by_step_and_to_any_event(stall: Stall) -> None:
    stall.do("bought", "Film", amount=D(4))
    stall.do("polished", "Film", amount=D(3))
    stall.do("listed", "Film", amount=D(9))
    stall.undo(2)
    assert [event.kind for event in stall.items[0].events] == ["bought", "listed"]
    with pytest.raises(OutOfOrder, match="went on since"):
        stall.undo(1)
    with pytest.raises(NoSuchItem):
        stall.undo(2)
    stall.undo()
    stall.undo()
    assert stall.items == []
    with pytest.raises(NoSuchItem):
        stall.undo()


def test_gain_is_sales_less_fees_prices_and_polishes(stall: Stall) -> None:
    stall.do("bought", "A", amount=D(4), source="yard sale")
    stall.do("polished", "A", amount=D(3))
    stall.do("sold", "A", on=10, amount=D(20), fees=D("2.50"))
    stall.do("bought", "B", amount=D(2), source="thrift shop")
    stall.do("discarded", "B", on=30)
    stall.do("bought", "C", amount=D(5))
    stall.do("found", "D", amount=D(50))
    found = summarise(stall.items, today=START + timedelta(days=40))
    assert (found.gain, found.ended, found.stock, found.stock_cost) == (D("8.50"), 2, 1, D(5))
    assert found.return_per_unit == D("17.50") / 9
    assert (found.days_to_sell, found.gain_per_day, found.passed_up) == (10, D("0.85"), 1)
    assert [(one.sort, one.gain) for one in found.by_source] == [("thrift shop", D("-2")), ("yard sale", D("10.50"))]


def test_sales_of_1400_at_a_cost_of_800_from_a_stock_of_200_make_a_gmroi_of_3(stall: Stall) -> None:
    """Levy and Weitz, Retailing Management (from memory): 600 / 200 = 3.0; turns 800 / 200 = 4, days 365 / 4 = 91.25.

    Four items in turn through a year, each bought for 200 on the day on which the one before is sold for 350.
    """
    ends = [91, 182, 274, 365]
    for number, (start, end) in enumerate(zip([0, *ends], ends, strict=False)):
        stall.do("bought", f"Lot {number + 1} of four", on=start, amount=D(200))
        stall.do("sold", f"Lot {number + 1} of four", on=end, amount=D(350))
    found = summarise(stall.items, today=START + timedelta(days=365))
    assert (found.gain, found.average_stock, found.gmroi, found.turns) == (600, 200, 3, 4)
    assert found.turns is not None and found.days / found.turns == D("91.25")


def test_an_empty_book_has_no_sums_that_mean_nothing() -> None:
    found = summarise([], today=START)
    assert (found.first_day, found.return_per_unit, found.turns, found.days_to_sell) == (None, None, None, None)
