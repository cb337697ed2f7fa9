"""Finds from a file: what each is asked for, sells for, and its chances, typed or taken from a scan."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import TypeVar

from discscan.deals import Fault, Forecast
from discscan.errors import BadTerms
from discscan.money import parse_money, parse_share
from discscan.rows import BadRow, Line, make_all, read_rows
from discscan.worth.acts import Terms
from discscan.worth.basket import Find

FIND_COLUMNS = (
    "item", "photo", "asked", "sells", "sells_spoiled", "chance", "polish_fee", "chance_polished", "selling_rate",
    "selling_fixed", "postage", "return_cost", "days",
)  # fmt: skip
MONEY = ("asked", "sells", "sells_spoiled", "polish_fee", "selling_fixed", "postage", "return_cost")
SHARES = ("chance", "chance_polished", "selling_rate")
Value = TypeVar("Value")


def read_finds(
    path: Path, *, costs: Mapping[str, Decimal], forecasts: Mapping[str, Forecast], asked_needed: bool
) -> tuple[list[Find], list[Fault]]:
    """Read a table with the columns `FIND_COLUMNS`; only item and sells must be there.

    Args:
        costs: for rows that do not tell theirs, under the names of `Terms`.
        forecasts: by photo, for rows that name one; what a row itself tells goes before them.
        asked_needed: a row without `asked` is a fault.
    Raises:
        UnreadableTable: the file cannot be read, or lacks a column.
    """
    rows, faults = read_rows(path, columns=FIND_COLUMNS, needed=("item", "sells"))
    finds, more = finds_of(rows, costs=costs, forecasts=forecasts, asked_needed=asked_needed)
    return finds, sorted([*faults, *more], key=lambda fault: fault.line)


def finds_of(
    rows: Sequence[Line], *, costs: Mapping[str, Decimal], forecasts: Mapping[str, Forecast], asked_needed: bool
) -> tuple[list[Find], list[Fault]]:
    """The same of rows with the columns `FIND_COLUMNS` that are at hand."""
    faults: list[Fault] = []

    def make(row: Line) -> Find:
        return _find(row, costs=costs, forecasts=forecasts, asked_needed=asked_needed)

    return make_all(rows, make, faults), faults


def _find(row: Line, *, costs: Mapping[str, Decimal], forecasts: Mapping[str, Forecast], asked_needed: bool) -> Find:
    if not row["item"]:
        raise BadRow("no-item")
    told: dict[str, Decimal] = dict(costs)
    told |= {name: _read(parse_money, row[name], "bad-price") for name in MONEY if row[name]}
    told |= {name: _read(parse_share, row[name], "bad-share") for name in SHARES if row[name]}
    if row["days"]:
        told["days"] = _days(row["days"])
    if "sells" not in told or (asked_needed and "asked" not in told):
        raise BadRow("no-price")
    seen = forecasts.get(row["photo"])
    if row["photo"] and seen is None:
        raise BadRow("no-such-photo", row["photo"])
    if "chance" not in told and seen is None:
        raise BadRow("no-chance")
    may_spin = True
    if seen is not None:
        may_spin = seen.may_spin
        told = {"chance": seen.chance, **told}
        if seen.chance_polished is not None:
            told = {"chance_polished": seen.chance_polished, **told}
    try:
        return Find(row.number, " ".join(row["item"].split()), replace(Terms(**told), may_spin=may_spin))  # type: ignore[arg-type]
    except BadTerms:
        raise BadRow("bad-terms") from None


def _read(parse: Callable[[str], Value], text: str, what: str) -> Value:
    try:
        return parse(text)
    except ValueError:
        raise BadRow(what, text) from None


def _days(text: str) -> Decimal:
    if not text.isascii() or not text.isdigit() or len(text) > 5:
        raise BadRow("bad-days", text)
    return Decimal(text)
