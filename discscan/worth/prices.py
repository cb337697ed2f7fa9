"""Observed prices from a file, as people keep them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Literal

from discscan.deals import Completeness, Observation, PriceBook, Status
from discscan.money import parse_money
from discscan.worth.rows import BadRow, Line, make_all, read_rows

PRICE_COLUMNS = ("item", "price", "currency", "date", "status", "completeness", "days_listed")

DayOrder = Literal["day-first", "month-first"]

STATUSES: Mapping[str, Status] = {
    **dict.fromkeys(("sold", "sale", "ended sold"), "sold"),
    **dict.fromkeys(("asking", "asked", "listed", "for sale", "unsold", "ended unsold"), "asking"),
}  # fmt: skip
COMPLETENESS: Mapping[str, Completeness] = {
    "": "unstated",
    **dict.fromkeys(("complete", "with case", "with case and manual"), "complete"),
    **dict.fromkeys(("disc", "disc only", "loose"), "disc"),
    **dict.fromkeys(("case", "case only", "empty case"), "case"),
}  # fmt: skip
CURRENCIES = {"€": "EUR", "£": "GBP", "¥": "JPY", "$": "USD"}
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

_MONEY = re.compile(r"(?P<before>[^\d\s.,'-]*)\s*(?P<amount>[-\d.,' \u00a0\u202f]*\d)\s*(?P<after>[^\d\s.,'-]*)")
_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_YEAR_LAST = re.compile(r"(\d{1,2})([-/.])\s*(\d{1,2})[-/.]\s*(\d{4}|\d{2})")
_NAMED = re.compile(r"(?:(\d{1,2})\.?\s+([a-z]+)\.?,?|([a-z]+)\.?\s+(\d{1,2}),?)\s+(\d{4})", re.IGNORECASE)
_TIME = re.compile(r"[T\s]+\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?\s*(Z|[-+]\d{2}:?\d{2})?$")


def read_prices(
    path: Path, *, today: date, currency: str | None = None, day_order: DayOrder | None = None
) -> PriceBook:
    """Read a table with the columns `PRICE_COLUMNS`; only item, price, date and status must be there.

    Args:
        today: a later date is a fault.
        currency: of the book; None for that of most rows. Rows in another one are faults.
        day_order: of dates such as 3/4/2026; None to find it from the file's dates that can only be read one way.
    Raises:
        UnreadableTable: the file cannot be read, or lacks a column.
    """
    rows, faults = read_rows(path, columns=PRICE_COLUMNS, needed=("item", "price", "date", "status"))
    book_currency = (currency or _usual_currency(rows)).upper()
    order = day_order or _usual_order(rows)

    def observe(row: Line) -> Observation:
        return _observation(row, currency=book_currency, order=order, today=today)

    seen = make_all(rows, observe, faults)
    return PriceBook(book_currency, tuple(seen), tuple(sorted(faults, key=lambda fault: fault.line)))


def _observation(row: Line, *, currency: str, order: DayOrder | None, today: date) -> Observation:
    if not row["item"]:
        raise BadRow("no-item")
    amount, named = _split_price(row["price"])
    if (spoken := _currency_of(row, named)) and spoken != currency:
        raise BadRow("other-currency", spoken)
    try:
        price = parse_money(amount)
    except ValueError:
        raise BadRow("bad-price", row["price"]) from None
    if price == 0:
        raise BadRow("bad-price", row["price"])
    day = _day(row["date"], order)
    if day > today:
        raise BadRow("future-date", row["date"])
    status = STATUSES.get(_plain(row["status"]))
    if status is None:
        raise BadRow("bad-status", row["status"])
    completeness = COMPLETENESS.get(_plain(row["completeness"]))
    if completeness is None:
        raise BadRow("bad-completeness", row["completeness"])
    return Observation(
        line=row.number, item=" ".join(row["item"].split()), price=price, day=day, status=status,
        completeness=completeness, days_listed=_days(row["days_listed"]),
    )  # fmt: skip


def _split_price(text: str) -> tuple[str, str]:
    """The amount, and what stands before or after it: "12,50" and "EUR"."""
    if not text:
        raise BadRow("no-price")
    found = _MONEY.fullmatch(text)
    if found is None or (found["before"] and found["after"]):
        raise BadRow("bad-price", text)
    return found["amount"], found["before"] or found["after"]


def _currency_of(row: Line, named: str) -> str:
    """As the row tells it, in capitals, or ""; the column goes before the sign beside the amount."""
    told = row["currency"] or named
    return CURRENCIES.get(told, told.upper())


def _usual_currency(rows: list[Line]) -> str:
    told: Counter[str] = Counter()
    for row in rows:
        found = _MONEY.fullmatch(row["price"])
        told[_currency_of(row, (found["before"] or found["after"]) if found else "")] += 1
    del told[""]
    return told.most_common(1)[0][0] if told else ""


def _usual_order(rows: list[Line]) -> DayOrder | None:
    """What the dates that can only be read one way say; None where they disagree or there are none."""
    orders: set[DayOrder] = set()
    for row in rows:
        if found := _YEAR_LAST.fullmatch(_TIME.sub("", row["date"])):
            first, second = int(found[1]), int(found[3])
            if found[2] == "." or first > 12 >= second:
                orders.add("day-first")
            elif second > 12 >= first:
                orders.add("month-first")
    return orders.pop() if len(orders) == 1 else None


def _day(text: str, order: DayOrder | None) -> date:
    if not text:
        raise BadRow("no-date")
    told = _TIME.sub("", text)
    try:
        if found := _YEAR_FIRST.fullmatch(told):
            return date(int(found[1]), int(found[2]), int(found[3]))
        if found := _NAMED.fullmatch(told):
            month = MONTHS.index((found[2] or found[3])[:3].lower()) + 1
            return date(int(found[5]), month, int(found[1] or found[4]))
        if found := _YEAR_LAST.fullmatch(told):
            first, second, year = int(found[1]), int(found[3]), int(found[4])
            year += 2000 if year < 100 else 0
            day_first = _is_day_first(first, second, mark=found[2], order=order)
            if day_first is None:
                raise BadRow("either-date", text)
            return date(year, second, first) if day_first else date(year, first, second)
    except ValueError:
        pass
    raise BadRow("bad-date", text)


def _is_day_first(first: int, second: int, *, mark: str, order: DayOrder | None) -> bool | None:
    """A dot says day first; a number above 12 is no month; else as the file's other dates; None for either."""
    if mark == "." or first > 12 or first == second:
        return True
    if second > 12:
        return False
    return None if order is None else order == "day-first"


def _days(text: str) -> int | None:
    if not text:
        return None
    if not re.fullmatch(r"\d{1,5}", text):
        raise BadRow("bad-days", text)
    return int(text)


def _plain(text: str) -> str:
    return re.sub(r"[\s_-]+", " ", text).casefold()


def same_item(name: str) -> str:
    """What two spellings of one item have in common: case and spaces do not count."""
    return " ".join(name.split()).casefold()
