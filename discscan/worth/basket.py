"""Which finds to take for the money at hand, and whether a mixed box is worth its price."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from discscan.deals import Basket, Box, Pick
from discscan.money import CENT, ZERO, cents
from discscan.worth.acts import Terms, best_untested, expected_gain, house, most_to_pay, open_acts

UNKNOWN_DAYS = 10**6
"""What sells nobody knows when is slower than all else."""


@dataclass(frozen=True)
class Find:
    """Something found, with its line in the file and the terms of its sale."""

    line: int
    item: str
    terms: Terms


_State = tuple[int, int, Decimal, Any]
"""Cost and minus gain in cents, days until all is sold, and the picks as a chain (pick, earlier picks)."""


def choose_basket(finds: Sequence[Find], *, budget: Decimal) -> Basket:
    """The finds, each with one act, whose gains add up to most while their costs keep within the budget.

    A find's cost is its price with the fee of its polish: both are paid before anything comes back. Exact, in whole
    cents; of equal gains the one sold in fewer days, added up over the finds, then the cheaper one.

    References:
        Nemhauser and Ullmann 1969, Management Science 15: dynamic programming over the plans that none beats at its
        cost; several acts for a find as in Kellerer, Pferschy and Pisinger 2004, Knapsack Problems, 11 (from memory).
    """
    most = _whole(budget)
    frontier: list[_State] = [(0, 0, ZERO, None)]
    for find in finds:
        plans = list(frontier)
        for pick in _paying_picks(find):
            cost, gain = _whole(pick.cost), _whole(pick.gain)
            slow = Decimal(UNKNOWN_DAYS) if pick.days is None else pick.days
            plans += [
                (paid + cost, rank - gain, days + slow, (pick, chain))
                for paid, rank, days, chain in frontier
                if paid + cost <= most
            ]
        frontier = _unbeaten(plans)
    best = frontier[-1]
    picks = []
    chain = best[3]
    while chain is not None:
        pick, chain = chain
        picks.append(pick)
    taken = {pick.line for pick in picks}
    return Basket(
        budget=budget,
        picks=tuple(sorted(picks, key=lambda pick: (-pick.gain, pick.line))),
        left=tuple(find.item for find in finds if find.line not in taken),
        cost=best[0] * CENT,
        gain=-best[1] * CENT,
    )


def _unbeaten(plans: list[_State]) -> list[_State]:
    """By rising cost, those that gain more, or as much sooner, than every cheaper one."""
    kept: list[_State] = []
    for plan in sorted(plans, key=lambda one: one[:3]):
        if not kept or plan[1:3] < kept[-1][1:3]:
            kept.append(plan)
    return kept


def _paying_picks(find: Find) -> list[Pick]:
    picks = []
    for act, outcomes in open_acts(find.terms).items():
        if (gain := cents(expected_gain(outcomes))) > 0:
            picks.append(Pick(find.line, find.item, act, outcomes[0].put_in, gain, outcomes[0].days))
    return picks


def judge_box(finds: Sequence[Find], *, price: Decimal, multiple: Decimal | None = None) -> Box:
    """Whether all finds together are worth one price; each is then put to its best use, or thrown away."""
    multiple = house("return_multiple") if multiple is None else multiple
    picks, payable = [], ZERO
    for find in finds:
        terms = replace(find.terms, asked=None)
        act, outcomes = best_untested(terms)
        picks.append(Pick(find.line, find.item, act, outcomes[0].fee, cents(expected_gain(outcomes)), outcomes[0].days))
        payable += max(most_to_pay(one, multiple=multiple) for one in open_acts(terms).values())
    picks.sort(key=lambda pick: -pick.gain)
    gain = sum((pick.gain for pick in picks), ZERO) - price
    carriers = _carriers(picks, price) if gain >= 0 else ()
    return Box(
        price=price,
        gain=gain,
        most_to_pay=cents(payable),
        multiple=multiple,
        carriers=carriers,
        rest=len(picks) - len(carriers),
        without_best=gain - picks[0].gain if picks else gain,
    )


def _carriers(ranked: Sequence[Pick], price: Decimal) -> tuple[Pick, ...]:
    brought = ZERO
    for count, pick in enumerate(ranked):
        if brought >= price:
            return tuple(ranked[:count])
        brought += pick.gain
    return tuple(ranked)


def _whole(amount: Decimal) -> int:
    """In cents."""
    return int(amount / CENT)
