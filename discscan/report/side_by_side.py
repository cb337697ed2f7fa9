"""One disc in several photographs, side by side and turned alike, for eyes to compare; shared marks are numbered."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from discscan.matches import Comparison, MergedDisc
from discscan.records import ByteImage, Defect, FlatDisc
from discscan.report import ink, merged_words
from discscan.report.build import ranked
from discscan.report.ink import Box
from discscan.report.marks import Crowd, DrawnDefect, draw_defects, draw_numbers, draw_unseen
from discscan.report.styles import INK, PAPER

_WIDTH_PX = 900


def draw_turned_alike(merged: MergedDisc) -> ByteImage:
    """The joined photographs of a merged disc, each with the same marks: those of all of them together."""
    names = [source.file for source in merged.sources if source.joined and source.side != "label"]
    marks = ranked(merged.disc.survey.defects)
    views = [_view(flat, name, marks, numbered=len(marks)) for flat, name in zip(merged.laid, names, strict=True)]
    return np.hstack(views)


def draw_comparison(found: Comparison, names: tuple[str, str]) -> ByteImage:
    """Both photographs; marks that both show carry one number, those of one alone are drawn without."""
    first = [*(one for one, _ in found.both), *found.only_first]
    second = [*(other for _, other in found.both), *found.only_second]
    return np.hstack(
        [
            _view(found.first, names[0], first, numbered=len(found.both)),
            _view(found.second, names[1], second, numbered=len(found.both)),
        ]
    )


def _view(flat: FlatDisc, name: str, marks: Sequence[Defect], *, numbered: int) -> ByteImage:
    """A flat disc with its first `numbered` marks numbered, and its photograph's name above."""
    per_mm = _WIDTH_PX / (flat.diameter_mm + 6)
    scale = per_mm / flat.px_per_mm
    shift = _WIDTH_PX / 2 - scale * flat.sight.shape[0] / 2
    matrix = np.array([[scale, 0, shift], [0, scale, shift]])
    size = (_WIDTH_PX, _WIDTH_PX)
    bgr = np.asarray(cv2.warpAffine(flat.bgr, matrix, size, flags=cv2.INTER_AREA), np.uint8)
    sight = np.asarray(cv2.warpAffine(flat.sight, matrix, size, flags=cv2.INTER_NEAREST, borderValue=1), np.uint8)
    unit, letter_px = _WIDTH_PX / 1000, _WIDTH_PX / 34
    draw_unseen(bgr, sight, unit)
    drawn = [DrawnDefect(mark, mark.outline_mm * per_mm + _WIDTH_PX / 2) for mark in marks]
    draw_defects(bgr, drawn, unit)
    draw_numbers(
        bgr, drawn[:numbered], Crowd(*size), centre=np.full(2, _WIDTH_PX / 2), letter_px=letter_px
    )  # fmt: skip
    head = np.full((round(2.4 * letter_px), _WIDTH_PX, 3), INK[::-1], np.uint8)
    fitting = merged_words.shortened(name, 48)
    ink.centred_text(head, Box(0, 0, _WIDTH_PX, head.shape[0]), fitting, letter_px, PAPER)
    return np.vstack([head, bgr])
