"""What an item sells for: the robust middle of what was seen sold, how sure that is, and how old."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from math import comb
from statistics import median

from discscan.calibration import limit
from discscan.deals import Completeness, Observation, ObservedPrice, PriceBook
from discscan.money import cents
from discscan.worth.acts import house
from discscan.worth.prices import same_item

SURE = 0.90
STATES: tuple[Completeness, ...] = ("complete", "disc", "case", "unstated")


def observed_prices(book: PriceBook, *, today: date, item: str | None = None) -> list[ObservedPrice]:
    """The price of each item in each state in which it was seen; of one item only, in any spelling, where told.

    A disc alone that nobody saw sold is priced by the trade's share of the complete item, and marked so.
    """
    groups: dict[str, list[Observation]] = {}
    for one in book.seen:
        groups.setdefault(same_item(one.item), []).append(one)
    wanted = groups if item is None else {same_item(item): groups.get(same_item(item), [])}
    return [price for key in sorted(wanted) for price in _prices_of(wanted[key], today)]


def _prices_of(seen: Sequence[Observation], today: date) -> Iterator[ObservedPrice]:
    complete: ObservedPrice | None = None
    for state in STATES:
        here = [one for one in seen if one.completeness == state]
        price = _price(here, state, today) if here else None
        if state == "complete":
            complete = price
        if state == "disc" and (price is None or price.price is None) and complete and complete.price is not None:
            price = _disc_of(complete, price)
        if price is not None:
            yield price


def _price(seen: Sequence[Observation], state: Completeness, today: date) -> ObservedPrice:
    sold = sorted((one for one in seen if one.status == "sold"), key=lambda one: one.price)
    asking = [one.price for one in seen if one.status == "asking"]
    prices = [one.price for one in sold]
    weights = [_weight((today - one.day).days) for one in sold]
    days = [one.days_listed for one in sold if one.days_listed is not None]
    newest = max((one.day for one in sold), default=None)
    between = median_interval(_effective(weights))

    def at(share: float | None) -> Decimal | None:
        return weighted_quantile(prices, weights, share=share) if prices and share is not None else None

    return ObservedPrice(
        item=seen[0].item,
        completeness=state,
        price=at(0.5),
        low=at(between[0] if between else None),
        high=at(between[1] if between else None),
        quarter=at(0.25 if between else None),
        three_quarters=at(0.75 if between else None),
        sold=len(prices),
        newest=newest,
        stale=newest is not None and (today - newest).days > limit("price_stale_days").value,
        from_complete=False,
        days=round(median(days)) if days else None,
        asking=len(asking),
        asking_middle=cents(median(asking)) if asking else None,
    )


def _disc_of(complete: ObservedPrice, asked: ObservedPrice | None) -> ObservedPrice:
    """The disc alone, by the trade's share of the complete item; asking prices of it stay beside."""
    assert complete.price is not None
    price = cents(complete.price * house("disc_only_share"))
    return replace(
        complete, completeness="disc", price=price, low=None, high=None, quarter=None, three_quarters=None, days=None,
        from_complete=True, asking=asked.asking if asked else 0, asking_middle=asked.asking_middle if asked else None,
    )  # fmt: skip


def _weight(age_days: int) -> float:
    return float(0.5 ** (age_days / limit("price_half_life_days").value))


def weighted_quantile(values: Sequence[Decimal], weights: Sequence[float], *, share: float) -> Decimal:
    """The value below which this share of the weight lies; midway between two where it is just reached.

    Args:
        values: ascending, not empty. With equal weights this is the averaged inverted distribution function
            (Hyndman and Fan 1996, definition 2), so the half is the usual median.
    """
    wanted, reached = share * sum(weights), 0.0
    for at, weight in enumerate(weights):
        reached += weight
        if reached > wanted * (1 + 1e-12):
            return values[at]
        if reached >= wanted * (1 - 1e-12) and at + 1 < len(values):
            return cents((values[at] + values[at + 1]) / 2)
    return values[-1]


def _effective(weights: Sequence[float]) -> int:
    """How many equally recent sales tell as much (Kish, Survey Sampling, 1965; from memory)."""
    return round(sum(weights) ** 2 / sum(weight**2 for weight in weights)) if weights else 0


def median_interval(count: int) -> tuple[float, float] | None:
    """The shares of `count` sales between which the median lies with 90 % or more; None where they are too few.

    The narrowest even pair of the sorted sales, each share in the middle of the sale's own. It assumes nothing but
    that the sales are of one market, and needs five.

    References:
        David and Nagaraja, Order Statistics, 3rd ed., 7.1 (from memory).
    """
    below = -1
    outside = 0.0
    while (outside := outside + 2 * comb(count, below + 1) / 2**count) <= 1 - SURE:
        below += 1
    return None if below < 0 else ((below + 0.5) / count, 1 - (below + 0.5) / count)
