"""Sectors that could not be read, and where on the disc they lie."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discscan.errors import BadTerms, UnreadableTable
from discscan.events import Event, Item
from discscan.ledger import read_back, read_ranges
from discscan.ledger.readback import radius_mm, sectors_of
from discscan.records import FormatName

DAY = date(2026, 11, 25)


def item(*defects: dict[str, Any], format: str = "dvd") -> Item:
    disc = {"format": format, "diameter_mm": 120, "defects": list(defects), "verdict": {"action": "play"}}
    bought = Event(key="a", item="a", kind="bought", day=DAY, title="Film")
    document = json.dumps({"photo": {"discs": [disc]}})
    return Item(1, (bought, Event(key="b", item="a", kind="scanned", day=DAY, document=document)))


def damage(start: float, end: float, kind: str = "scratch") -> dict[str, Any]:
    return {"kind": kind, "radius_min_mm": start, "radius_max_mm": end}


@pytest.mark.parametrize(("format", "sectors"), [("cd", 336_125), ("dvd", 2_295_115), ("bd", 381_856 * 32)])
def test_a_disc_holds_as_many_sectors_as_its_spiral_is_long(format: FormatName, sectors: int) -> None:
    """CD at 1.2 m/s, 74.69 minutes (capacity as in IEC 60908, from memory); DVD 4.700 GB, ECMA-267 7; BD 25.025 GB, BDA
    white paper 1.C, table 2-1. The DVD is reckoned at the bit length of 133.3 nm, not at its slowest speed.
    """
    tolerance = 0.01 if format == "dvd" else 0.0005
    assert sectors_of(format=format, diameter_mm=120) == pytest.approx(sectors, rel=tolerance)


@pytest.mark.parametrize(("format", "start"), [("cd", 25), ("dvd", 24), ("bd", 24)])
def test_the_first_sector_lies_where_the_data_area_starts_and_the_last_at_its_end(
    format: FormatName, start: float
) -> None:
    assert radius_mm(sector=0, format=format) == (start, start)
    assert radius_mm(sector=sectors_of(format=format, diameter_mm=120), format=format)[0] == pytest.approx(58, abs=1e-4)


def test_half_of_a_dvd_lies_within_44_4_mm() -> None:
    """sqrt((24^2 + 58^2) / 2) = 44.38: equal areas hold equal lengths of track."""
    low, high = radius_mm(sector=2_295_115 // 2, format="dvd")
    assert low < 44.38 < high < low + 0.4


@given(st.sampled_from(["cd", "dvd", "bd"]), st.integers(0, 10**6), st.integers(1, 10**6))
def test_later_sectors_lie_further_out(format: FormatName, sector: int, more: int) -> None:
    assert radius_mm(sector=sector, format=format)[0] < radius_mm(sector=sector + more, format=format)[0]
    assert radius_mm(sector=sector, format=format)[0] <= radius_mm(sector=sector, format=format)[1]


def test_a_list_is_read_with_comments_hex_and_single_sectors(tmp_path: Path) -> None:
    path = tmp_path / "bad.txt"
    path.write_text("# a log\n100 199\n0x100 0x1FF  # hex\n\n700\n200 210\n705-709\n")
    assert read_ranges(path) == [(100, 210), (256, 511), (700, 700), (705, 709)]


@pytest.mark.parametrize("line", ["ten", "20 10", "1 2 3", "-4", "1.5"])
def test_a_line_that_is_no_range_is_told_by_its_number(tmp_path: Path, line: str) -> None:
    path = tmp_path / "bad.txt"
    path.write_text(f"1 2\n{line}\n")
    with pytest.raises(UnreadableTable, match="Line 2"):
        read_ranges(path)


def test_sectors_at_the_radius_of_damage_seen_agree_and_others_do_not() -> None:
    around = [sector for sector in range(0, 2_000_000, 1000) if 40 < radius_mm(sector=sector, format="dvd")[0] < 41]
    bad = [(around[0], around[-1])]
    count = around[-1] - around[0] + 1
    agreed = read_back(bad, item=item(damage(39, 42)), format=None)
    assert (agreed.count, agreed.seen) == (count, count)
    assert agreed.by_chance == pytest.approx((42**2 - 39**2) / (58**2 - 24**2), rel=0.15)
    assert read_back(bad, item=item(damage(50, 51)), format=None).seen == 0
    assert read_back(bad, item=item(damage(39, 42, "dust")), format=None).seen == 0
    assert read_back(bad, item=item(damage(15, 20)), format=None).seen == 0, "inside the data area's start"


def test_overlapping_damage_counts_once() -> None:
    found = read_back([(0, 999_999)], item=item(damage(20, 58), damage(30, 50), damage(24, 58)), format=None)
    assert (found.seen, found.by_chance) == (1_000_000, pytest.approx(1, abs=1e-5))


def test_without_a_scan_there_is_a_place_but_nothing_to_agree_with() -> None:
    alone = Item(1, item().events[:1])
    found = read_back([(0, 10)], item=alone, format="cd")
    assert (found.count, found.seen, found.by_chance) == (11, None, None)
    with pytest.raises(BadTerms, match="format"):
        read_back([(0, 10)], item=alone, format=None)
    with pytest.raises(BadTerms, match="format"):
        read_back([(0, 10)], item=item(format="unknown"), format=None)


def test_sectors_of_a_second_layer_are_not_placed() -> None:
    with pytest.raises(BadTerms, match="beyond"):
        read_back([(0, 4_000_000)], item=item(), format=None)
