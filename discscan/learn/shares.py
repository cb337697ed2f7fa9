"""Shares from few cases: Beta-Binomial."""

from __future__ import annotations

from math import exp, lgamma, log

from discscan.lessons import Share

TAILS = (0.05, 0.95)
"""The 90 % interval of every chance in a report."""
_STEPS = 60  # halvings of 0..1: the last bit of a double


def share(*, cases: int, happened: int, prior_yes: float, prior_no: float) -> Share:
    """What to expect of a share after `happened` of `cases`, a Beta(prior_yes, prior_no) before.

    References:
        Beta(a, b) and k of n give Beta(a + k, b + n - k): Gelman et al., Bayesian Data Analysis, 3rd ed., 2.4.
        (From memory.)
    """
    yes, no = prior_yes + happened, prior_no + cases - happened
    low, high = (beta_quantile(tail, yes=yes, no=no) for tail in TAILS)
    return Share(cases, happened, prior_yes, prior_no, yes / (yes + no), low, high)


def beta_quantile(level: float, *, yes: float, no: float) -> float:
    """The share below which lies `level` of a Beta(yes, no), by halving."""
    low, high = 0.0, 1.0
    for _ in range(_STEPS):
        middle = (low + high) / 2
        low, high = (middle, high) if beta_below(middle, yes=yes, no=no) < level else (low, middle)
    return (low + high) / 2


def beta_below(share: float, *, yes: float, no: float) -> float:
    """How much of a Beta(yes, no) lies below a share: the regularised incomplete beta function.

    References:
        The continued fraction of DLMF 8.17.22, by Lentz's method; 8.17.4 for the side on which it is slow.
    """
    if not 0 < share < 1:
        return float(share >= 1)
    above = share > (yes + 1) / (yes + no + 2)
    if above:  # turned over once only: at the border, rounding may call both sides the slow one
        share, yes, no = 1 - share, no, yes
    front = exp(lgamma(yes + no) - lgamma(yes) - lgamma(no) + yes * log(share) + no * log(1 - share)) / yes
    below = front / _fraction(share, yes, no)
    return 1 - below if above else below


def _fraction(x: float, a: float, b: float) -> float:
    """1 + d1/(1 + d2/(1 + ...)), with the coefficients of DLMF 8.17.23."""
    tiny = 1e-300
    value = upper = 1.0
    lower = 0.0
    for n in range(1, 10_000):
        m = n // 2
        if n % 2:
            step = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        else:
            step = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))
        lower = 1 / (1 + step * lower or tiny)
        upper = 1 + step / upper or tiny
        value *= upper * lower
        if abs(upper * lower - 1) < 1e-15:
            break
    return value
