"""Limits and conservation: what must hold whatever the prices are."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from discscan.calibration import limit
from discscan.deals import Advice
from discscan.errors import BadTerms
from discscan.money import ZERO
from discscan.worth import Terms, advise
from discscan.worth.acts import expected_gain, open_acts
from discscan.worth.advise import _Test

D = Decimal
CENT = D("0.01")
amounts = st.integers(0, 10_000).map(lambda count: D(count) / 100)
shares = st.integers(0, 100).map(lambda count: D(count) / 100)


@st.composite
def terms(draw: Any) -> Terms:
    spoiled, more = draw(amounts), draw(amounts)
    return Terms(
        sells=spoiled + more,
        sells_spoiled=spoiled,
        chance=draw(shares),
        polish_fee=draw(amounts),
        chance_polished=draw(st.none() | shares),
        selling_rate=draw(shares),
        selling_fixed=draw(amounts),
        postage=draw(amounts),
        return_cost=draw(amounts),
        days=draw(st.none() | st.integers(0, 400).map(D)),
        asked=draw(st.none() | amounts),
        may_spin=draw(st.booleans()),
    )


def gain(advice: Advice, name: str) -> Decimal:
    return next(act.gain for act in advice.acts if act.name == name)


@given(terms())
def test_the_chances_of_every_act_add_up_to_one(one: Terms) -> None:
    for outcomes in [*open_acts(one).values(), _Test(one, D("0.9"), D("0.8")).outcomes]:
        assert sum(outcome.chance for outcome in outcomes) == pytest.approx(1, abs=D("1e-20"))
        assert all(0 <= outcome.chance <= 1 for outcome in outcomes)


@given(terms())
def test_leaving_costs_nothing_so_the_best_act_never_loses(one: Terms) -> None:
    advice = advise(one)
    assert gain(advice, "leave") == 0
    assert advice.best.gain >= 0
    assert advice.best.gain == max(act.gain for act in advice.acts)


@given(terms(), shares, shares)
def test_a_test_is_never_worth_less_than_nothing_nor_more_than_a_perfect_one(
    one: Terms, sensitivity: Decimal, specificity: Decimal
) -> None:
    imperfect = advise(one, sensitivity=sensitivity, specificity=specificity).value_of_test
    perfect = advise(one, sensitivity=D(1), specificity=D(1)).value_of_test
    assert -CENT <= imperfect <= perfect + CENT


@given(terms(), st.sampled_from([D(0), D(1)]))
def test_what_is_certain_needs_no_test(one: Terms, chance: Decimal) -> None:
    assert advise(replace(one, chance=chance)).value_of_test == 0


@given(terms())
def test_a_test_that_tells_nothing_is_worth_nothing(one: Terms) -> None:
    assert abs(advise(one, sensitivity=D("0.5"), specificity=D("0.5")).value_of_test) <= CENT


@given(terms())
def test_gains_lie_within_their_interval_and_chances_within_0_and_1(one: Terms) -> None:
    for act in advise(one).acts:
        assert act.low <= act.gain <= act.high
        assert 0 <= act.loss_chance <= 1


@given(amounts, shares)
def test_without_costs_a_sale_brings_its_price_times_its_chance(sells: Decimal, chance: Decimal) -> None:
    advice = advise(Terms(sells=sells, chance=chance))
    assert gain(advice, "sell-as-it-is") == pytest.approx(sells * chance, abs=D("0.005"))
    assert gain(advise(Terms(sells=sells, chance=D(1))), "sell-as-it-is") == sells
    assert gain(advise(Terms(sells=sells, chance=D(0))), "sell-as-it-is") == 0


@given(terms(), amounts)
def test_dearer_sales_never_lower_the_most_to_pay_nor_any_gain(one: Terms, more: Decimal) -> None:
    cheap, dear = advise(one, multiple=D(3)), advise(replace(one, sells=one.sells + more), multiple=D(3))
    assert dear.most_to_pay >= cheap.most_to_pay
    assert all(gain(dear, act.name) >= act.gain for act in cheap.acts)


@given(terms(), shares)
def test_a_better_chance_never_lowers_the_most_to_pay(one: Terms, chance: Decimal) -> None:
    low, high = sorted((one.chance, chance))
    calm = replace(one, chance_polished=None)
    assert advise(replace(calm, chance=low)).most_to_pay <= advise(replace(calm, chance=high)).most_to_pay


@given(terms(), amounts)
def test_the_price_asked_comes_off_every_act_but_leaving(one: Terms, asked: Decimal) -> None:
    free, paid = advise(replace(one, asked=None)), advise(replace(one, asked=asked))
    for act in free.acts:
        if act.name in ("sell-as-it-is", "sell-for-spares", "polish-then-sell"):
            assert abs(gain(paid, act.name) - (act.gain - asked)) <= CENT  # a half cent is rounded away from zero
    assert paid.most_to_pay == free.most_to_pay


@given(terms())
def test_at_the_most_to_pay_the_money_comes_back_as_often_as_wanted(one: Terms) -> None:
    advice = advise(one, multiple=D(3))
    if advice.most_to_pay >= 1:
        paid = advise(replace(one, asked=advice.most_to_pay))
        act = next(act for act in paid.acts if act.name == advice.pays_by)
        assert act.return_per_unit == pytest.approx(D(3), abs=D("0.05"))


@settings(max_examples=50)
@given(terms())
def test_at_the_break_even_chance_polishing_equals_the_best_other_act(one: Terms) -> None:
    chance = advise(replace(one, may_spin=True)).polish_break_even_chance
    if chance is not None and chance > 0:
        acts = open_acts(replace(one, may_spin=True, chance_polished=chance))
        polished = expected_gain(acts.pop("polish-then-sell"))
        assert polished == pytest.approx(max(map(expected_gain, acts.values())), abs=D("1e-15"))


@given(terms())
def test_a_cracked_disc_is_neither_tested_nor_polished(one: Terms) -> None:
    advice = advise(replace(one, may_spin=False))
    assert not {"test-first", "polish-then-sell"} & {act.name for act in advice.acts}
    assert (advice.tested, advice.polish_break_even_chance, advice.value_of_test) == (None, None, 0)


def test_a_sale_that_fails_is_a_loss_of_price_and_return_cost() -> None:
    advice = advise(Terms(sells=D(20), chance=D("0.9"), asked=D(5), return_cost=D(6)))
    act = next(act for act in advice.acts if act.name == "sell-as-it-is")
    assert (act.gain, act.low, act.high, act.loss_chance) == (D("12.40"), D("-11.00"), D("15.00"), D("0.1"))


def test_what_happens_once_in_twenty_or_less_is_outside_nine_times_in_ten() -> None:
    likely = advise(Terms(sells=D(20), chance=D("0.96"), asked=D(5)))
    act = next(act for act in likely.acts if act.name == "sell-as-it-is")
    assert (act.low, act.high) == (act.gain, D("15.00"))


def test_a_polish_takes_the_days_of_the_house_on_top() -> None:
    advice = advise(Terms(sells=D(20), chance=D("0.2"), chance_polished=D("0.9"), polish_fee=D(4), days=D(13)))
    days = {act.name: act.days for act in advice.acts}
    assert days["sell-as-it-is"] == 13
    assert days["polish-then-sell"] == 13 + D(str(limit("polish_days").value))
    polish = next(act for act in advice.acts if act.name == "polish-then-sell")
    assert polish.gain_per_day == D("0.70")  # 14 in 20 days


def test_a_dear_disc_that_sells_fast_may_bring_back_less_often_unless_the_multiple_is_told() -> None:
    dear = Terms(sells=D(80), chance=D(1), days=D(3))
    assert (advise(dear).most_to_pay, advise(dear).multiple_lowered) == (D("40.00"), True)
    assert advise(dear, multiple=D(3)).most_to_pay == D("26.67")
    for calm in (replace(dear, days=None), replace(dear, days=D(60)), replace(dear, sells=D(30))):
        assert (advise(calm).multiple, advise(calm).multiple_lowered) == (3, False)


def test_a_polish_that_brings_less_than_the_multiple_does_not_lower_the_most_to_pay() -> None:
    """Best is the polish (13.80 - 4), yet by the spares 3.00 / 3 may be paid, and by the polish 13.80 / 3 - 4 only."""
    advice = advise(
        Terms(sells=D(15), sells_spoiled=D(3), chance=D(0), polish_fee=D(4), chance_polished=D("0.9")), multiple=D(3)
    )
    assert (advice.best.name, advice.best.gain) == ("polish-then-sell", D("9.80"))
    assert (advice.most_to_pay, advice.pays_by) == (D("1.00"), "sell-for-spares")
    assert advice.most_to_pay_by_best == D("0.60")


def test_equals_go_to_the_act_with_less_trouble() -> None:
    advice = advise(Terms(sells=D(15), sells_spoiled=D(3), chance=D(0)))
    assert [act.name for act in advice.acts] == ["sell-for-spares", "sell-as-it-is", "test-first", "leave"]


def test_a_disc_that_failed_is_polished_with_the_chance_that_is_left_to_it() -> None:
    """Of 100 discs 40 play as they are and 85 after a polish: it mends 45 of the 60 that do not, three in four."""
    terms = Terms(sells=D(20), chance=D("0.4"), chance_polished=D("0.85"), polish_fee=D(4))
    test = _Test(terms, D(1), D(1))
    assert (test.after_fail.chance, test.after_fail.chance_polished) == (0, D("0.75"))
    assert (test.after_pass.chance, test.after_pass.chance_polished) == (1, 1)
    assert gain(advise(terms), "test-first") == D("0.4") * 20 + D("0.6") * (D("0.75") * 20 - 4)


def test_swapped_prices_are_refused() -> None:
    with pytest.raises(BadTerms, match="swapped"):
        Terms(sells=D(3), sells_spoiled=D(15), chance=ZERO)


def test_parts_of_a_cent_are_refused() -> None:
    with pytest.raises(BadTerms, match="parts of a cent"):
        Terms(sells=D("3.005"), chance=ZERO)
