"""Dates as people write them in tables: 2026-11-25, 25.11.2026, 25/11/26, 25 Nov 2026."""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from typing import Literal

from discscan.rows import BadRow

DayOrder = Literal["day-first", "month-first"]

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

_YEAR_FIRST = re.compile(r"(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})")
_YEAR_LAST = re.compile(r"(\d{1,2})([-/.])\s*(\d{1,2})[-/.]\s*(\d{4}|\d{2})")
_NAMED = re.compile(r"(?:(\d{1,2})\.?\s+([a-z]+)\.?,?|([a-z]+)\.?\s+(\d{1,2}),?)\s+(\d{4})", re.IGNORECASE)
_TIME = re.compile(r"[T\s]+\d{1,2}:\d{2}(:\d{2}(\.\d+)?)?\s*(Z|[-+]\d{2}:?\d{2})?$")


def usual_order(told: Iterable[str]) -> DayOrder | None:
    """What those dates say that can only be read one way; None where they disagree or there are none."""
    orders: set[DayOrder] = set()
    for text in told:
        if found := _YEAR_LAST.fullmatch(_TIME.sub("", text)):
            first, second = int(found[1]), int(found[3])
            if found[2] == "." or first > 12 >= second:
                orders.add("day-first")
            elif second > 12 >= first:
                orders.add("month-first")
    return orders.pop() if len(orders) == 1 else None


def day_of(text: str, *, order: DayOrder | None, today: date) -> date:
    """The day that a row tells. Raises BadRow where it is none, may be two, or has not come yet."""
    if not text:
        raise BadRow("no-date")
    day = _day(text, order)
    if day > today:
        raise BadRow("future-date", text)
    return day


def _day(text: str, order: DayOrder | None) -> date:
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
