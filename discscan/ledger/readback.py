"""Read-back: where on the disc lie the sectors that a drive could not read, and was damage seen there?

A sector's number tells how much track lies before it, and the spiral's geometry at which radius that much track ends:
pi (r^2 - r0^2) = length * pitch.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from math import pi, sqrt
from pathlib import Path

from discscan.calibration import constant
from discscan.errors import BadTerms, UnreadableTable
from discscan.events import Item, Readback
from discscan.formats import FORMATS, DiscFormat
from discscan.records import FormatName

USER_BYTES = 2048
DAMAGE = ("scratch", "ring_arc", "crack", "delamination", "label_damage")
"""Kinds that may stop a drive; smudges and dust are wiped off before a test."""

Ranges = list[tuple[int, int]]
"""First and last sector, ascending, not touching."""

_LINE = re.compile(r"(0x[0-9a-f]+|\d+)(?:[\s,;:-]+(0x[0-9a-f]+|\d+))?", re.IGNORECASE)


def read_ranges(path: Path) -> Ranges:
    """Sector ranges of a plain list: `first last` a line, or one number, decimal or hex (0x...); # begins a comment.

    Raises:
        UnreadableTable: the file cannot be read, or a line is no range; then it names the line.
    """
    try:
        lines = path.read_text(encoding="utf-8-sig", errors="replace").splitlines()
    except OSError as error:
        raise UnreadableTable(
            f"It cannot be read: {error.strerror}.", file=str(path), remedy="Check how its name is written."
        ) from error
    found = []
    for number, line in enumerate(lines, start=1):
        told = line.split("#")[0].strip()
        if not told:
            continue
        match = _LINE.fullmatch(told)
        first = int(match[1], 16 if match[1][:2].lower() == "0x" else 10) if match else 0
        last = int(match[2], 16 if match[2][:2].lower() == "0x" else 10) if match and match[2] else first
        if match is None or last < first:
            raise UnreadableTable(
                f"Line {number} is no range of sectors: {told[:60]}.", file=str(path), remedy="Write: first last."
            )
        found.append((first, last))
    return _joined(found)


def radius_mm(*, sector: int, format: FormatName) -> tuple[float, float]:
    """Between which radii a sector lies: discs of one format are written at slightly different speeds.

    References:
        sector lengths: ECMA-130 (98 frames of 588 bits); ECMA-267 21 (26 sync frames); BDA white paper 1.C, 10 (496
        rows and two to link, for 32 sectors). Sector 0 lies at the start of the data area.
    """
    disc = FORMATS[format]
    inner = disc.fact("data_inner_radius_mm")
    slow, fast = (sqrt(inner**2 + sector * _area_mm2(disc, share) / pi) for share in _speeds(disc))
    return slow, fast


def sectors_of(*, format: FormatName, diameter_mm: int) -> int:
    """How many sectors the data area of one layer holds at the slowest speed."""
    disc = FORMATS[format]
    inner, outer = disc.data_area_mm(diameter_mm)
    return int(pi * (outer**2 - inner**2) / _area_mm2(disc, _speeds(disc)[0]))


def read_back(unreadable: Ranges, *, item: Item, format: FormatName | None) -> Readback:
    """Place the sectors on the disc, and hold them against the damage that the item's last scan saw.

    Args:
        format: as told, or None for that of the scan.
    Raises:
        BadTerms: nobody knows the format, or a sector lies beyond the first layer.
    """
    scanned = item.last("scanned")
    seen = None if scanned is None else json.loads(scanned.document)["photo"]["discs"][0]
    told = format or (seen or {}).get("format")
    name = next((name for name in FORMATS if name == told), None)
    if name is None:
        raise BadTerms("Nobody knows which format it has.", remedy="Say so with --format cd, dvd or bd.")
    whole = sectors_of(format=name, diameter_mm=120 if seen is None else seen["diameter_mm"])
    if unreadable and unreadable[-1][1] > whole:
        raise BadTerms(
            f"Sector {unreadable[-1][1]} lies beyond the {whole} of one layer.",
            remedy="Sectors of a second layer cannot be placed: leave them out.",
        )
    places = tuple(
        (radius_mm(sector=first, format=name)[0], radius_mm(sector=last, format=name)[1]) for first, last in unreadable
    )
    count = _count(unreadable)
    if seen is None:
        return Readback(name, tuple(unreadable), places, count, None, None, None)
    spans = _damage_mm(seen["defects"])
    damaged = _damaged_sectors(spans, FORMATS[name], whole)
    by_chance = _count(damaged) / whole
    return Readback(name, tuple(unreadable), places, count, _overlap(unreadable, damaged), by_chance, spans)


def _damage_mm(defects: Iterable[dict[str, object]]) -> tuple[tuple[float, float], ...]:
    """Between which radii the damage lies, a pair for each."""
    spans = [
        (float(str(defect["radius_min_mm"])), float(str(defect["radius_max_mm"])))
        for defect in defects
        if defect["kind"] in DAMAGE
    ]
    return tuple(sorted(spans))


def _damaged_sectors(spans: Iterable[tuple[float, float]], disc: DiscFormat, whole: int) -> Ranges:
    """Sectors at radii at which damage was seen, at whichever speed the disc is written."""
    inner = disc.fact("data_inner_radius_mm")
    slow, fast = (_area_mm2(disc, share) for share in _speeds(disc))
    ranges = []
    for start, end in spans:
        first = int(pi * max(0.0, start**2 - inner**2) / fast)
        last = min(whole, int(pi * max(0.0, end**2 - inner**2) / slow))
        if end >= inner and first <= last:
            ranges.append((first, last))
    return _joined(ranges)


def _area_mm2(disc: DiscFormat, speed: float) -> float:
    """Of the ring that one sector fills: its length times the pitch, at a multiple of the nominal speed."""
    if disc.name == "cd":
        bits = disc.fact("frames_per_sector") * disc.fact("frame_bits")
    elif disc.name == "dvd":
        bits = disc.fact("sector_bits")
    else:
        rows = disc.fact("block_rows") + disc.fact("link_rows")
        bits = rows * disc.fact("row_bits") * USER_BYTES / disc.fact("user_bytes_per_block")
    return bits * disc.channel_bit_nm * 1e-6 * speed * disc.track_pitch_um * 1e-3


def _speeds(disc: DiscFormat) -> tuple[float, float]:
    """The slowest and fastest speed allowed, as multiples of the nominal one."""
    speed = constant(disc.name, "scanning_velocity_m_s")
    return (speed.low or speed.value) / speed.value, (speed.high or speed.value) / speed.value


def _joined(ranges: Iterable[tuple[int, int]]) -> Ranges:
    joined: Ranges = []
    for first, last in sorted(ranges):
        if joined and first <= joined[-1][1] + 1:
            joined[-1] = joined[-1][0], max(joined[-1][1], last)
        else:
            joined.append((first, last))
    return joined


def _count(ranges: Sequence[tuple[int, int]]) -> int:
    return sum(last - first + 1 for first, last in ranges)


def _overlap(some: Ranges, others: Ranges) -> int:
    return sum(
        max(0, min(last, other_last) - max(first, other_first) + 1)
        for first, last in some
        for other_first, other_last in others
    )
