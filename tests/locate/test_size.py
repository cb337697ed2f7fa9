"""A locator that says the wrong size, of a disc or of its rim in the picture, or sees none. Drawn data."""

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


@pytest.mark.parametrize("share", [0.8, 0.65])
def test_a_ring_that_was_taken_for_the_rim_leads_to_the_disc_about_it(
    share: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    bgr = read_photo(DEMO / "scratched_film_dvd.jpg").bgr
    (right,), _ = locate_discs(bgr, **NETS)
    seen = find.sightings(bgr, NETS["locator"])
    monkeypatch.setattr(find, "sightings", lambda *_: [one.enlarged(share) for one in seen])
    (found,), turned_down = locate_discs(bgr, **NETS)
    assert not turned_down
    assert [found.rim.cx, found.rim.cy, found.rim.axis_major] == pytest.approx(
        [right.rim.cx, right.rim.cy, right.rim.axis_major], abs=1.0
    )
    monkeypatch.setattr(find, "_FURTHER_OUT", ())
    assert not locate_discs(bgr, **NETS)[0]


def test_a_disc_that_is_not_seen_at_first_is_seen_from_farther_away(monkeypatch: pytest.MonkeyPatch) -> None:
    bgr = read_photo(DEMO / "scratched_film_dvd.jpg").bgr
    (right,), _ = locate_discs(bgr, **NETS)
    seen = find.sightings
    for share in (0.0, 0.3):  # it sees nothing, or a ring that is none of the rim's
        hub = [one.enlarged(share) for one in seen(bgr, NETS["locator"])] if share else []
        monkeypatch.setattr(find, "sightings", lambda *given, hub=hub: seen(*given) if len(given) == 3 else hub)
        (found,), turned_down = locate_discs(bgr, **NETS)
        assert not turned_down
        assert [found.rim.cx, found.rim.cy, found.rim.axis_major] == pytest.approx(
            [right.rim.cx, right.rim.cy, right.rim.axis_major], abs=1.0
        )
