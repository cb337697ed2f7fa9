"""What print is made of, in cv2's own fonts: writing, pictures, hub text and bar code. All titles are made up."""

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


def bend(strip: ByteImage, size: int, radius_px: float, at_rad: float) -> ByteImage:
    """A straight strip of writing bent about the picture's centre, its middle at `at_rad`, its top outwards."""
    turns = int(2 * np.pi * radius_px)
    ring = np.zeros((turns, size // 2), np.uint8)
    outside = min(int(radius_px) + strip.shape[0] // 2, size // 2)
    piece = cv2.resize(strip, (min(strip.shape[1], turns), strip.shape[0]))[:outside]
    ring[: piece.shape[1], outside - piece.shape[0] : outside] = piece[::-1].T
    ring = np.roll(ring, int(at_rad / (2 * np.pi) * turns) - piece.shape[1] // 2, 0)
    flags = cv2.WARP_INVERSE_MAP | cv2.INTER_LINEAR | cv2.WARP_FILL_OUTLIERS  # else what lies outside is left to chance
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
