"""What items sell for: middle, spread, how sure, how old."""

from __future__ import annotations

import random
from datetime import date, timedelta
from decimal import Decimal
from statistics import median

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from discscan.calibration import limit
from discscan.deals import Completeness, Observation, ObservedPrice, PriceBook, Status
from discscan.worth import observed_prices
from discscan.worth.observed import median_interval, weighted_quantile

TODAY = date(2026, 11, 25)
D = Decimal
prices = st.lists(st.integers(1, 10_000).map(lambda count: D(count) / 100), min_size=1, max_size=40)


def seen(
    price: str | Decimal, *, days_ago: int = 10, status: Status = "sold", state: Completeness = "complete"
) -> Observation:
    return Observation(2, "Film", D(price), TODAY - timedelta(days=days_ago), status, state, None)


def priced(*observations: Observation) -> dict[str, ObservedPrice]:
    found = observed_prices(PriceBook("EUR", observations, ()), today=TODAY)
    return {one.completeness: one for one in found}


@given(prices)
def test_sales_of_one_day_have_the_usual_median_and_quartiles(values: list[Decimal]) -> None:
    """Python's statistics.median; numpy's averaged_inverted_cdf, which is definition 2 of Hyndman and Fan 1996."""
    values.sort()
    weights = [0.7] * len(values)
    assert abs(weighted_quantile(values, weights, share=0.5) - median(values)) <= D("0.005")
    for share in (0.25, 0.75):
        usual = np.quantile([float(value) for value in values], share, method="averaged_inverted_cdf")
        assert float(weighted_quantile(values, weights, share=share)) == pytest.approx(usual, abs=0.0051)


@given(prices)
def test_the_price_lies_within_its_interval_and_its_quarters(values: list[Decimal]) -> None:
    one = priced(*(seen(value, days_ago=17 * place % 700) for place, value in enumerate(values)))["complete"]
    assert one.price is not None and min(values) <= one.price <= max(values)
    if one.low is not None and one.high is not None and one.quarter is not None and one.three_quarters is not None:
        assert one.low <= one.price <= one.high
        assert one.quarter <= one.price <= one.three_quarters


def test_one_mad_price_moves_the_middle_little() -> None:
    calm = [seen(price) for price in ("10", "11", "12", "12", "13", "14")]
    assert priced(*calm)["complete"].price == D("12.00")
    assert priced(*calm, seen("9999"))["complete"].price == D("12.00")


@pytest.mark.parametrize("count", range(60))
def test_the_interval_holds_the_median_nine_times_in_ten_and_is_the_narrowest_that_does(count: int) -> None:
    """Order statistics k + 1 and n - k miss the median with 2 P(Binomial(n, 1/2) <= k): scipy.stats.binom."""
    found = median_interval(count)
    misses = [2 * stats.binom.cdf(k, count, 0.5) for k in range(count // 2)]
    fitting = [k for k, miss in enumerate(misses) if miss <= 0.1]
    if found is None:
        assert not fitting
    else:
        assert found[0] * count - 0.5 == pytest.approx(max(fitting))
        assert found[1] == pytest.approx(1 - found[0])


def test_fewer_than_five_sales_give_no_interval_and_five_do() -> None:
    """1 - 2 / 2**4 = 0.875 is less than nine in ten; 1 - 2 / 2**5 = 0.9375 is enough."""
    sales = [seen(price) for price in ("10", "11", "12", "13", "14")]
    assert (priced(*sales[:4])["complete"].low, priced(*sales[:4])["complete"].quarter) == (None, None)
    five = priced(*sales)["complete"]
    assert (five.low, five.price, five.high) == (D(10), D(12), D(14))


def test_the_interval_holds_the_true_median_as_often_as_it_says() -> None:
    draw = random.Random(7)
    held = 0
    for _ in range(400):
        sales = [seen(D(draw.randint(1, 1999)) / 100) for _ in range(8)]
        one = priced(*sales)["complete"]
        held += bool(one.low is not None and one.high is not None and one.low <= 10 <= one.high)
    assert held / 400 > 0.9 - 2 * (0.9 * 0.1 / 400) ** 0.5


def test_recent_sales_count_for_more() -> None:
    old = [seen("20", days_ago=700) for _ in range(5)]
    new = [seen("10", days_ago=5) for _ in range(2)]
    assert priced(*old, *new)["complete"].price == D(10)
    assert priced(*old, *new)["complete"].low is None, "seven sales, but hardly more recent than two"


def test_a_sale_of_one_half_life_ago_weighs_half() -> None:
    half_life = int(limit("price_half_life_days").value)
    two = [seen("10", days_ago=half_life), seen("10", days_ago=half_life)]
    assert priced(*two, seen("20", days_ago=0))["complete"].price == D(15)


def test_asking_prices_are_counted_apart_and_move_nothing() -> None:
    sold = [seen("10"), seen("12")]
    asking = [seen("90", status="asking"), seen("94", status="asking")]
    with_them, without = priced(*sold, *asking)["complete"], priced(*sold)["complete"]
    assert (with_them.price, with_them.sold) == (without.price, without.sold)
    assert (with_them.asking, with_them.asking_middle) == (2, D("92.00"))


def test_an_item_that_is_only_asked_for_has_no_price() -> None:
    one = priced(seen("90", status="asking"))["complete"]
    assert (one.price, one.low, one.high, one.sold, one.newest) == (None, None, None, 0, None)


def test_a_price_is_stale_once_the_last_sale_is_too_long_ago() -> None:
    days = int(limit("price_stale_days").value)
    assert not priced(seen("10", days_ago=days), seen("10", days_ago=3 * days))["complete"].stale
    assert priced(seen("10", days_ago=days + 1))["complete"].stale


def test_a_disc_alone_that_nobody_saw_sold_brings_half_and_is_marked() -> None:
    """Common practice, no source: an item that misses its case and manual brings half or less."""
    found = priced(seen("10"), seen("12"), seen("9", status="asking", state="disc"))
    assert (found["disc"].price, found["disc"].from_complete, found["disc"].asking) == (D("5.50"), True, 1)
    assert not found["complete"].from_complete
    assert "case" not in found, "for the case alone there is no rule, so there is no price"


def test_a_disc_alone_that_was_sold_is_priced_by_its_own_sales() -> None:
    found = priced(seen("10"), seen("8", state="disc"))
    assert (found["disc"].price, found["disc"].from_complete) == (D(8), False)


def test_what_was_not_stated_is_mixed_with_nothing() -> None:
    found = priced(seen("10"), seen("2", state="unstated"))
    assert (found["complete"].price, found["unstated"].price) == (D(10), D(2))
    assert set(priced(seen("2", state="unstated"))) == {"unstated"}


def test_one_item_in_two_spellings_is_one_item() -> None:
    two = Observation(3, "the  LAST ferry", D(4), TODAY, "sold", "complete", None)
    one = Observation(2, "The Last Ferry", D(2), TODAY, "sold", "complete", None)
    book = PriceBook("EUR", (one, two), ())
    assert [price.sold for price in observed_prices(book, today=TODAY) if not price.from_complete] == [2]
    assert observed_prices(book, today=TODAY, item="the last FERRY")[0].price == D(3)
    assert observed_prices(book, today=TODAY, item="another") == []
