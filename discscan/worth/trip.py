"""Which discs to take to the shop for a polish, and when a machine of one's own pays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal
from itertools import accumulate

from discscan.deals import Bench, Pick, Trip
from discscan.money import ZERO, cents
from discscan.worth.acts import best_untested, expected_gain, house, outcomes_of
from discscan.worth.basket import Find

MORE_AT_MOST = 1000


@dataclass(frozen=True)
class Fees:
    """What the shop takes for each disc, lower from certain counts on: `by_count` holds (from how many, each)."""

    each: Decimal
    by_count: tuple[tuple[int, Decimal], ...] = ()

    def of(self, count: int) -> Decimal:
        """For each of so many discs."""
        reached = [(start, fee) for start, fee in self.by_count if start <= count]
        return max(reached)[1] if reached else self.each


def plan_trip(finds: Sequence[Find], *, fees: Fees, going: Decimal = ZERO, at_most: int | None = None) -> Trip:
    """Take the discs that a polish helps most, as many as bring most after fees and the cost of going.

    Exact: the fee depends on the count alone, so of each count the discs with the largest `gain` are best. A find's own
    fee and price play no part: the discs are bought, and this shop polishes them.
    """
    helped = sorted((pick for find in finds if (pick := _helped(find)) is not None), key=lambda pick: -pick.gain)
    most = len(helped) if at_most is None else min(at_most, len(helped))
    sums = list(accumulate((pick.gain for pick in helped), initial=ZERO))
    gains = {count: sums[count] - count * fees.of(count) - going for count in range(1, most + 1)}
    best = max(gains, key=lambda count: gains[count], default=0)
    gain = gains.get(best, -going)
    taken = tuple(helped[:best])
    return Trip(
        picks=taken,
        left=tuple(find.item for find in finds if find.line not in {pick.line for pick in taken}),
        fee_each=fees.of(best),
        going=going,
        gain=gain,
        more_needed=0 if gain > 0 else _more_needed(helped, fees, going, at_most),
    )


def _helped(find: Find) -> Pick | None:
    """What a polish adds to the best other use of the disc, before its fee; None where it adds nothing."""
    terms = replace(find.terms, asked=None, polish_fee=ZERO)
    polished = outcomes_of("polish-then-sell", terms)
    if polished is None:
        return None
    added = expected_gain(polished) - expected_gain(best_untested(replace(terms, chance_polished=None))[1])
    days = polished[0].days
    return Pick(find.line, find.item, "polish-then-sell", ZERO, cents(added), days) if cents(added) > 0 else None


def _more_needed(helped: Sequence[Pick], fees: Fees, going: Decimal, at_most: int | None) -> int | None:
    if not helped:
        return None
    for more in range(1, MORE_AT_MOST + 1):
        gains = accumulate(pick.gain for pick in [helped[0]] * more + list(helped))
        for count, gain in enumerate(gains, start=1):
            if (at_most is None or count <= at_most) and gain - count * fees.of(count) - going > 0:
                return more
    return None


def weigh_bench(
    *, price: Decimal, supplies: Decimal, minutes: Decimal, hour: Decimal, fee: Decimal, months: int | None = None
) -> Bench:
    """From how many discs a month on a machine of one's own pays for itself.

    Args:
        supplies, minutes: for each disc; an hour of one's own is worth `hour`.
        fee: what the shop takes for each disc.
        months: within which it should have paid; None for the house's.
    """
    within = int(house("bench_months")) if months is None else months
    saving = fee - supplies - minutes / 60 * hour
    count = None if saving <= 0 else int((price / (within * saving)).to_integral_value(ROUND_CEILING))
    return Bench(price=price, months=within, saving_each=cents(saving), discs_a_month=count)
