"""The two pictures of a result: the marks drawn on the photograph, and each disc from straight above.

Defect n in a picture is defect n of the report's `defects`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import cv2
import numpy as np

from discscan.formats import data_area_mm
from discscan.judged import JudgedDisc, JudgedPhoto
from discscan.records import ByteImage, Ellipse, FloatArray, Kind, Sight
from discscan.report import ink, legend, words
from discscan.report.build import ranked
from discscan.report.ink import Box
from discscan.report.marks import Crowd, DrawnDefect, draw_defects, draw_numbers, draw_unseen
from discscan.report.styles import INK, PAPER, QUIET, VERDICT_COLOURS

_MIN_WIDTH_PX = 900
_GROUND = (30, 36, 45)
_LETTERS = 29
"""The view from above is so many letters wide."""


def draw_marks(judged: JudgedPhoto, *, max_side_px: int = 2000) -> ByteImage:
    """The photograph with every disc's outline, verdict, defects and unseen parts, and a legend below.

    Args:
        max_side_px: of the photograph's longer side in the picture; small photographs are enlarged to be legible.
    Returns:
        uint8 (height, width, 3) BGR; the legend's strip comes on top of `max_side_px`.
    """
    photo = judged.photo
    longer = max(photo.width_px, photo.height_px)
    scale = min(max_side_px / longer, max(1.0, _MIN_WIDTH_PX / photo.width_px))
    size = max(1, round(photo.width_px * scale)), max(1, round(photo.height_px * scale))
    how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
    bgr = np.asarray(cv2.resize(photo.bgr, size, interpolation=how), np.uint8)
    to_picture = np.array([[scale, 0, (scale - 1) / 2], [0, scale, (scale - 1) / 2], [0, 0, 1]])
    letter_px, unit = size[0] / 29, size[0] / 1000

    unseen: set[Sight] = set()
    counts: Counter[Kind] = Counter()
    crowd = Crowd(size[1], size[0])
    rims = [_rim(disc.located.rim, to_picture) for disc in judged.discs]
    drawn = [_in_photo(disc, to_picture) for disc in judged.discs]
    for disc, rim in zip(judged.discs, rims, strict=True):
        unseen |= draw_unseen(bgr, _sight_in_photo(disc, to_picture, size), unit)
        crowd.take_area(rim, cost=0.6)
        ink.haloed(bgr, rim, PAPER, max(1.5, 3.2 * unit), closed=True)
        ink.line(bgr, rim, VERDICT_COLOURS[disc.verdict.action], max(1.0, 1.6 * unit), closed=True)
    for rim, defects in zip(rims, drawn, strict=True):
        draw_defects(bgr, defects, min(unit, np.ptp(rim[:, 0]) / 600))
        counts.update(one.defect.kind for one in defects)
        crowd.take_lines([one.points for one in defects], width=0.3 * letter_px, cost=2.0)
    short = _draw_verdicts(bgr, judged.discs, rims, crowd, letter_px=letter_px)
    room_px = (11 if len(rims) == 1 else 16) * letter_px  # below it numbers would hide the disc or its neighbours
    for rim, defects in zip(rims, drawn, strict=True):
        if np.ptp(rim[:, 0]) > room_px:
            draw_numbers(bgr, defects, crowd, centre=rim.mean(axis=0), letter_px=0.9 * letter_px)

    items = legend.verdicts({disc.verdict.action for disc in judged.discs}, letter_px=letter_px) if short else []
    items += legend.kinds(counts) + legend.unseen(unseen)
    if not judged.discs:
        items.append(legend.note(words.NO_DISC))
    elif not counts:
        items.append(legend.note(words.NO_DAMAGE))
    return legend.under(bgr, items, letter_px=letter_px)


def draw_top_view(disc: JudgedDisc, *, width_px: int = 1200) -> ByteImage:
    """The disc from straight above with rings in mm, the data area, defects, unseen parts, a scale and a legend."""
    letter_px, unit = width_px / _LETTERS, width_px / 1000
    rim_mm = disc.located.diameter_mm / 2
    per_mm = _per_mm(disc, width_px)
    middle = np.array([width_px / 2, width_px / 2])
    bgr = _from_above(disc, per_mm=per_mm, width_px=width_px)
    unseen = draw_unseen(bgr, _sight_from_above(disc, per_mm=per_mm, width_px=width_px), unit)
    crowd = Crowd(width_px, width_px)
    inner, outer = data_area_mm(disc.face.format, disc.located.diameter_mm)
    for radius_mm in (inner, outer):
        for dash in _dashed_ring(middle, radius_mm * per_mm, 9 * unit):
            ink.haloed(bgr, dash, PAPER, max(1.6, 1.8 * unit))
    rings = range(10, int(rim_mm) + 1, 10)
    pale = bgr.copy()
    for radius_mm in rings:
        ink.line(pale, _ring(middle, radius_mm * per_mm), PAPER, 1.5 * unit, closed=True)
    cv2.addWeighted(pale, 0.6, bgr, 0.4, 0, dst=bgr)
    drawn = [DrawnDefect(one, one.outline_mm * per_mm + middle) for one in ranked(disc.survey.defects)]
    draw_defects(bgr, drawn, unit)
    for radius_mm in rings:
        _ring_label(bgr, middle, radius_mm, crowd, per_mm=per_mm, letter_px=0.8 * letter_px)
    draw_numbers(bgr, drawn, crowd, centre=middle, letter_px=0.9 * letter_px)

    head = _head(disc, width_px=width_px, letter_px=letter_px)
    items = legend.kinds(Counter(one.defect.kind for one in drawn)) + legend.unseen(unseen)
    items += [legend.data_area(words.data_area(inner, outer)), legend.scale(10 * per_mm, words.SCALE)]
    if not drawn:
        items.append(legend.note(words.NO_DAMAGE))
    return legend.under(np.vstack([head, bgr]), items, letter_px=letter_px)


def middle_of_top_view(disc: JudgedDisc, *, width_px: int) -> tuple[FloatArray, float]:
    """Where in that picture the disc's centre is (x, y), and its pixels per mm."""
    return np.array([width_px / 2, width_px / 2 + _head_px(width_px / _LETTERS)]), _per_mm(disc, width_px)


def _per_mm(disc: JudgedDisc, width_px: int) -> float:
    return width_px / (disc.located.diameter_mm + 9)


# -- on the photograph ------------------------------------------------------------------------------------------------


def _rim(ellipse: Ellipse, to_picture: FloatArray) -> FloatArray:
    angle, turn = np.linspace(0, 2 * np.pi, 180, endpoint=False), np.radians(ellipse.angle_deg)
    along, across = ellipse.axis_major / 2 * np.cos(angle), ellipse.axis_minor / 2 * np.sin(angle)
    x = ellipse.cx + along * np.cos(turn) - across * np.sin(turn)
    y = ellipse.cy + along * np.sin(turn) + across * np.cos(turn)
    return _mapped(np.column_stack([x, y]), to_picture)


def _mapped(points: FloatArray, matrix: FloatArray) -> FloatArray:
    return np.asarray(cv2.perspectiveTransform(points.reshape(1, -1, 2).astype(np.float64), matrix)[0], np.float64)


def _in_photo(disc: JudgedDisc, to_picture: FloatArray) -> list[DrawnDefect]:
    from_mm = to_picture @ np.linalg.inv(disc.located.homography_px_to_mm)
    return [DrawnDefect(one, _mapped(one.outline_mm, from_mm)) for one in ranked(disc.survey.defects)]


def _sight_in_photo(disc: JudgedDisc, to_picture: FloatArray, size: tuple[int, int]) -> ByteImage:
    """The disc's map of `Sight` laid back onto the photograph; OFF_DISC elsewhere."""
    half = disc.flat.sight.shape[0] / 2
    to_mm = np.array([[1, 0, -half], [0, 1, -half], [0, 0, disc.flat.px_per_mm]])
    matrix = to_picture @ np.linalg.inv(disc.located.homography_px_to_mm) @ to_mm
    return np.asarray(
        cv2.warpPerspective(disc.flat.sight, matrix, size, flags=cv2.INTER_NEAREST, borderValue=float(Sight.OFF_DISC))
    )


def _draw_verdicts(
    bgr: ByteImage, discs: Sequence[JudgedDisc], rims: Sequence[FloatArray], crowd: Crowd, *, letter_px: float
) -> bool:
    """Put each disc's verdict beside it; whether some disc was too small for the word and got its shape alone."""
    short = False
    frames = [Box(*rim.min(axis=0), *np.ptp(rim, axis=0)) for rim in rims]
    for number, (disc, rim) in enumerate(zip(discs, rims, strict=True), start=1):
        action, prefix = disc.verdict.action, f"{number} " if len(discs) > 1 else ""
        low, high = rim.min(axis=0), rim.max(axis=0)
        letter = min(1.15 * letter_px, max(0.85 * letter_px, (high[0] - low[0]) / 7))
        label = prefix + words.VERDICT[action]
        if _pill_width(label, letter) > high[0] - low[0]:
            short, label = True, prefix.strip()
        wide, tall = _pill_width(label, letter), 1.9 * letter
        middle = (low[0] + high[0] - wide) / 2
        places = [
            (low[0], low[1]), (high[0] - wide, low[1]), (low[0], high[1] - tall), (high[0] - wide, high[1] - tall),
            (middle, low[1] - tall), (middle, high[1]), (middle, (low[1] + high[1] - tall) / 2),
        ]  # fmt: skip
        boxes = [Box(x, y, wide, tall).within(bgr.shape[1], bgr.shape[0], margin=0.3 * letter) for x, y in places]
        others = [frame for at, frame in enumerate(frames, start=1) if at != number]
        box = min(boxes, key=lambda one: crowd.cost(one) + 5 * sum(one.overlap(other) for other in others))
        crowd.take(box.grown(0.2 * letter), cost=50.0)
        _pill(bgr, box, disc, label, letter)
    return short


def _pill_width(label: str, letter_px: float) -> float:
    return 2.3 * letter_px + (ink.text_size(label, letter_px, bold=True)[0] + 0.4 * letter_px if label else 0)


def _pill(bgr: ByteImage, box: Box, disc: JudgedDisc, label: str, letter_px: float) -> None:
    action = disc.verdict.action
    ink.rounded(bgr, box, VERDICT_COLOURS[action], edge=PAPER, radius=0.45 * letter_px, edge_width=0.09 * letter_px)
    side = 1.25 * letter_px
    top = box.y + (box.height - side) / 2
    ink.icon(bgr, action, Box(box.x + 0.45 * letter_px, top, side, side), PAPER)
    rest = Box(box.x + 2.1 * letter_px, box.y, box.width - 2.5 * letter_px, box.height)
    ink.centred_text(bgr, rest, label, letter_px, PAPER, bold=True)


# -- from above -------------------------------------------------------------------------------------------------------


def _to_view(disc: JudgedDisc, *, per_mm: float, width_px: int) -> FloatArray:
    scale = per_mm / disc.flat.px_per_mm
    shift = width_px / 2 - scale * disc.flat.sight.shape[0] / 2
    return np.array([[scale, 0, shift], [0, scale, shift]])


def _from_above(disc: JudgedDisc, *, per_mm: float, width_px: int) -> ByteImage:
    """The flat picture, a little greyed and dimmed so that marks stand out, on a plain ground."""
    matrix = _to_view(disc, per_mm=per_mm, width_px=width_px)
    view = cv2.warpAffine(disc.flat.bgr, matrix, (width_px, width_px), flags=cv2.INTER_LINEAR).astype(np.float32)
    grey = view.mean(axis=2, keepdims=True)
    view = np.clip(0.78 * (grey + 0.6 * (view - grey)), 0, 255)
    around = np.zeros((width_px, width_px), np.uint8)
    rim = _ring(np.full(2, width_px / 2), disc.located.diameter_mm / 2 * per_mm)
    ink.fill(cover := np.dstack([around] * 3), [rim], (255, 255, 255))
    share = cover.astype(np.float32) / 255
    return np.asarray(view * share + np.array(_GROUND[::-1], np.float32) * (1 - share), np.float32).astype(np.uint8)


def _sight_from_above(disc: JudgedDisc, *, per_mm: float, width_px: int) -> ByteImage:
    matrix = _to_view(disc, per_mm=per_mm, width_px=width_px)
    return np.asarray(
        cv2.warpAffine(
            disc.flat.sight, matrix, (width_px, width_px), flags=cv2.INTER_NEAREST, borderValue=float(Sight.OFF_DISC)
        )
    )


def _ring(middle: FloatArray, radius: float) -> FloatArray:
    angle = np.linspace(0, 2 * np.pi, 240, endpoint=False)
    return np.asarray(middle + radius * np.column_stack([np.cos(angle), np.sin(angle)]))


def _dashed_ring(middle: FloatArray, radius: float, dash: float) -> list[FloatArray]:
    count = max(8, round(2 * np.pi * radius / dash / 2))
    pieces = []
    for start in np.linspace(0, 2 * np.pi, count, endpoint=False):
        angle = start + np.linspace(0, np.pi / count, 4)
        pieces.append(middle + radius * np.column_stack([np.cos(angle), np.sin(angle)]))
    return pieces


def _ring_label(
    bgr: ByteImage, middle: FloatArray, radius_mm: int, crowd: Crowd, *, per_mm: float, letter_px: float
) -> None:
    """The ring's radius on a small plate, on the line that runs to the right of the centre."""
    label = f"{radius_mm} mm" if radius_mm == 10 else str(radius_mm)
    wide, tall = ink.text_size(label, letter_px)[0] + 0.5 * letter_px, 1.15 * letter_px
    at = Box(float(middle[0]) + radius_mm * per_mm - wide / 2, float(middle[1]) - tall / 2, wide, tall)
    box = at.within(bgr.shape[1], bgr.shape[0], margin=2)
    ink.rounded(bgr, box, INK, radius=0.25 * letter_px)
    ink.centred_text(bgr, box, label, letter_px, PAPER)
    crowd.take(box.grown(2), cost=50.0)


def _head_px(letter_px: float) -> int:
    return round(3.2 * letter_px)


def _head(disc: JudgedDisc, *, width_px: int, letter_px: float) -> ByteImage:
    """A strip with the verdict on the left and what the disc is on the right."""
    head = np.full((_head_px(letter_px), width_px, 3), INK[::-1], np.uint8)
    letter, label = 1.25 * letter_px, words.VERDICT[disc.verdict.action]
    tall = 1.9 * letter
    box = Box(0.8 * letter_px, (head.shape[0] - tall) / 2, _pill_width(label, letter), tall)
    _pill(head, box, disc, label, letter)
    what = words.what_it_is(disc.located.diameter_mm, disc.face.format, disc.face.side)
    left = box.x + box.width + letter_px
    size = min(letter_px, letter_px * (width_px - left - 0.8 * letter_px) / ink.text_size(what, letter_px)[0])
    wide = ink.text_size(what, size)[0]
    rest = Box(width_px - 0.8 * letter_px - wide, 0, wide, head.shape[0])
    ink.centred_text(head, rest, what, size, QUIET)
    return head
