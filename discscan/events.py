"""What happened to each item, as the ledger keeps it. A ledger only grows: a correction is an event of its own."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal, get_args

from discscan.records import FormatName

Kind = Literal[
    "found", "bought", "scanned", "checked", "polished", "tested", "listed", "sold", "returned", "discarded", "undo",
    "correction",
]  # fmt: skip
Check = Literal["case", "manual", "inserts", "right_disc", "good_print", "player"]
"""What may be looked at beside the disc: there or not; the right disc in its case; its print good; a player with it."""


@dataclass(frozen=True, kw_only=True)
class Event:
    """One thing that happened.

    Attributes:
        key: unlike any other, in any book.
        number: its place in this book, 0 while it is in none.
        item: key of the item's first event.
        amount: what was asked (found), paid (bought), taken (polished), asked (listed), brought in (sold) or paid back
            (returned).
        fees: of a sale, or of a return.
        good: a polish helped; a tested disc plays; what came back is the disc that was sold.
        undoes: key of the event that an `undo` takes back, or a `correction` puts itself in the place of.
        document: of `scanned`: the report whole, with the versions that made it; of `tested`: the read-back, if any;
            of `checked`: the answers; of `returned`: the comparison with the photographs of the sale, if any. JSON.
        barcode: of its case, 13 digits or 8.
    """

    key: str
    item: str
    kind: Kind
    day: date
    number: int = 0
    title: str = ""
    amount: Decimal | None = None
    fees: Decimal | None = None
    good: bool | None = None
    source: str = ""
    note: str = ""
    undoes: str = ""
    document: str = ""
    barcode: str = ""


@dataclass(frozen=True)
class Item:
    """An item with all that happened to it and still stands, in the order of the book; numbered as the book's n-th."""

    number: int
    events: tuple[Event, ...]

    @property
    def title(self) -> str:
        return self.events[0].title

    @property
    def state(self) -> Kind:
        return self.events[-1].kind

    @property
    def end(self) -> Event | None:
        """The sale, or the throwing away, that it ended with; None while it is here, be it again after a return."""
        turns = [event for event in self.events if event.kind in ("sold", "returned", "discarded")]
        return None if not turns or turns[-1].kind == "returned" else turns[-1]

    @property
    def ended(self) -> bool:
        return self.end is not None

    @property
    def barcode(self) -> str:
        """The last one told, or ""."""
        return next((event.barcode for event in reversed(self.events) if event.barcode), "")

    def last(self, kind: Kind) -> Event | None:
        return next((event for event in reversed(self.events) if event.kind == kind), None)

    @property
    def checks(self) -> dict[Check, bool]:
        """The last answer to each question; none where nobody looked."""
        answers: dict[Check, bool] = {}
        for event in self.events:
            if event.kind == "checked":
                answers |= checks_in(event.document)
        return answers

    def total(self, *kinds: Kind) -> Decimal:
        """The sum of amounts of such events."""
        return sum((event.amount for event in self.events if event.kind in kinds and event.amount), Decimal(0))


def checks_in(document: str) -> dict[Check, bool]:
    """The answers in the document of a `checked` event. Raises ValueError when it holds none."""
    answers = json.loads(document)
    if not isinstance(answers, dict) or not answers or set(answers) - set(get_args(Check)):
        raise ValueError("a check without answers")
    if any(not isinstance(answer, bool) for answer in answers.values()):
        raise ValueError("a check that is neither yes nor no")
    return answers


@dataclass(frozen=True)
class Readback:
    """Where on a disc lie the sectors that a drive could not read.

    Attributes:
        sectors: first and last of each range, ascending.
        radii_mm: between which radii each range lies.
        count: of unreadable sectors.
        seen: how many of them lie at a radius at which the last scan saw damage; None without a scan.
        by_chance: the share of all sectors that lie at such radii.
        damage_mm: those radii.
    """

    format: FormatName
    sectors: tuple[tuple[int, int], ...]
    radii_mm: tuple[tuple[float, float], ...]
    count: int
    seen: int | None
    by_chance: float | None
    damage_mm: tuple[tuple[float, float], ...] | None


@dataclass(frozen=True)
class Group:
    """What the ended items of one sort brought; `sort` is a source or a verdict."""

    sort: str
    ended: int
    gain: Decimal
    return_per_unit: Decimal | None


@dataclass(frozen=True)
class Summary:
    """A book at a glance.

    Attributes:
        gain: of all ended items: sales less fees, prices paid, polishes.
        return_per_unit: what came back of each unit put into them.
        gain_per_day: gain over the days from buying to selling, all items' days added up.
        days_to_sell: median from buying to selling.
        stock, stock_cost: items bought and not ended, and what was put into them.
        average_stock: money in stock, mean over the days of the book.
        turns, gmroi: cost of the sold, and their gain, over the average stock, for the days of the book.
        passed_up: items found and never bought.
        returned: how often a buyer sent something back.
    """

    first_day: date | None
    days: int
    ended: int
    gain: Decimal
    return_per_unit: Decimal | None
    gain_per_day: Decimal | None
    days_to_sell: int | None
    stock: int
    stock_cost: Decimal
    average_stock: Decimal
    turns: Decimal | None
    gmroi: Decimal | None
    passed_up: int
    returned: int
    by_source: Sequence[Group]
    by_verdict: Sequence[Group]
