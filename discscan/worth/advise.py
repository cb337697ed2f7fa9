"""The best act for one disc, the most to pay for it, and what it is worth to know more first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from discscan.deals import ActName, Advice, Forecast, Tested
from discscan.errors import BadTerms
from discscan.money import ONE, ZERO, cents
from discscan.worth.acts import (
    UNTESTED,
    Outcomes,
    Terms,
    best_untested,
    expected_gain,
    house,
    most_to_pay,
    open_acts,
    summarised,
)
from discscan.worth.ratios import ratios_of

TROUBLE: tuple[ActName, ...] = (*UNTESTED, "test-first")
"""Of acts with equal gain the first is best; a test that changes nothing is not worth making."""

PEARSON_TUKEY = Decimal("0.185"), Decimal("0.63"), Decimal("0.185")
"""Weights of the 5 %, 50 % and 95 % points that stand for a distribution: the extended Pearson-Tukey approximation.

Keefer and Bodily 1983, Management Science 29 (from memory).
"""


def advise(
    terms: Terms,
    *,
    multiple: Decimal | None = None,
    interval: tuple[Decimal, Decimal] | None = None,
    sensitivity: Decimal | None = None,
    specificity: Decimal | None = None,
) -> Advice:
    """Compare all that may be done with one disc.

    Args:
        multiple: how often the money put in should come back; None for the house's, which is lower for a dear disc
            that sells fast.
        interval: 90 % interval of `terms.chance`, where it is a forecast.
        sensitivity, specificity: that the play test passes a disc that plays, and fails one that does not; None for
            the house's.
    """
    lowered = multiple is None and _dear_and_fast(terms)
    if multiple is None:
        multiple = house("dear_fast_multiple" if lowered else "return_multiple")
    untested = open_acts(terms)
    payable = {name: most_to_pay(outcomes, multiple=multiple) for name, outcomes in untested.items()}
    acts = [summarised(name, outcomes) for name, outcomes in untested.items()]
    tested, value_of_test = None, ZERO
    if terms.may_spin:
        test = _Test(terms, sensitivity, specificity)
        acts.append(summarised("test-first", test.outcomes))
        value_of_test = expected_gain(test.outcomes) - expected_gain(best_untested(terms)[1])
        passed = best_untested(test.after_pass)[1]
        tested = Tested(test.pass_act, test.fail_act, cents(most_to_pay(passed, multiple=multiple)))
    acts.sort(key=lambda act: (-act.gain, TROUBLE.index(act.name)))
    best = next(act for act in acts if act.name != "test-first")
    return Advice(
        acts=tuple(acts),
        asked=terms.asked,
        tested=tested,
        most_to_pay=cents(max(payable.values())),
        pays_by=max(payable, key=lambda name: payable[name]),
        most_to_pay_by_best=cents(payable[best.name]),
        polish_fee=terms.polish_fee if terms.may_spin and (terms.polish_fee or terms.chance_polished) else None,
        multiple=multiple,
        multiple_lowered=lowered,
        polish_break_even_chance=polish_break_even_chance(terms),
        value_of_test=cents(value_of_test),
        value_of_photo=None if interval is None else cents(value_of_photo(terms, interval=interval)),
        at_low=None if interval is None else best_untested(replace(terms, chance=interval[0]))[0],
        at_high=None if interval is None else best_untested(replace(terms, chance=interval[1]))[0],
        ratios=ratios_of(untested[best.name], days=best.days),
    )


def advise_on_scan(
    given: Mapping[str, Decimal],
    forecast: Forecast | None,
    *,
    multiple: Decimal | None = None,
    sensitivity: Decimal | None = None,
    specificity: Decimal | None = None,
) -> Advice:
    """`advise`, with the chances of a scan where the person gives none.

    Args:
        given: of the fields of `Terms`, those that the person told.
    Raises:
        BadTerms: neither says how likely it plays.
    """
    told: dict[str, Any] = dict(given)
    interval = None
    if forecast is not None:
        interval = None if "chance" in told else (forecast.low, forecast.high)
        told = {"chance": forecast.chance, "chance_polished": forecast.chance_polished, **told}
        told["may_spin"] = forecast.may_spin
    if "chance" not in told:
        raise BadTerms("Nothing says how likely it plays.", remedy="Say so, or scan a photo of its data side.")
    return advise(Terms(**told), multiple=multiple, interval=interval, sensitivity=sensitivity, specificity=specificity)


def polish_break_even_chance(terms: Terms) -> Decimal | None:
    """The chance of playing after the polish at which polishing equals the best other act without a test.

    None where no chance would do, where the disc must not be polished, or where playing makes no difference.

    References:
        Pauker and Kassirer 1980: p* = cost / (cost + benefit). With what a failed polish leaves:
        p* = (fee + best other - fails) / (plays - fails).
    """
    worth_more = terms.plays - terms.fails
    if not terms.may_spin or worth_more <= 0:
        return None
    other = expected_gain(best_untested(replace(terms, chance_polished=None))[1])
    chance = (terms.price + terms.polish_fee + other - terms.fails) / worth_more
    return max(ZERO, chance) if chance <= ONE else None


def value_of_photo(terms: Terms, *, interval: tuple[Decimal, Decimal]) -> Decimal:
    """What it is worth, at most, to know the chance itself: the expected value of that partial information.

    A better photograph can do no more than narrow the interval to a point. The chance after a polish is taken as known.

    References:
        Howard 1966 (from memory); the interval's three points weighed as `PEARSON_TUKEY`.
    """
    points = [replace(terms, chance=chance) for chance in (interval[0], terms.chance, interval[1])]
    weighed = list(zip(PEARSON_TUKEY, points, strict=True))
    informed = sum((weight * expected_gain(best_untested(one)[1]) for weight, one in weighed), ZERO)
    mean = sum((weight * one.chance for weight, one in weighed), ZERO)
    return informed - expected_gain(best_untested(replace(terms, chance=mean))[1])


class _Test:
    """A play test before anything is decided: chances after each answer by Bayes, then the best act.

    A polish is taken never to spoil a disc that plays while it raises the chance over all discs, and never to mend one
    while it lowers it: the two forecasts tell no more about the same disc before and after.

    References:
        Raiffa and Schlaifer 1961; Clemen, Making Hard Decisions (both from memory).
    """

    def __init__(self, terms: Terms, sensitivity: Decimal | None, specificity: Decimal | None) -> None:
        right = house("play_test_sensitivity") if sensitivity is None else sensitivity
        wrong = ONE - (house("play_test_specificity") if specificity is None else specificity)
        plays = terms.chance
        passes = plays * right + (ONE - plays) * wrong
        self.after_pass = _given(terms, plays * right / passes if passes else plays)
        self.after_fail = _given(terms, plays * (ONE - right) / (ONE - passes) if passes < ONE else plays)
        self.pass_act, passed = best_untested(self.after_pass)
        self.fail_act, failed = best_untested(self.after_fail)
        self.outcomes: Outcomes = tuple(
            replace(one, chance=share * one.chance)
            for share, outcomes in ((passes, passed), (ONE - passes, failed))
            for one in outcomes
            if share * one.chance > 0
        )


def _given(terms: Terms, chance: Decimal) -> Terms:
    """The terms after a test has moved the chance that it plays, and with it the chance after a polish."""
    before, after = terms.chance, terms.chance_polished
    if after is None:
        return replace(terms, chance=chance)
    keeps = min(ONE, after / before) if before > 0 else ONE
    mends = max(ZERO, after - before) / (ONE - before) if before < ONE else ZERO
    return replace(terms, chance=chance, chance_polished=chance * keeps + (ONE - chance) * mends)


def _dear_and_fast(terms: Terms) -> bool:
    fast = terms.days is not None and terms.days <= house("fast_within")
    return fast and terms.plays >= house("dear_from")
