"""What the money commands write with `--json`: amounts are strings with two decimals, chances and ratios numbers."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from discscan.deals import Act, Advice, Basket, Bench, Box, Fault, ObservedPrice, Pick, PriceBook, Trip
from discscan.report.money_words import fault, money

Document = dict[str, Any]


def worth_document(advice: Advice) -> Document:
    return {
        "acts": [_act(act) for act in advice.acts],
        "best": advice.best.name,
        "most_to_pay": money(advice.most_to_pay),
        "polish_break_even_chance": _number(advice.polish_break_even_chance),
        "value_of_test": money(advice.value_of_test),
    }


def prices_document(book: PriceBook, prices: Sequence[ObservedPrice]) -> Document:
    return {
        "currency": book.currency,
        "prices": [
            {
                "item": one.item,
                "completeness": one.completeness,
                "price": _money(one.price),
                "low": _money(one.low),
                "high": _money(one.high),
                "quarter": _money(one.quarter),
                "three_quarters": _money(one.three_quarters),
                "sold": one.sold,
                "newest": None if one.newest is None else one.newest.isoformat(),
                "stale": one.stale,
                "from_complete": one.from_complete,
                "days": one.days,
                "asking": one.asking,
                "asking_middle": _money(one.asking_middle),
            }
            for one in prices
        ],
        "faults": _faults(book.faults),
    }


def basket_document(basket: Basket, faults: Sequence[Fault]) -> Document:
    return {
        "budget": money(basket.budget),
        "cost": money(basket.cost),
        "gain": money(basket.gain),
        "picks": [_pick(pick) for pick in basket.picks],
        "left": list(basket.left),
        "faults": _faults(faults),
    }


def box_document(box: Box, faults: Sequence[Fault]) -> Document:
    return {
        "price": money(box.price),
        "gain": money(box.gain),
        "most_to_pay": money(box.most_to_pay),
        "carriers": [_pick(pick) for pick in box.carriers],
        "rest": box.rest,
        "without_best": money(box.without_best),
        "faults": _faults(faults),
    }


def trip_document(trip: Trip, bench: Bench | None, faults: Sequence[Fault]) -> Document:
    return {
        "go": trip.gain > 0,
        "gain": money(trip.gain),
        "fee_each": money(trip.fee_each),
        "going": money(trip.going),
        "picks": [_pick(pick) for pick in trip.picks],
        "left": list(trip.left),
        "more_needed": trip.more_needed,
        "bench": None
        if bench is None
        else {
            "price": money(bench.price),
            "months": bench.months,
            "saving_each": money(bench.saving_each),
            "discs_a_month": bench.discs_a_month,
        },
        "faults": _faults(faults),
    }


def _act(act: Act) -> Document:
    return {
        "name": act.name,
        "gain": money(act.gain),
        "low": money(act.low),
        "high": money(act.high),
        "loss_chance": _number(act.loss_chance),
        "return_per_unit": _number(act.return_per_unit),
        "days": _number(act.days),
        "gain_per_day": _money(act.gain_per_day),
    }


def _pick(pick: Pick) -> Document:
    return {
        "line": pick.line,
        "item": pick.item,
        "act": pick.act,
        "cost": money(pick.cost),
        "gain": money(pick.gain),
        "days": _number(pick.days),
    }


def _faults(faults: Sequence[Fault]) -> list[Document]:
    return [{"line": one.line, "code": one.what, "message": fault(one)} for one in faults]


def _money(amount: Decimal | None) -> str | None:
    return None if amount is None else money(amount)


def _number(value: Decimal | None) -> float | None:
    return None if value is None else float(value)
