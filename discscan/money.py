"""Amounts of money, and how people write them. They are exact decimals; no float is ever one.

A chance is a `Decimal` of 0..1, so that sums of money with it stay exact until they are rounded to the cent.
"""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal

CENT = Decimal("0.01")
ZERO, ONE = Decimal(0), Decimal(1)
MOST = Decimal(10**9)

_PLAIN = re.compile(r"(?:\d+(?:[.,]\d{1,2})?|[.,]\d{1,2})")
_GROUPED = re.compile(r"[1-9]\d{0,2}([ '.,])\d{3}(?:\1\d{3})*(?:(?!\1)[.,]\d{1,2})?")
_EITHER = re.compile(r"\d+[.,]\d{3}")
_SHARE = re.compile(r"(\d+(?:[.,]\d+)?|[.,]\d+)\s*(%?)")


def parse_money(text: str) -> Decimal:
    """An amount as people write it: 4, 4.5, 4,50, 1,234.50, 1.234,50, 1 234.

    Raises:
        ValueError: it is none, is negative, has parts of a cent, may be two amounts (1.234), or is beyond sense.
    """
    said = text.strip().replace("\u00a0", " ").replace("\u202f", " ")
    if _EITHER.fullmatch(said):
        raise ValueError(f"{text!r} may be thousands or parts of a cent: write it without the mark, or with cents.")
    if grouped := _GROUPED.fullmatch(said):
        said = said.replace(grouped[1], "")
    if not _PLAIN.fullmatch(said):
        raise ValueError(f"{text!r} is no amount of money, such as 4.50.")
    amount = Decimal(said.replace(",", "."))
    if amount >= MOST:
        raise ValueError(f"{text!r} is more money than can be meant.")
    return amount


def parse_share(text: str) -> Decimal:
    """A chance or a rate: 0.8, 0,8 or 80%.

    Raises:
        ValueError: it is none, or outside 0..1.
    """
    found = _SHARE.fullmatch(text.strip())
    if found is None:
        raise ValueError(f"{text!r} is no share, such as 0.8 or 80%.")
    share = Decimal(found[1].replace(",", ".")) / (100 if found[2] else 1)
    if share > 1:
        raise ValueError(f"{text!r} is more than the whole: write 0.8 or 80%.")
    return share


def parse_tier(text: str) -> tuple[int, Decimal]:
    """From how many on, and what each then costs: 10:3.50. Raises ValueError when it is none."""
    count, colon, fee = text.partition(":")
    if not colon or not count.strip().isdecimal():
        raise ValueError(f"{text!r} is no count and fee, such as 10:3.50.")
    return int(count), parse_money(fee)


def cents(amount: Decimal) -> Decimal:
    """Rounded to the cent, halves away from zero; never minus zero."""
    return amount.quantize(CENT, rounding=ROUND_HALF_UP) + 0
