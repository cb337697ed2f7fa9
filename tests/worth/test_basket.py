"""The choice for the money at hand, against exhaustive search and a general solver; the mixed box."""

from __future__ import annotations

import itertools
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import Bounds, LinearConstraint, milp

from discscan.deals import Basket
from discscan.money import cents
from discscan.worth import Find, Terms, choose_basket, judge_box
from discscan.worth.acts import expected_gain, open_acts

D = Decimal


def sure(line: int, *, cost: str, gain: str, days: int | None = None) -> Find:
    """A find that certainly brings `gain` more than its cost."""
    terms = Terms(sells=D(cost) + D(gain), chance=D(1), asked=D(cost), days=None if days is None else D(days))
    return Find(line, f"find {line}", terms)


@st.composite
def unsure_finds(draw: Any, *, most: int) -> list[Find]:
    """Finds with two or three acts each, at odd prices."""
    money = st.integers(0, 2000).map(lambda count: D(count) / 100)
    fees = st.integers(0, 700).map(lambda count: D(count) / 100)
    shares = st.integers(0, 20).map(lambda count: D(count) / 20)
    return [
        Find(
            line,
            f"find {line}",
            Terms(
                sells=draw(money) + 3, sells_spoiled=D(draw(st.integers(0, 3))), chance=draw(shares),
                polish_fee=draw(fees), chance_polished=draw(st.none() | shares), asked=draw(fees),
                days=draw(st.none() | st.integers(1, 60).map(D)),
            ),
        )
        for line in range(draw(st.integers(0, most)))
    ]  # fmt: skip


def choices(find: Find) -> list[tuple[int, int]]:
    """Cost and gain in cents of leaving it and of every act, worked out anew."""
    acts = [
        (round(100 * outcomes[0].put_in), int(100 * cents(expected_gain(outcomes))))
        for name, outcomes in open_acts(find.terms).items()
        if name != "leave"
    ]
    return [(0, 0), *acts]


def test_the_dearest_ratio_first_would_be_wrong() -> None:
    """Dantzig 1957; Kellerer et al. 2004 (from memory): budget 10; (6, 30), (5, 24), (5, 24): 48, by ratio only 30."""
    basket = choose_basket(
        [sure(1, cost="6", gain="30"), sure(2, cost="5", gain="24"), sure(3, cost="5", gain="24")], budget=D(10)
    )
    assert (basket.gain, basket.cost) == (D(48), D(10))
    assert [pick.line for pick in basket.picks] == [2, 3]
    assert basket.left == ("find 1",)


@settings(max_examples=150, deadline=None)
@given(unsure_finds(most=6), st.integers(0, 4000))
def test_no_choice_gains_more_than_the_one_chosen(finds: list[Find], budget: int) -> None:
    """Exhaustive search over every act for every find."""
    basket = choose_basket(finds, budget=D(budget) / 100)
    best = max(
        sum(gain for _, gain in plan)
        for plan in itertools.product(*map(choices, finds))
        if sum(cost for cost, _ in plan) <= budget
    )
    assert basket.gain * 100 == best
    check(basket, finds, budget)


@settings(max_examples=25, deadline=None)
@given(unsure_finds(most=20), st.integers(0, 6000))
def test_a_general_solver_finds_nothing_better(finds: list[Find], budget: int) -> None:
    """scipy.optimize.milp with no gap allowed: at most one act for each find, costs within the budget."""
    basket = choose_basket(finds, budget=D(budget) / 100)
    check(basket, finds, budget)
    owner, costs, gains = [], [], []
    for place, find in enumerate(finds):
        for cost, gain in choices(find)[1:]:
            owner.append(place)
            costs.append(cost)
            gains.append(gain)
    if not owner:
        assert basket.gain == 0
        return
    once = (np.arange(len(finds))[:, None] == np.array(owner)).astype(float)
    solved = milp(
        -np.array(gains, float),
        constraints=[LinearConstraint(np.array([costs], float), -np.inf, budget), LinearConstraint(once, -np.inf, 1)],
        integrality=np.ones(len(owner)), bounds=Bounds(0, 1), options={"mip_rel_gap": 0},
    )  # fmt: skip
    assert basket.gain * 100 == round(-solved.fun)


def check(basket: Basket, finds: list[Find], budget: int) -> None:
    """It adds up, keeps within the budget, and takes or leaves every find once."""
    assert basket.cost * 100 <= budget
    assert basket.cost == sum((pick.cost for pick in basket.picks), D(0))
    assert basket.gain == sum((pick.gain for pick in basket.picks), D(0))
    assert len({pick.line for pick in basket.picks}) == len(basket.picks)
    assert sorted([pick.item for pick in basket.picks] + list(basket.left)) == sorted(find.item for find in finds)


@given(unsure_finds(most=6), st.integers(0, 4000), st.integers(0, 1000))
def test_more_cash_never_gains_less(finds: list[Find], budget: int, more: int) -> None:
    assert choose_basket(finds, budget=D(budget)).gain <= choose_basket(finds, budget=D(budget + more)).gain


def test_of_equal_gains_the_one_that_sells_sooner_is_taken() -> None:
    slow, fast = sure(1, cost="5", gain="9", days=30), sure(2, cost="5", gain="9", days=3)
    unknown = sure(3, cost="5", gain="9")
    for order in itertools.permutations([slow, fast, unknown]):
        assert [pick.line for pick in choose_basket(list(order), budget=D(5)).picks] == [2]
        assert {pick.line for pick in choose_basket(list(order), budget=D(10)).picks} == {1, 2}


def test_a_find_worth_less_than_its_price_is_left_even_with_money_to_spare() -> None:
    loss = Find(1, "dead", Terms(sells=D(10), chance=D("0.1"), asked=D(4)))
    assert choose_basket([loss], budget=D(100)).picks == ()


def test_one_find_is_not_taken_twice_for_two_acts() -> None:
    terms = Terms(sells=D(30), chance=D("0.5"), chance_polished=D("0.9"), polish_fee=D(4), asked=D(2))
    both = choose_basket([Find(1, "scratched", terms)], budget=D(100))
    assert [(pick.act, pick.cost, pick.gain) for pick in both.picks] == [("polish-then-sell", D(6), D("21.00"))]
    short = choose_basket([Find(1, "scratched", terms)], budget=D(5))
    assert [(pick.act, pick.cost) for pick in short.picks] == [("sell-as-it-is", D(2))]


def test_a_stall_of_a_hundred_finds_is_chosen_from_in_a_moment() -> None:
    """In this project's own quarters of a unit, for which the plans stay few."""
    finds = [sure(n, cost=f"{1 + n % 17 / 4}", gain=f"{1 + n * 37 % 101 / 7:.2f}", days=n % 40) for n in range(100)]
    assert choose_basket(finds, budget=D(60)).gain > 100


# -- the mixed box ----------------------------------------------------------------------------------------------------

BOX = [
    Find(2, "best", Terms(sells=D(12), chance=D(1))),
    Find(3, "good", Terms(sells=D(10), chance=D("0.5"))),
    Find(4, "dead", Terms(sells=D(10), chance=D(0))),
]


def test_a_box_is_worth_what_its_discs_bring_less_its_price() -> None:
    box = judge_box(BOX, price=D(11))
    assert (box.gain, box.most_to_pay) == (D("6.00"), D("5.67"))
    assert [pick.item for pick in box.carriers] == ["best"]
    assert (box.rest, box.without_best) == (2, D("-6.00"))


def test_prices_of_single_discs_play_no_part_in_a_box() -> None:
    priced = [replace(find, terms=replace(find.terms, asked=D(7))) for find in BOX]
    assert judge_box(priced, price=D(11)) == judge_box(BOX, price=D(11))


@pytest.mark.parametrize(("price", "carriers"), [("0", []), ("12", ["best"]), ("12.01", ["best", "good"])])
def test_the_fewest_discs_that_bring_the_price_back_carry_it(price: str, carriers: list[str]) -> None:
    assert [pick.item for pick in judge_box(BOX, price=D(price)).carriers] == carriers


def test_an_empty_or_too_dear_box_is_a_loss_that_nothing_carries() -> None:
    assert judge_box([], price=D(5)).gain == -5
    assert (judge_box(BOX, price=D(18)).gain, judge_box(BOX, price=D(18)).carriers) == (-1, ())
