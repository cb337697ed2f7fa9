"""The case's barcode: its check digit, and reading it from photographs."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st

from discscan.barcodes import check_digit, parse_barcode
from discscan.photo import read_barcode
from discscan.records import ByteImage, Photo


@pytest.mark.parametrize(
    ("digits", "check"),
    [("629104150021", 3),  # GS1, check digit calculator, example of a GTIN-13 (gs1.org)
     ("890400021003", 7),  # GS1 India, how to calculate the check digit
     ("730001100001", 7)],  # GS1 Sweden, the same
)  # fmt: skip
def test_the_check_digit_is_that_of_the_worked_examples(digits: str, check: int) -> None:
    assert check_digit(digits) == check
    assert parse_barcode(f"{digits[:1]} {digits[1:7]} {digits[7:]}{check}") == f"{digits}{check}"


@given(st.text("0123456789", min_size=12, max_size=12), st.integers(0, 12), st.integers(1, 9))
def test_one_wrong_digit_is_always_found(digits: str, place: int, off: int) -> None:
    """The weights 1 and 3 have no divisor in common with 10 (GS1 General Specifications, 7.9; from memory)."""
    whole = f"{digits}{check_digit(digits)}"
    wrong = f"{whole[:place]}{(int(whole[place]) + off) % 10}{whole[place + 1 :]}"
    with pytest.raises(ValueError, match="read wrong"):
        parse_barcode(wrong)


@pytest.mark.parametrize("text", ["", "629", "62910415002134", "6291041500x13", "٦٢٩١٠٤١٥٠٠٢١٣"])
def test_what_is_no_number_of_a_barcode_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="no barcode"):
        parse_barcode(text)


def photographed(kind: zxingcpp.BarcodeFormat, digits: str, *, turn_deg: float, blur_px: float) -> Photo:
    """A barcode drawn by another library (zxing-cpp) on a plain case, seen a little turned and blurred."""
    code = np.asarray(zxingcpp.create_barcode(digits, kind).to_image(scale=5, add_quiet_zones=True))
    grey: ByteImage = np.full((1200, 1600), 105, np.uint8)
    top, left = (1200 - code.shape[0]) // 2, (1600 - code.shape[1]) // 2
    grey[top : top + code.shape[0], left : left + code.shape[1]] = 40 + code // 255 * 190
    matrix = cv2.getRotationMatrix2D((800, 600), turn_deg, 1)
    seen = cv2.warpAffine(grey, matrix, (1600, 1200), borderValue=105)
    return Photo("case.jpg", "", np.dstack([cv2.GaussianBlur(seen, (0, 0), blur_px)] * 3))


@pytest.mark.parametrize(
    ("kind", "digits", "number"),
    [(zxingcpp.BarcodeFormat.EAN13, "629104150021", "6291041500213"),
     (zxingcpp.BarcodeFormat.EAN8, "9638507", "96385074"),
     (zxingcpp.BarcodeFormat.UPCA, "01631095026", "0016310950263")],
)  # fmt: skip
@pytest.mark.parametrize("turn_deg", [0, 8, 90, 180])
def test_a_barcode_is_read_from_a_photo(
    kind: zxingcpp.BarcodeFormat, digits: str, number: str, turn_deg: float
) -> None:
    assert read_barcode(photographed(kind, digits, turn_deg=turn_deg, blur_px=0.8)) == number


def test_a_photo_without_a_barcode_has_none() -> None:
    noise = np.random.default_rng(1).integers(0, 255, (700, 900, 3), dtype=np.uint8)
    assert read_barcode(Photo("noise.png", "", noise)) is None
    assert read_barcode(Photo("plain.png", "", np.full((700, 900, 3), 128, np.uint8))) is None


def test_a_reading_whose_check_digit_is_wrong_counts_for_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    import discscan.photo.barcode as module

    plain = Photo("plain.png", "", np.full((700, 900, 3), 128, np.uint8))
    monkeypatch.setattr(module, "_texts", lambda _: ("6291041500214", "x"))
    assert read_barcode(plain) is None
    readings = iter(["6291041500213", "96385074", "", "", "", ""])
    monkeypatch.setattr(module, "_texts", lambda _: (next(readings),))
    assert read_barcode(plain) is None, "each was read but once"
