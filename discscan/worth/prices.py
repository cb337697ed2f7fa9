"""Observed prices from a file, as people keep them."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from datetime import date
from pathlib import Path

from discscan.dates import DayOrder, day_of, usual_order
from discscan.deals import Completeness, Observation, PriceBook, Status
from discscan.money import parse_money
from discscan.rows import BadRow, Line, make_all, read_rows

PRICE_COLUMNS = ("item", "price", "currency", "date", "status", "completeness", "days_listed")

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

_MONEY = re.compile(r"(?P<before>[^\d\s.,'-]*)\s*(?P<amount>[-\d.,' \u00a0\u202f]*\d)\s*(?P<after>[^\d\s.,'-]*)")


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
    order = day_order or usual_order(row["date"] for row in rows)

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
    day = day_of(row["date"], order=order, today=today)
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
