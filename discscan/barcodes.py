"""The number in a case's barcode, and its check digit."""

from __future__ import annotations

LENGTHS = (8, 12, 13)


def parse_barcode(text: str) -> str:
    """The number as it is kept: 13 digits, or 8; one of 12 gets the 0 before it that makes it one of 13.

    Raises:
        ValueError: it is none, or its check digit is wrong.
    """
    digits = "".join(text.split()).replace("-", "")
    if not (digits.isascii() and digits.isdigit()) or len(digits) not in LENGTHS:
        raise ValueError(f"{text!r} is no barcode: it has 13, 12 or 8 digits.")
    if check_digit(digits[:-1]) != int(digits[-1]):
        raise ValueError(f"{text!r} is no barcode: its last digit does not fit the others, so one was read wrong.")
    return digits.rjust(13, "0") if len(digits) == 12 else digits


def check_digit(digits: str) -> int:
    """What makes the weighted sum a multiple of ten: from the right, digits weigh 3, 1, 3, and so on.

    References:
        GS1 General Specifications, 7.9 (from memory); GS1, How to calculate a check digit manually.
    """
    return -sum(int(digit) * (3, 1)[place % 2] for place, digit in enumerate(reversed(digits))) % 10
