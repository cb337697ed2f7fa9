"""The traders' figures: margin, markup, growth, stake."""

from __future__ import annotations

from decimal import Decimal

from discscan.deals import Ratios
from discscan.money import ONE, ZERO
from discscan.worth.acts import Outcomes, expected_gain

DAYS_OF_YEAR = 365


def margin(*, cost: Decimal, back: Decimal) -> Decimal:
    """Gain as a share of what comes back (Levy and Weitz, Retailing Management; from memory)."""
    return (back - cost) / back


def markup(*, cost: Decimal, back: Decimal) -> Decimal:
    """Gain as a share of the cost (Levy and Weitz, as above)."""
    return (back - cost) / cost


def growth_per_day(*, multiple: Decimal, days: Decimal) -> Decimal:
    """ln(M) / d: the steady daily growth that turns 1 into M in d days."""
    return multiple.ln() / days


def yearly(*, gain_share: Decimal, days: Decimal) -> Decimal:
    """(1 + R)^(365 / d) - 1: the gain of a year in which the money is put in again each time."""
    return (growth_per_day(multiple=ONE + gain_share, days=days) * DAYS_OF_YEAR).exp() - ONE


def kelly_stake(*, chance: Decimal, win: Decimal, lose: Decimal = ONE) -> Decimal:
    """The share of one's cash to bet at which it grows fastest, 0..1.

    Args:
        chance: of winning `win` for each unit bet; else `lose` of each unit is lost.
    References:
        Kelly 1956, Bell Syst. Tech. J. 35 (from memory), where all is lost: f = (b p - q) / b. With a part lost,
        the growth p ln(1 + f b) + q ln(1 - f a) is highest at f = p / a - q / b.
    """
    return min(ONE, max(ZERO, chance / lose - (ONE - chance) / win))


def ratios_of(outcomes: Outcomes, *, days: Decimal | None) -> Ratios:
    """Those of an act; each None where the act puts nothing in, brings nothing back, or is no bet."""
    cost = sum((one.chance * one.put_in for one in outcomes), ZERO)
    back = expected_gain(outcomes) + cost
    paid = cost > 0
    return Ratios(
        margin=margin(cost=cost, back=back) if paid and back > 0 else None,
        markup=markup(cost=cost, back=back) if paid else None,
        yearly=yearly(gain_share=markup(cost=cost, back=back), days=days) if paid and days and back > 0 else None,
        stake=_stake(outcomes, cost),
    )


def _stake(outcomes: Outcomes, cost: Decimal) -> Decimal | None:
    won = [one for one in outcomes if one.gain > 0]
    lost = [one for one in outcomes if one.gain < 0]
    if len(won) != 1 or len(lost) != 1 or len(outcomes) != 2 or cost <= 0:
        return None
    return kelly_stake(chance=won[0].chance, win=won[0].gain / cost, lose=-lost[0].gain / cost)
