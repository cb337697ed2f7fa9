"""A label side's print, and price stickers on either side, drawn with cv2's own fonts. All titles are made up."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

from models.training.render.writing import (
    FONTS,
    NOTES,
    TITLES,
    WORDS,
    ByteImage,
    bend,
    muted,
    scenery,
    text_width,
    write,
)

PX_PER_MM = 12
Colour = tuple[int, ...]
PENS: tuple[Colour, ...] = ((20, 20, 24), (20, 30, 120), (140, 20, 20))
PAPERS: tuple[Colour, ...] = ((250, 240, 90), (250, 250, 245), (250, 150, 60), (170, 230, 160), (240, 160, 190))


@dataclass
class Sheet:
    """Ink laid on a square about the disc's centre, `PX_PER_MM`.

    Attributes:
        image: rgb (side, side, 3).
        cover: (side, side), 255 where ink hides what is under it.
    """

    image: ByteImage
    cover: ByteImage
    diameter_mm: int

    @classmethod
    def blank(cls, diameter_mm: int) -> Sheet:
        side = (diameter_mm + 4) * PX_PER_MM
        return cls(np.zeros((side, side, 3), np.uint8), np.zeros((side, side), np.uint8), diameter_mm)

    @property
    def side(self) -> int:
        return len(self.cover)

    def lay(self, mask: ByteImage, colour: Colour | ByteImage, share: float = 1.0) -> None:
        """Ink of this colour where the mask is 255, hiding a share of what is below."""
        left, top, width, height = cv2.boundingRect(mask)  # most ink covers little of a label
        if not width:
            return
        here = slice(top, top + height), slice(left, left + width)
        where = cv2.multiply(mask[here], np.full_like(mask[here], 255), scale=share / 255)
        paint = np.broadcast_to(np.asarray(colour, np.uint8), self.image.shape)[here]
        under, over = 1 - where[..., None] / np.float32(255), where[..., None] / np.float32(255)
        self.image[here] = (self.image[here] * under + paint * over).astype(np.uint8)
        self.cover[here] = np.maximum(self.cover[here], where)

    def mask(self) -> ByteImage:
        return np.zeros((self.side, self.side), np.uint8)


def label(seed: int, *, diameter_mm: int, style: str) -> Sheet:
    """A label: "art" all over, in "part" of the metal, on a "glaze" or bare "metal", or "inkjet", white and written on.

    What a style leaves bare is the metal's to show. A glaze is never all: of itself it might be a data side's dye.
    """
    rng = np.random.default_rng(seed)
    sheet = Sheet.blank(diameter_mm)
    if style == "inkjet":
        sheet.lay(sheet.mask() + 255, _paper(rng))
    elif style in ("art", "part"):
        sheet.lay(sheet.mask() + 255 if style == "art" else _region(rng, sheet), _ground(rng, sheet.side))
    if style != "inkjet":
        most = {"art": 12, "part": 8, "glaze": 8, "metal": 8}[style]
        bare = rng.random() < {"art": 0.25, "part": 0.3, "glaze": 0.0, "metal": 0.6}[style]
        for _ in range(0 if bare else int(rng.integers(2, most))):
            sheet.lay(_shape(rng, sheet), tuple(muted(rng)), 0.85 if rng.random() < 0.5 else 1.0)
    if style == "inkjet" or (style in ("metal", "glaze") and rng.random() < 0.3):
        pen = PENS[rng.integers(len(PENS))]
        for line in range(int(rng.integers(1, 4))):
            _handwriting(rng, sheet, NOTES[rng.integers(len(NOTES))], line, pen)
    if style != "inkjet" and (rng.random() < 0.9 or not sheet.cover.any()):
        _print(rng, sheet, _ink(rng, sheet, style))
    if rng.random() < 0.2:
        stick(rng, sheet)
    return sheet


def stick(rng: np.random.Generator, sheet: Sheet) -> None:
    """A price sticker somewhere between hub and rim, round or cut square."""
    turn, out = rng.uniform(0, 2 * np.pi), rng.uniform(30, 50) * sheet.diameter_mm / 120
    centre = sheet.side / 2 + out * PX_PER_MM * np.array([np.cos(turn), np.sin(turn)])
    high = rng.uniform(7, 18) * PX_PER_MM
    wide = high if (is_round := rng.random() < 0.5) else high * rng.uniform(0.8, 2.0)
    reach = int(np.hypot(high, wide) / 2) + 2
    paper = np.full((2 * reach, 2 * reach, 3), PAPERS[rng.integers(len(PAPERS))], np.uint8)
    outline = np.zeros((2 * reach, 2 * reach), np.uint8)
    if is_round:
        cv2.circle(outline, (reach, reach), int(high / 2), (255,), -1, cv2.LINE_AA)
    else:
        low = (int(reach - wide / 2), int(reach - high / 2))
        cv2.rectangle(outline, low, (2 * reach - low[0], 2 * reach - low[1]), (255,), -1)
    words = f"{rng.integers(1, 30)}.{rng.choice(['00', '50', '95', '99'])}" if rng.random() < 0.8 else "Quay Street"
    size = int(high * rng.uniform(0.15, 0.35))
    while size > 8 and text_width(words, size, FONTS[1]) > 0.85 * wide:
        size -= 1
    at = reach - text_width(words, size, FONTS[1]) // 2
    write(paper, words, at, reach + size // 2, size, (20, 20, 20), FONTS[1], 2)
    bars = 24 if rng.integers(0, 2) else 0  # a bar code under it
    for k in range(bars):
        if rng.random() < 0.5:
            x, y = int(reach + (k - 12) * wide / 40), int(reach + 0.25 * high)
            cv2.rectangle(paper, (x, y), (int(x + wide / 50), int(y + 0.16 * high)), (20, 20, 20), -1)
    matrix = np.asarray(cv2.getRotationMatrix2D((reach, reach), rng.uniform(0, 360), 1.0), np.float64)
    matrix[:, 2] += centre - reach
    size_px = (sheet.side, sheet.side)
    sheet.lay(
        np.asarray(cv2.warpAffine(outline, matrix, size_px), np.uint8),
        np.asarray(cv2.warpAffine(paper, matrix, size_px, borderMode=cv2.BORDER_REPLICATE), np.uint8),
    )


def _paper(rng: np.random.Generator) -> Colour:
    """A matt face for handwriting: white as a rule, else some pale or grey coat."""
    if rng.random() < 0.7:
        return (244, 244, 244)
    return tuple(np.clip(rng.uniform(140, 235) + rng.normal(0, 12, 3), 0, 255).astype(int).tolist())


def _ground(rng: np.random.Generator, side: int) -> ByteImage:
    """What a printed face is covered with: one colour, a ramp along a line or the radius, or a picture."""
    look = rng.choice(["even", "ramp", "round", "picture"], p=[0.15, 0.25, 0.1, 0.5])
    if look == "picture":
        return scenery(rng, side, side)
    first, second = muted(rng), muted(rng)
    if look == "even":
        second = first + rng.normal(0, 4, 3)
    ys, xs = np.mgrid[0:side, 0:side].astype(np.float32) / side - 0.5
    turn = rng.uniform(0, 2 * np.pi)
    place = 0.5 + np.cos(turn) * xs + np.sin(turn) * ys if look != "round" else 2 * np.hypot(xs, ys)
    ramp = np.clip(place, 0, 1)[..., None]
    return np.asarray(np.clip(first + (second - first) * ramp, 0, 255), np.uint8)


def _region(rng: np.random.Generator, sheet: Sheet) -> ByteImage:
    """The part of a face that is printed: one side of a line, a ring, a wide bow, or all but a window."""
    ys, xs = (np.mgrid[0 : sheet.side, 0 : sheet.side].astype(np.float32) - sheet.side / 2) / PX_PER_MM
    turn, outer = rng.uniform(0, 2 * np.pi), sheet.diameter_mm / 2
    along = np.cos(turn) * xs + np.sin(turn) * ys
    look = rng.integers(4)
    if look == 0:
        inside = along > rng.uniform(-0.5, 0.6) * outer
    elif look == 1:
        low, high = np.sort(rng.uniform(20, outer, 2))
        inside = (np.hypot(xs, ys) > low) & (np.hypot(xs, ys) < max(high, low + 5))
    else:
        spot = rng.uniform(0.2, 0.9) * outer * np.array([np.cos(turn), np.sin(turn)])
        inside = np.hypot(xs - spot[0], ys - spot[1]) < rng.uniform(0.3, 1.1) * outer
    mask = (inside ^ (look == 3)).astype(np.uint8) * np.uint8(255)
    return np.asarray(cv2.GaussianBlur(mask, (0, 0), 1.0), np.uint8)


def _shape(rng: np.random.Generator, sheet: Sheet) -> ByteImage:
    """A disc, an oval line, a rectangle or another polygon, a straight bar, a wandering line, or a ring all round."""
    mask, side = sheet.mask(), sheet.side
    spot = tuple(rng.integers(0, side, 2).tolist())
    kind = rng.integers(8)
    if kind == 0:
        cv2.circle(mask, spot, int(rng.uniform(3, 30) * PX_PER_MM), (255,), -1, cv2.LINE_AA)
    elif kind == 1:
        axes = tuple((rng.uniform(5, 50, 2) * PX_PER_MM).astype(int).tolist())
        cv2.ellipse(mask, spot, axes, rng.uniform(0, 180), 0, 360, (255,), int(rng.uniform(1, 30)), cv2.LINE_AA)
    elif kind == 2:
        corners = rng.uniform(0, side, (int(rng.integers(3, 6)), 2)).astype(np.int32)
        cv2.fillPoly(mask, [corners], (255,), cv2.LINE_AA)
    elif kind == 3:
        size = rng.uniform(4, 40, 2) * PX_PER_MM
        box = cv2.boxPoints((spot, tuple(size.tolist()), rng.uniform(0, 90)))
        cv2.fillPoly(mask, [box.astype(np.int32)], (255,), cv2.LINE_AA)
    elif kind == 4:
        ends = rng.integers(0, side, (2, 2)).tolist()
        cv2.line(mask, tuple(ends[0]), tuple(ends[1]), (255,), int(rng.uniform(3, 60)), cv2.LINE_AA)
    elif kind >= 6:  # looks like a rim
        radius, wide = rng.uniform(14, sheet.diameter_mm / 2) * PX_PER_MM, rng.uniform(0.5, 14) * PX_PER_MM
        cv2.circle(mask, (side // 2, side // 2), int(radius), (255,), int(wide), cv2.LINE_AA)
    else:
        points = np.stack([np.linspace(0, side, 30), side * (0.5 + 0.3 * np.cumsum(rng.normal(0, 0.12, 30)))], 1)
        cv2.polylines(mask, [points.astype(np.int32)], False, (255,), int(rng.uniform(4, 60)), cv2.LINE_AA)
    return mask


def _ink(rng: np.random.Generator, sheet: Sheet, style: str) -> Colour:
    """Of the writing: dark or light against a print, dark on metal, now and then in colour."""
    if style == "art":
        level = 8 if sheet.image.mean() > 120 else 245
        return tuple(np.clip(level + rng.uniform(-8, 8, 3), 0, 255).astype(int).tolist())
    return tuple(rng.integers(0, 60 if rng.random() < 0.7 else 200, 3).tolist())


def _print(rng: np.random.Generator, sheet: Sheet, ink: Colour) -> None:
    """Title, a list of contents, and a legend along the rim."""
    words, side = sheet.mask(), sheet.side
    title, under = TITLES[rng.integers(len(TITLES))]
    font = FONTS[rng.integers(len(FONTS))]
    height = int(rng.uniform(2, 7) * PX_PER_MM)
    while height > 12 and text_width(title, height, font) > 0.6 * side:
        height -= 2
    row = side / 2 + (-33 if rng.random() < 0.6 else 38) * PX_PER_MM * sheet.diameter_mm / 120
    for text, size, down in ((title, height, 0), (under, height // 2, height)):
        write(words, text, (side - text_width(text, size, font)) // 2, int(row + down), size, (255,), font, 2)
    for line in range(int(rng.integers(0, 7))):
        text = f"{line + 1}. " + " ".join(rng.choice(WORDS, int(rng.integers(2, 4))))
        at = int(side / 2 + 23 * PX_PER_MM), int(side / 2 + (line - 3) * 3.2 * PX_PER_MM)
        write(words, text, *at, int(1.7 * PX_PER_MM), (255,), FONTS[0])
    if rng.random() < 0.7:
        strip = np.zeros((4 * PX_PER_MM, int(2 * np.pi * 56 * PX_PER_MM), 1), np.uint8)
        legend, size = "  ".join(rng.choice(WORDS, 9)) + f"  {rng.integers(1000, 9999)}", int(1.5 * PX_PER_MM)
        at = strip.shape[1] // 2 - text_width(legend, size, FONTS[0]) // 2, 3 * PX_PER_MM
        write(strip, legend, *at, size, (255,), FONTS[0])
        radius_px = (sheet.diameter_mm / 2 - 3.8) * PX_PER_MM
        words = np.maximum(words, bend(strip, side, radius_px, rng.uniform(0, 2 * np.pi)))
    sheet.lay(words, ink)


def _handwriting(rng: np.random.Generator, sheet: Sheet, words: str, line: int, pen: Colour) -> None:
    """Slanted felt-pen letters."""
    font, side = cv2.FONT_HERSHEY_SCRIPT_SIMPLEX, sheet.side
    height = int(rng.uniform(5, 9) * PX_PER_MM)
    layer = np.zeros((3 * height, text_width(words, height, font) + 2 * height), np.uint8)
    scale = height / cv2.getTextSize("Hg", font, 1.0, 1)[0][1]
    cv2.putText(layer, words, (height, 2 * height), font, scale, (255,), int(0.9 * PX_PER_MM), cv2.LINE_AA)
    spot = np.array([side / 2, side / 2 + (-32 + 62 * (line % 2) + 9 * (line // 2)) * PX_PER_MM])
    turn, grow = rng.normal(0, 6), min(1.0, 0.62 * side / layer.shape[1])
    matrix = np.asarray(cv2.getRotationMatrix2D((layer.shape[1] / 2, layer.shape[0] / 2), turn, grow), np.float64)
    matrix[:, 2] += spot - np.array([layer.shape[1], layer.shape[0]]) / 2
    sheet.lay(np.asarray(cv2.warpAffine(layer, matrix, (side, side), flags=cv2.INTER_LINEAR), np.uint8), pen)
