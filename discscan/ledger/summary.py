"""A book at a glance: gain, return, days, stock, by source and by verdict."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal
from statistics import median

from discscan.events import Group, Item, Summary
from discscan.ledger.items import verdict_in
from discscan.money import ZERO, cents


def summarise(items: Sequence[Item], *, today: date) -> Summary:
    """Reckon a book up to and including `today`; events of later days count as if they had happened.

    References:
        GMROI and stock turn: gain, and cost of what was sold, over the average stock at cost (Levy and Weitz, Retailing
        Management; from memory).
    """
    ended = [item for item in items if item.ended and _owned(item)]
    stock = [item for item in items if not item.ended and _owned(item)]
    first = min((item.events[0].day for item in items), default=None)
    days = max(1, (today - first).days) if first is not None else 0
    gain, spent = _gain(ended), _spent(ended)
    sold = [item for item in ended if item.end is not None and item.end.kind == "sold"]
    held = [_days_held(item) for item in sold]
    average = sum((_spent([item]) * _days_in_stock(item, today) for item in items if _owned(item)), ZERO) / (days or 1)
    return Summary(
        first_day=first,
        days=days,
        ended=len(ended),
        gain=gain,
        return_per_unit=(gain + spent) / spent if spent else None,
        gain_per_day=cents(gain / sum(held)) if sum(held) else None,
        days_to_sell=round(median(held)) if held else None,
        stock=len(stock),
        stock_cost=_spent(stock),
        average_stock=cents(average),
        turns=_spent(sold) / average if average else None,
        gmroi=gain / average if average else None,
        passed_up=sum(not _owned(item) for item in items),
        returned=sum(event.kind == "returned" for item in items for event in item.events),
        by_source=_grouped(ended, _source),
        by_verdict=_grouped(ended, _verdict),
    )


def _owned(item: Item) -> bool:
    return item.last("bought") is not None or item.last("sold") is not None


def _spent(items: Sequence[Item]) -> Decimal:
    return sum((item.total("bought", "polished") for item in items), ZERO)


def _gain(items: Sequence[Item]) -> Decimal:
    fees = sum((event.fees for item in items for event in item.events if event.fees is not None), ZERO)
    kept = sum((item.total("sold") - item.total("returned") for item in items), ZERO)
    return kept - fees - _spent(items)


def _days_held(item: Item) -> int:
    return (_end(item, item.events[-1].day) - _start(item)).days


def _days_in_stock(item: Item, today: date) -> int:
    return (_end(item, today) - _start(item)).days


def _start(item: Item) -> date:
    bought = item.last("bought")
    return item.events[0].day if bought is None else bought.day


def _end(item: Item, otherwise: date) -> date:
    return otherwise if item.end is None else item.end.day


def _grouped(items: Sequence[Item], sort_of: Callable[[Item], str]) -> list[Group]:
    groups: dict[str, list[Item]] = {}
    for item in items:
        groups.setdefault(sort_of(item), []).append(item)
    return [_group(sort, those) for sort, those in sorted(groups.items())]


def _group(sort: str, items: Sequence[Item]) -> Group:
    gain, spent = _gain(items), _spent(items)
    return Group(sort, len(items), gain, (gain + spent) / spent if spent else None)


def _source(item: Item) -> str:
    return next((event.source for event in item.events if event.source), "")


def _verdict(item: Item) -> str:
    """The action of the last scan, or "" for an item that was never scanned."""
    scanned = item.last("scanned")
    return "" if scanned is None else verdict_in(scanned.document)
