"""Shares from few cases, against worked examples and SciPy."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as some
from scipy import stats

from discscan.learn.shares import beta_below, beta_quantile, share

WEIGHTS = some.floats(0.2, 500)


def test_8_of_10_after_7_of_10_make_three_in_four() -> None:
    """Gelman et al., Bayesian Data Analysis (from memory): Beta(7, 3) and 8 of 10 give Beta(15, 5), mean 0.75.

    Its 90 % interval, 0.5809 to 0.8901, is SciPy's.
    """
    found = share(cases=10, happened=8, prior_yes=7, prior_no=3)
    assert found.mean == 0.75
    assert [found.low, found.high] == pytest.approx([0.5809, 0.8901], abs=5e-5)


@given(x=some.floats(0, 1), yes=WEIGHTS, no=WEIGHTS)
def test_the_beta_distribution_is_that_of_scipy(x: float, yes: float, no: float) -> None:
    assert beta_below(x, yes=yes, no=no) == pytest.approx(stats.beta.cdf(x, yes, no), abs=1e-9)


@given(level=some.floats(0.01, 0.99), yes=WEIGHTS, no=WEIGHTS)
def test_a_quantile_has_its_level_below_it(level: float, yes: float, no: float) -> None:
    assert beta_quantile(level, yes=yes, no=no) == pytest.approx(stats.beta.ppf(level, yes, no), abs=1e-7)


@given(cases=some.integers(0, 300), part=some.floats(0, 1), yes=WEIGHTS, no=WEIGHTS)
def test_a_placelies_between_what_was_thought_and_what_was_counted(
    cases: int, part: float, yes: float, no: float
) -> None:
    happened = round(part * cases)
    found = share(cases=cases, happened=happened, prior_yes=yes, prior_no=no)
    ends = sorted([yes / (yes + no), happened / cases if cases else yes / (yes + no)])
    assert ends[0] - 1e-12 <= found.mean <= ends[1] + 1e-12
    assert 0 <= found.low <= found.high <= 1


@pytest.mark.parametrize(
    ("place", "yes", "no"),
    [
        (0.054894823073607824, 13.291908847713481, 245.05885006719603),
        (0.47323381392152764, 0.765386273134992, 0.9650873768897946),
    ],
)  # by rounding both sides of these look like the slow one
def test_at_the_border_of_the_two_sides_rounding_does_no_harm(place: float, yes: float, no: float) -> None:
    assert beta_below(place, yes=yes, no=no) == pytest.approx(stats.beta.cdf(place, yes, no), abs=1e-9)


def test_without_a_case_the_prior_stands_and_more_cases_narrow_it() -> None:
    assert share(cases=0, happened=0, prior_yes=7, prior_no=3).mean == 0.7
    widths = [
        found.high - found.low
        for n in (0, 10, 100, 1000)
        for found in [share(cases=n, happened=7 * n // 10, prior_yes=7, prior_no=3)]
    ]
    assert widths == sorted(widths, reverse=True)
