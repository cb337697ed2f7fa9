"""Which part of the disc was not seen, held against parts that were made unseen."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest
from drawn import Camera, Look, draw

from discscan.flatten.grid import flatten_disc
from discscan.flatten.unseen import light_from_deg, middle_deg, unseen_parts
from discscan.records import FlatDisc, Sight


@pytest.fixture(scope="module")
def flat() -> FlatDisc:
    bgr, truth = draw(look=Look(), camera=Camera())
    return flatten_disc(bgr, truth.located())


def hidden(flat: FlatDisc, *, x_mm: float, y_mm: float, radius_mm: float, why: Sight) -> FlatDisc:
    sight = flat.sight.copy()
    sight[sight != Sight.OFF_DISC] = Sight.SEEN
    middle = flat.sight.shape[0] / 2
    at = round(middle + x_mm * flat.px_per_mm), round(middle + y_mm * flat.px_per_mm)
    cv2.circle(sight, at, round(radius_mm * flat.px_per_mm), int(why), -1)
    return replace(flat, sight=sight)


def test_a_disc_seen_whole_has_no_unseen_part(flat: FlatDisc) -> None:
    whole = hidden(flat, x_mm=0, y_mm=0, radius_mm=5, why=Sight.GLARE)  # in the hole: no data there
    assert unseen_parts(whole) == ()
    assert light_from_deg(()) is None


def test_glare_at_the_right_is_told_with_its_place_and_wants_the_lamp_at_the_left(flat: FlatDisc) -> None:
    (part,) = unseen_parts(hidden(flat, x_mm=42, y_mm=0, radius_mm=10, why=Sight.GLARE))
    # a circle of 10 mm in a ring from r 25 to 58 mm (ECMA-267 table 1: data to r 58)
    assert part.share == pytest.approx(100 / (58**2 - 25**2), rel=0.05)
    assert (middle_deg(part) or 0) % 354 == pytest.approx(0, abs=6)
    assert 32 <= part.radius_min_mm < 36 and 48 < part.radius_max_mm <= 52
    assert light_from_deg((part,)) == pytest.approx(180, abs=6)


def test_what_is_dark_wants_the_lamp_on_its_own_side(flat: FlatDisc) -> None:
    parts = unseen_parts(hidden(flat, x_mm=0, y_mm=42, radius_mm=10, why=Sight.DARK))
    assert light_from_deg(parts) == pytest.approx(90, abs=6)


def test_a_ring_all_the_way_round_has_no_side(flat: FlatDisc) -> None:
    sight = flat.sight.copy()
    along = (np.arange(sight.shape[0]) - sight.shape[0] / 2) / flat.px_per_mm
    radius = np.hypot(along[None], along[:, None])
    sight[(radius > 30) & (radius < 40)] = Sight.BLURRED
    part = next(part for part in unseen_parts(replace(flat, sight=sight)) if part.sight == Sight.BLURRED)
    assert part.from_deg is None and middle_deg(part) is None
    assert light_from_deg((part,)) is None
