"""Which discs to take to the shop, when not to go yet, and when a machine of one's own pays."""

from __future__ import annotations

import itertools
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from discscan.money import ZERO
from discscan.worth import Fees, Find, Terms, plan_trip, weigh_bench

D = Decimal


def disc(line: int, *, adds: str, asked: str | None = None) -> Find:
    """A disc that does not play, and certainly does after a polish, which adds so much."""
    terms = Terms(
        sells=D(adds) + 1, sells_spoiled=D(1), chance=D(0), chance_polished=D(1), polish_fee=D(9),
        asked=None if asked is None else D(asked),
    )  # fmt: skip
    return Find(line, f"disc {line}", terms)


PILE = [disc(1, adds="3"), disc(2, adds="12"), disc(3, adds="5"), disc(4, adds="0")]


def test_discs_that_bring_more_than_their_fee_go_and_the_others_stay() -> None:
    trip = plan_trip(PILE, fees=Fees(D(4)), going=D(6))
    assert [pick.item for pick in trip.picks] == ["disc 2", "disc 3"]
    assert trip.left == ("disc 1", "disc 4")
    assert trip.gain == 12 + 5 - 2 * 4 - 6
    assert trip.more_needed == 0


def test_a_fee_that_falls_with_the_count_takes_more_discs_along() -> None:
    trip = plan_trip(PILE, fees=Fees(D(4), ((3, D(2)),)), going=D(6))
    assert (len(trip.picks), trip.fee_each, trip.gain) == (3, D(2), D(12 + 5 + 3 - 3 * 2 - 6))


def test_the_shops_limit_is_kept() -> None:
    assert [pick.item for pick in plan_trip(PILE, fees=Fees(D(1)), at_most=1).picks] == ["disc 2"]


def test_one_does_not_go_until_enough_discs_are_there() -> None:
    """Going costs 20; each disc as good as the best brings 12 - 4 = 8, and one brings 5 - 4 = 1: 9, 17, and then 25."""
    trip = plan_trip(PILE, fees=Fees(D(4)), going=D(20))
    assert trip.gain == -11
    assert [pick.item for pick in trip.picks] == ["disc 2", "disc 3"]
    assert trip.more_needed == 2
    more = [*PILE, disc(8, adds="12"), disc(9, adds="12")]
    assert plan_trip(more, fees=Fees(D(4)), going=D(20)).gain > 0
    assert plan_trip(more[:-1], fees=Fees(D(4)), going=D(20)).gain <= 0


def test_where_a_polish_costs_more_than_it_adds_no_number_of_discs_helps() -> None:
    assert plan_trip(PILE, fees=Fees(D(12))).more_needed is None
    assert plan_trip(PILE, fees=Fees(D(4)), going=D(20), at_most=2).more_needed is None
    nothing = plan_trip([disc(1, adds="0")], fees=Fees(ZERO))
    assert (nothing.picks, nothing.gain, nothing.more_needed) == ((), 0, None)


def test_what_was_paid_for_a_disc_and_its_own_fee_play_no_part() -> None:
    bought = [disc(find.line, adds=str(find.terms.sells - 1), asked="5") for find in PILE]
    assert plan_trip(bought, fees=Fees(D(4)), going=D(6)) == plan_trip(PILE, fees=Fees(D(4)), going=D(6))


def test_a_disc_without_a_chance_after_the_polish_stays() -> None:
    unknown = Find(1, "unknown", Terms(sells=D(50), chance=D("0.1")))
    cracked = Find(2, "cracked", Terms(sells=D(50), chance=D("0.1"), chance_polished=D(1), may_spin=False))
    assert plan_trip([unknown, cracked], fees=Fees(D(1))).picks == ()


@st.composite
def piles(draw: Any) -> list[Find]:
    return [disc(line, adds=f"{draw(st.integers(0, 2000)) / 100:.2f}") for line in range(draw(st.integers(0, 7)))]


@settings(max_examples=150, deadline=None)
@given(piles(), st.integers(0, 900), st.integers(0, 900), st.integers(2, 6), st.integers(0, 2000), st.integers(1, 8))
def test_no_other_trip_gains_more(finds: list[Find], fee: int, lower: int, start: int, going: int, most: int) -> None:
    """Exhaustive search over all sets of discs; the tiers may rise as well."""
    fees = Fees(D(fee) / 100, ((start, D(lower) / 100),))
    trip = plan_trip(finds, fees=fees, going=D(going) / 100, at_most=most)
    gains = [
        sum((find.terms.sells - 1 for find in taken), ZERO) - count * fees.of(count) - D(going) / 100
        for count in range(1, min(most, len(finds)) + 1)
        for taken in itertools.combinations(finds, count)
        if all(find.terms.sells > 1 for find in taken)
    ]
    assert trip.gain == max(gains, default=-D(going) / 100)


@pytest.mark.parametrize(("count", "fee"), [(1, 5), (9, 5), (10, 4), (29, 4), (30, 3), (99, 3)])
def test_the_fee_is_that_of_the_largest_count_reached(count: int, fee: int) -> None:
    assert Fees(D(5), ((30, D(3)), (10, D(4)))).of(count) == fee


def test_a_machine_pays_from_the_first_count_that_covers_its_price() -> None:
    """150 within 12 months at 4 - 0.50 - 10 minutes of 6 an hour, 2.50 a disc: 5 a month, for 4 save 120 only."""
    bench = weigh_bench(price=D(150), supplies=D("0.50"), minutes=D(10), hour=D(6), fee=D(4), months=12)
    assert (bench.saving_each, bench.discs_a_month) == (D("2.50"), 5)
    assert 5 * 12 * bench.saving_each >= 150 > 4 * 12 * bench.saving_each


def test_a_machine_that_saves_nothing_never_pays() -> None:
    assert weigh_bench(price=D(150), supplies=D(1), minutes=D(30), hour=D(6), fee=D(4)).discs_a_month is None
