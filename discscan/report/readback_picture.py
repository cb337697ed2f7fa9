"""The sectors that a drive could not read, drawn over the disc from above, and beside the damage that was seen."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from discscan.events import Readback
from discscan.formats import data_area_mm
from discscan.judged import JudgedDisc
from discscan.records import ByteImage, FloatArray
from discscan.report import ink, legend
from discscan.report import ledger_words as words
from discscan.report.pictures import draw_top_view, middle_of_top_view
from discscan.report.styles import INK, PAPER, QUIET, STROKES, UNREAD, Rgb

Span = tuple[float, float]
Lane = tuple[str, Sequence[Span], Rgb]
_EMPTY: Rgb = (40, 47, 57)


def draw_read_back(disc: JudgedDisc, found: Readback, *, width_px: int = 1200) -> ByteImage:
    """The view from above with the unreadable turns over it; below, both by their distance from the centre.

    Returns:
        uint8 (height, width, 3) BGR.
    """
    bgr = draw_top_view(disc, width_px=width_px)
    middle, per_mm = middle_of_top_view(disc, width_px=width_px)
    unit = width_px / 1000
    veiled = bgr.copy()
    for span in found.radii_mm:
        _ring_band(veiled, middle, [radius * per_mm for radius in span], least_px=2 * unit)
    cv2.addWeighted(veiled, 0.45, bgr, 0.55, 0, dst=bgr)
    inner, outer = data_area_mm(found.format, disc.located.diameter_mm)
    lanes: list[Lane] = [
        (words.LANE_SEEN, found.damage_mm or (), STROKES["scratch"].colour),
        (words.LANE_UNREAD, found.radii_mm, UNREAD),
    ]
    return np.vstack([bgr, _lanes(lanes, inner_mm=inner, outer_mm=outer, width_px=width_px), _notes(found, width_px)])


def _ring_band(bgr: ByteImage, middle: FloatArray, radii_px: Sequence[float], *, least_px: float) -> None:
    radius, thickness = sum(radii_px) / 2, max(least_px, radii_px[1] - radii_px[0])
    angle = np.linspace(0, 2 * np.pi, 360, endpoint=False)
    ring = middle + radius * np.column_stack([np.cos(angle), np.sin(angle)])
    ink.line(bgr, ring, UNREAD, thickness, closed=True)


def _lanes(lanes: Sequence[Lane], *, inner_mm: float, outer_mm: float, width_px: int) -> ByteImage:
    """A bar for each lane from the start of the data to its end, and a scale in mm below."""
    letter = width_px / 32
    left = 1.8 * letter + max(ink.text_size(name, letter)[0] for name, _, _ in lanes)
    right = width_px - 2 * letter
    per_mm = (right - left) / (outer_mm - inner_mm)
    row, tall = 1.9 * letter, round(1.3 * letter)
    strip = np.full((round(row * (len(lanes) + 1) + letter), width_px, 3), INK[::-1], np.uint8)
    for number, (name, spans, colour) in enumerate(lanes):
        top = round(0.5 * letter + number * row)
        ink.text(strip, (0.8 * letter, top), name, letter, PAPER)
        share = _crowdedness(spans, np.linspace(inner_mm, outer_mm, round(right - left)))[:, None]
        bar = (1 - share) * np.array(_EMPTY[::-1]) + share * np.array(colour[::-1])
        strip[top : top + tall, round(left) : round(left) + len(bar)] = bar
    bottom = 0.5 * letter + len(lanes) * row
    for mark in range(10 * int(inner_mm // 10 + 1), int(outer_mm) + 1, 10):
        x = left + per_mm * (mark - inner_mm)
        ink.line(strip, np.array([(x, 0.5 * letter), (x, bottom)]), QUIET, 1)
        ink.text(strip, (x - 0.5 * letter, bottom), words.ring_label(mark), 0.85 * letter, QUIET)
    return strip


def _crowdedness(spans: Sequence[Span], radii_mm: FloatArray) -> FloatArray:
    """How many of the spans lie at each radius, 1 where most do; a span too thin to be drawn counts at the nearest."""
    step = radii_mm[1] - radii_mm[0]
    count = np.zeros_like(radii_mm)
    for start, end in spans:
        count += (radii_mm >= start - step) & (radii_mm <= end + step)
    return np.asarray(count / max(1.0, count.max()))


def _notes(found: Readback, width_px: int) -> ByteImage:
    letter = width_px / 34
    empty = np.zeros((0, width_px, 3), np.uint8)
    return legend.under(empty, [legend.note(line) for line in words.readback_lines(found)], letter_px=letter)
