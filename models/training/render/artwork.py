"""Printed things on discs, drawn with cv2's own fonts: label art, hub text and bar code. All titles are made up."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

ByteImage = NDArray[np.uint8]

TITLES = (
    ("The Lamp at Fennick Point", "A film in two parts"),
    ("Nine Winters of Marrow Hill", "Feature"),
    ("Evening Ferries", "Saltmarsh Quartet"),
    ("Say It in Norvish", "Course two: at the market"),
    ("Lanternfall", "Game disc"),
    ("Bricks and Barges", "Game disc 1 of 2"),
    ("Songs from the Drying Loft", "Tarn Hollow Choir"),
    ("The Cartographer's Cat", "Children's stories"),
    ("Harbour Voices", "Recorded 1994"),
    ("A Short Course in Beekeeping", "With exercises"),
    ("Tidewater Lane", "Season one, disc 3"),
    ("Quiet Engines", "Ambient works"),
    ("Pocket Orchestra", "Twelve small pieces"),
    ("Grammar for the Ferry", "Language course"),
    ("Under the Copper Roof", "A film"),
)
NOTES = (
    "holiday",
    "backup 3",
    "mix for Ada",
    "lesson 7",
    "photos May",
    "copy",
    "library",
    "family",
    "demo",
    "tax papers",
    "slides",
    "old radio",
)
FONTS = (cv2.FONT_HERSHEY_SIMPLEX, cv2.FONT_HERSHEY_DUPLEX, cv2.FONT_HERSHEY_COMPLEX, cv2.FONT_HERSHEY_TRIPLEX)
WORDS = ["quay", "street", "exchange", "library", "shelf", "mark", "returned", "stall", "eleven", "copper", "ferry"]
WORDS += ["lantern", "harbour", "lesson", "winter", "lower", "market", "open"]


def write(
    image: ByteImage, words: str, x: int, y: int, height: int, colour: tuple[int, ...], font: int, bold: float = 1
) -> None:
    """Text whose left base line is at (x, y)."""
    scale = height / cv2.getTextSize("Hg", font, 1.0, 1)[0][1]
    cv2.putText(image, words, (x, y), font, scale, colour, max(1, int(bold * height / 14)), cv2.LINE_AA)


def text_width(words: str, height: int, font: int) -> int:
    scale = height / cv2.getTextSize("Hg", font, 1.0, 1)[0][1]
    return int(cv2.getTextSize(words, font, scale, 1)[0][0])


def _bend(strip: ByteImage, size: int, radius_px: float, at_rad: float) -> ByteImage:
    """A straight strip of writing bent about the picture's centre, its middle at `at_rad`, its top outwards."""
    turns = int(2 * np.pi * radius_px)
    ring = np.zeros((turns, size // 2), np.uint8)
    outside = min(int(radius_px) + strip.shape[0] // 2, size // 2)
    piece = cv2.resize(strip, (min(strip.shape[1], turns), strip.shape[0]))[:outside]
    ring[: piece.shape[1], outside - piece.shape[0] : outside] = piece[::-1].T
    ring = np.roll(ring, int(at_rad / (2 * np.pi) * turns) - piece.shape[1] // 2, 0)
    flags = cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR
    return np.asarray(cv2.warpPolar(ring, (size, size), (size / 2, size / 2), size / 2, flags), np.uint8)


def muted(rng: np.random.Generator) -> NDArray[np.float64]:
    """A colour as things have them: mostly dull, now and then vivid."""
    grey = rng.uniform(15, 245)
    return np.clip(grey + rng.normal(0, 1, 3) * 75 * rng.beta(1.2, 2.0), 0, 255)


def scenery(rng: np.random.Generator, height: int, width: int) -> ByteImage:
    """A made-up picture: three colours mingled by cloudy noise over a ramp, like a print seen in passing."""
    shape = height, width
    height, width = height // 2 + 1, width // 2 + 1
    field = np.zeros((height, width), np.float32)
    for octave in range(6):
        cells = 2 + 2 * 2**octave
        small = rng.normal(0, 0.55**octave, (cells, cells)).astype(np.float32)
        field += cv2.resize(small, (width, height), interpolation=cv2.INTER_CUBIC)
    field += np.linspace(-1, 1, height, dtype=np.float32)[:, None] * rng.uniform(-1.5, 1.5)
    level = np.clip((field - field.min()) / (np.ptp(field) + 1e-6) * 2, 0, 2)[..., None]
    low, middle, high = muted(rng) * 0.5, muted(rng), muted(rng)
    image = np.where(level < 1, low + (middle - low) * level, middle + (high - middle) * (level - 1))
    return np.asarray(cv2.resize(image.astype(np.uint8), shape[::-1], interpolation=cv2.INTER_LINEAR), np.uint8)


def label(seed: int, *, diameter_mm: int, style: str, px_per_mm: int = 12) -> tuple[ByteImage, ByteImage]:
    """RGB and cover (255 = ink) of a label, square about the centre, `px_per_mm`."""
    rng = np.random.default_rng(seed)
    size = int((diameter_mm + 4) * px_per_mm)
    ys, xs = np.mgrid[0:size, 0:size].astype(np.float32)
    x, y = (xs - size / 2) / px_per_mm, (ys - size / 2) / px_per_mm
    first, second = muted(rng), muted(rng)
    title, under = TITLES[rng.integers(len(TITLES))]
    font = FONTS[rng.integers(len(FONTS))]
    if style == "art":
        turn = rng.uniform(0, 2 * np.pi)
        ramp = np.clip(0.5 + (np.cos(turn) * x + np.sin(turn) * y) / 110, 0, 1)[..., None]
        image = np.ascontiguousarray((first + (second - first) * ramp).astype(np.uint8))
        pictured = rng.random() < 0.5
        if pictured:
            image = scenery(rng, size, size)
        for _ in range(int(rng.integers(0, 4) if pictured else rng.integers(2, 12))):
            shade = tuple(int(v) for v in muted(rng))
            spot = tuple(int(v) for v in rng.uniform(0, size, 2))
            kind = rng.integers(4)
            layer = image.copy()
            if kind == 0:
                cv2.circle(layer, spot, int(rng.uniform(3, 30) * px_per_mm), shade, -1, cv2.LINE_AA)
            elif kind == 1:
                cv2.ellipse(
                    layer,
                    spot,
                    tuple(int(v * px_per_mm) for v in rng.uniform(5, 50, 2)),
                    rng.uniform(0, 180),
                    0,
                    360,
                    shade,
                    int(rng.uniform(1, 30)),
                    cv2.LINE_AA,
                )
            elif kind == 2:
                cv2.fillPoly(
                    layer, [rng.uniform(0, size, (int(rng.integers(3, 6)), 2)).astype(np.int32)], shade, cv2.LINE_AA
                )
            else:
                points = np.stack(
                    [np.linspace(0, size, 30), size * (0.5 + 0.3 * np.cumsum(rng.normal(0, 0.12, 30)))], 1
                )
                cv2.polylines(layer, [points.astype(np.int32)], False, shade, int(rng.uniform(4, 60)), cv2.LINE_AA)
            image = cv2.addWeighted(layer, 0.85, image, 0.15, 0)
        ink = tuple(int(v) for v in ((8 if image.mean() > 120 else 245) + rng.uniform(-8, 8, 3)).clip(0, 255))
        cover = np.full((size, size), 255, np.uint8)
    else:
        image = np.full((size, size, 3), 244 if style == "inkjet" else 30, np.uint8)
        cover = np.full((size, size), 255 if style == "inkjet" else 0, np.uint8)
        ink = tuple(int(v) for v in (rng.uniform(0, 60, 3) if rng.random() < 0.7 else rng.uniform(0, 160, 3)))
    if rng.random() < 0.2:  # a price sticker
        turn, out = rng.uniform(0, 2 * np.pi), rng.uniform(30, 48) * diameter_mm / 120
        spot = (int(size / 2 + out * px_per_mm * np.cos(turn)), int(size / 2 + out * px_per_mm * np.sin(turn)))
        tint = [(250, 240, 90), (250, 250, 245), (250, 150, 60)][rng.integers(3)]
        cv2.circle(image, spot, int(rng.uniform(5, 9) * px_per_mm), tint, -1, cv2.LINE_AA)
        cv2.circle(cover, spot, int(rng.uniform(5, 9) * px_per_mm), (255,), -1, cv2.LINE_AA)
        write(
            image,
            f"{rng.integers(1, 9)}.50",
            spot[0] - int(4 * px_per_mm),
            spot[1] + px_per_mm,
            int(2.6 * px_per_mm),
            (20, 20, 20),
            FONTS[1],
            2,
        )
    canvas = image if style != "metal" else cover
    shade = ink if style != "metal" else (255,)
    if style == "metal":
        image[:] = ink
    if style == "inkjet":
        pen = tuple(int(v) for v in [(20, 20, 24), (20, 30, 120), (140, 20, 20)][rng.integers(3)])
        for line in range(int(rng.integers(1, 4))):
            _handwriting(rng, image, NOTES[rng.integers(len(NOTES))], size, px_per_mm, line, pen)
    else:
        height = int(rng.uniform(3, 7) * px_per_mm)
        while height > 12 and text_width(title, height, font) > 0.6 * size:
            height -= 2
        top = rng.random() < 0.6
        row = size / 2 - 33 * px_per_mm * diameter_mm / 120 if top else size / 2 + 38 * px_per_mm * diameter_mm / 120
        write(canvas, title, (size - text_width(title, height, font)) // 2, int(row), height, shade, font, 2)
        write(
            canvas,
            under,
            (size - text_width(under, height // 2, font)) // 2,
            int(row + height),
            height // 2,
            shade,
            font,
        )
        for line in range(int(rng.integers(0, 7))):
            words = f"{line + 1}. " + " ".join(rng.choice(WORDS, int(rng.integers(2, 4))))
            write(
                canvas,
                words,
                int(size / 2 + 23 * px_per_mm),
                int(size / 2 + (line - 3) * 3.2 * px_per_mm),
                int(1.7 * px_per_mm),
                shade,
                FONTS[0],
            )
        strip = np.zeros((4 * px_per_mm, int(2 * np.pi * 56 * px_per_mm), 1), np.uint8)
        legend = "  ".join(rng.choice(WORDS, 9)) + "  " + str(rng.integers(1000, 9999))
        write(
            strip,
            legend,
            strip.shape[1] // 2 - text_width(legend, int(1.5 * px_per_mm), FONTS[0]) // 2,
            3 * px_per_mm,
            int(1.5 * px_per_mm),
            (255,),
            FONTS[0],
        )
        bent = (
            _bend(strip, size, (diameter_mm / 2 - 3.8) * px_per_mm, rng.uniform(0, 2 * np.pi)).astype(np.float32)[
                ..., None
            ]
            / 255
        )
        canvas[:] = (
            (canvas.reshape(size, size, -1) * (1 - bent) + np.array(shade) * bent)
            .reshape(canvas.shape)
            .astype(np.uint8)
        )
    return image, cover


def _handwriting(
    rng: np.random.Generator, image: ByteImage, words: str, size: int, px_per_mm: int, line: int, pen: tuple[int, ...]
) -> None:
    """Slanted felt-pen letters."""
    height = int(rng.uniform(5, 9) * px_per_mm)
    layer = np.zeros((3 * height, text_width(words, height, cv2.FONT_HERSHEY_SCRIPT_SIMPLEX) + 2 * height), np.uint8)
    scale = height / cv2.getTextSize("Hg", cv2.FONT_HERSHEY_SCRIPT_SIMPLEX, 1.0, 1)[0][1]
    cv2.putText(
        layer,
        words,
        (height, 2 * height),
        cv2.FONT_HERSHEY_SCRIPT_SIMPLEX,
        scale,
        (255,),
        int(0.9 * px_per_mm),
        cv2.LINE_AA,
    )
    spot = np.array([size / 2, size / 2 + (-32 + 62 * (line % 2) + 9 * (line // 2)) * px_per_mm])
    turn, grow = rng.normal(0, 6), min(1.0, 0.62 * size / layer.shape[1])
    matrix = np.asarray(cv2.getRotationMatrix2D((layer.shape[1] / 2, layer.shape[0] / 2), turn, grow), np.float64)
    matrix[:, 2] += spot - np.array([layer.shape[1], layer.shape[0]]) / 2
    cover = cv2.warpAffine(layer, matrix, (size, size), flags=cv2.INTER_LINEAR).astype(np.float32)[..., None] / 255
    image[:] = (image * (1 - cover) + np.array(pen) * cover).astype(np.uint8)


def hub_strip(seed: int, *, inner_mm: float = 14.0, outer_mm: float = 24.0, px_per_mm: int = 16) -> ByteImage:
    """Polar strip (rows: radius from inner to outer, columns: a whole turn) of mould text and bar code; 255 = dark."""
    rng = np.random.default_rng(seed)
    rows, columns = int((outer_mm - inner_mm) * px_per_mm), 2048
    strip = np.zeros((rows, columns), np.uint8)
    mirrored = rng.random() < 0.5

    def stamp(words: str, radius_mm: float, height_mm: float, at: int, font: int) -> None:
        squeeze = columns / (2 * np.pi * radius_mm * px_per_mm)
        height = int(height_mm * px_per_mm)
        width = text_width(words, height, font)
        piece = np.zeros((2 * height, width + 8), np.uint8)
        write(piece, words, 4, int(1.5 * height), height, (255,), font)
        size = (max(4, int(piece.shape[1] * squeeze)), piece.shape[0])
        piece = np.asarray(cv2.resize(piece, size, interpolation=cv2.INTER_AREA), np.uint8)
        piece = piece[:, ::-1] if mirrored else piece
        top = int((radius_mm - inner_mm) * px_per_mm) - height
        piece = piece[::-1]  # letters stand on the inner side
        columns_at = (at + np.arange(piece.shape[1])) % columns
        rows_at = np.clip(top + np.arange(piece.shape[0]), 0, rows - 1)
        strip[np.ix_(rows_at, columns_at)] = np.maximum(strip[np.ix_(rows_at, columns_at)], piece)

    at = int(rng.integers(columns))
    if rng.random() < 0.85:
        code = "".join(rng.choice(list("ABCDEFGHKLMNPRSTUVXYZ0123456789"), int(rng.integers(8, 16))))
        stamp(code, rng.uniform(19.5, 21.5), rng.uniform(0.9, 1.6), at, FONTS[0])
    if rng.random() < 0.6:
        stamp(
            "".join(rng.choice(list("0123456789"), 10)),
            rng.uniform(15, 19),
            rng.uniform(0.8, 2.2),
            at + 900,
            cv2.FONT_HERSHEY_PLAIN,
        )
    if rng.random() < 0.6:
        low = int((rng.uniform(20.2, 21.4) - inner_mm) * px_per_mm)
        for column in range(0, int(rng.uniform(150, 420)), 3):
            if rng.random() < 0.55:
                strip[low : low + int(0.9 * px_per_mm), (at + 700 + column) % columns] = 230
                strip[low : low + int(0.9 * px_per_mm), (at + 701 + column) % columns] = 230
    return np.asarray(cv2.GaussianBlur(strip, (0, 0), 0.8), np.uint8)
