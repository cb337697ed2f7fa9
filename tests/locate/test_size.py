"""Which size a disc has, when the locator says the wrong one. Drawn data, no field measure."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from discscan.locate import find, locate_discs
from discscan.photo import read_photo
from discscan.weights import net

DEMO = Path(__file__).parents[2] / "demo_images"
NETS = {"locator": net("locator"), "rings": net("rings"), "face": net("face")}


@pytest.mark.parametrize(("file", "diameter_mm"), [("dusty_80mm_cd.jpg", 80), ("scratched_film_dvd.jpg", 120)])
def test_a_locator_that_takes_a_disc_for_the_other_size_is_overruled(
    file: str, diameter_mm: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    bgr = read_photo(DEMO / file).bgr
    (right,), _ = locate_discs(bgr, **NETS)
    seen = find.sightings(bgr, NETS["locator"])
    monkeypatch.setattr(find, "sightings", lambda *_: [replace(one, large=1 - one.large) for one in seen])
    (overruled,), _ = locate_discs(bgr, **NETS)
    assert right.diameter_mm == overruled.diameter_mm == diameter_mm
    assert overruled.rim == right.rim
