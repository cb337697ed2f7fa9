"""The strip under a picture that tells what its marks mean: only what occurs, wrapped to the picture's width."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from discscan.records import LINE_KINDS, Action, ByteImage, Kind, Sight
from discscan.report import ink, words
from discscan.report.ink import Box
from discscan.report.styles import HATCHES, INK, PAPER, QUIET, STROKES, VERDICT_COLOURS

Sample = Callable[[ByteImage, Box, float], None]


@dataclass(frozen=True)
class Item:
    """One entry: a sample drawn into a box, and its words."""

    sample: Sample | None
    words: str
    sample_px: float | None = None
    """The sample's width where the usual one does not do."""


def kinds(counts: Mapping[Kind, int]) -> list[Item]:
    return [Item(_kind_sample(kind), words.count_of(kind, counts[kind])) for kind in STROKES if counts.get(kind)]


def unseen(sights: set[Sight]) -> list[Item]:
    return [Item(_hatch_sample(sight), words.UNSEEN[sight]) for sight in HATCHES if sight in sights]


def verdicts(actions: set[Action], *, letter_px: float) -> list[Item]:
    shown = [action for action in VERDICT_COLOURS if action in actions]
    return [Item(_icon_sample(action), words.VERDICT[action], sample_px=1.3 * letter_px) for action in shown]


def data_area(sentence: str) -> Item:
    """The dashed ring that bounds the data area."""

    def sample(bgr: ByteImage, box: Box, unit: float) -> None:
        middle = box.y + box.height / 2
        for start in np.linspace(box.x, box.x + box.width, 4, endpoint=False):
            points = np.array([(start, middle), (start + box.width / 7, middle)])
            ink.haloed(bgr, points, PAPER, 1.4 * unit)

    return Item(sample, sentence)


def scale(length_px: float, sentence: str) -> Item:
    """A bar with end marks, as long as the words say."""

    def sample(bgr: ByteImage, box: Box, unit: float) -> None:
        middle, end = box.y + box.height / 2, box.x + length_px
        for points in (
            [(box.x, middle), (end, middle)],
            [(box.x, middle - 4 * unit), (box.x, middle + 4 * unit)],
            [(end, middle - 4 * unit), (end, middle + 4 * unit)],
        ):
            ink.line(bgr, np.array(points, np.float64), PAPER, 1.4 * unit)

    return Item(sample, sentence, sample_px=length_px)


def note(sentence: str) -> Item:
    """Words without a sample."""
    return Item(None, sentence)


def under(bgr: ByteImage, items: Sequence[Item], *, letter_px: float) -> ByteImage:
    """The picture with its strip below; the picture itself when there is nothing to tell."""
    if not items:
        return bgr
    places, height = _laid_out(items, width=bgr.shape[1], letter_px=letter_px)
    strip = np.full((height, bgr.shape[1], 3), INK[::-1], np.uint8)
    for item, (x, y, lines) in zip(items, places, strict=True):
        sample = _sample_px(item, letter_px)
        if item.sample:
            item.sample(strip, Box(x, y + 0.1 * letter_px, sample, 1.05 * letter_px), letter_px / 11)
            sample += 0.5 * letter_px
        for row, part in enumerate(lines):
            colour = PAPER if sample else QUIET
            ink.text(strip, (x + sample, y + row * 1.3 * letter_px), part, letter_px, colour)
    return np.vstack([bgr, strip])


def _sample_px(item: Item, letter_px: float) -> float:
    if item.sample is None:
        return 0.0
    return 2.2 * letter_px if item.sample_px is None else item.sample_px


def _laid_out(
    items: Sequence[Item], *, width: int, letter_px: float
) -> tuple[list[tuple[float, float, list[str]]], int]:
    margin, gap, line_px = 0.8 * letter_px, 1.1 * letter_px, 1.3 * letter_px
    places: list[tuple[float, float, list[str]]] = []
    x, y, rows = margin, margin, 1
    for item in items:
        sample = _sample_px(item, letter_px)
        sample += 0.5 * letter_px if sample else 0.0
        lines = wrapped(item.words, width - 2 * margin - sample, letter_px)
        wide = sample + max(ink.text_size(part, letter_px)[0] for part in lines)
        if x > margin and x + wide > width - margin:
            x, y, rows = margin, y + rows * line_px + 0.35 * letter_px, 1
        places.append((x, y, lines))
        x, rows = x + wide + gap, max(rows, len(lines))
    return places, round(y + rows * line_px + margin)


def wrapped(sentence: str, width: float, letter_px: float) -> list[str]:
    """The sentence broken at spaces so that no line is wider than `width`; a longer word stands alone."""
    lines: list[str] = []
    for word in sentence.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and ink.text_size(longer, letter_px)[0] <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _kind_sample(kind: Kind) -> Sample:
    def sample(bgr: ByteImage, box: Box, unit: float) -> None:
        x, y, middle = box.x, box.y, box.y + box.height / 2
        if kind in LINE_KINDS:
            points = np.array([(x, middle), (x + box.width, middle)])
        elif STROKES[kind].ring:
            points = np.array([(x + box.width / 2, middle)])
        else:
            points = np.array([(x, y), (x + box.width, y), (x + box.width, y + box.height), (x, y + box.height)])
        ink.stroke(bgr, points.astype(np.float64), STROKES[kind], 1.6 * unit, closed=kind not in LINE_KINDS)

    return sample


def _hatch_sample(sight: Sight) -> Sample:
    def sample(bgr: ByteImage, box: Box, unit: float) -> None:
        mask = np.zeros(bgr.shape[:2], bool)
        mask[round(box.y) : round(box.y + box.height), round(box.x) : round(box.x + box.width)] = True
        bgr[mask] = 96
        ink.hatch(bgr, mask, HATCHES[sight], unit)

    return sample


def _icon_sample(action: Action) -> Sample:
    def sample(bgr: ByteImage, box: Box, unit: float) -> None:
        side = box.height * 1.15
        ink.icon(bgr, action, Box(box.x + (box.width - side) / 2, box.y - 0.05 * side, side, side), PAPER)

    return sample
