"""The reliability diagram: what was forecast, and what came of it (DeGroot and Fienberg 1983, from memory), as SVG."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from discscan.lessons import Band, Lesson
from discscan.report.learn_words import DIAGRAM_ACROSS, DIAGRAM_TITLE, DIAGRAM_UP, lesson_lines

SIDE, MARGIN = 400, 60
"""Of the square and the space around it, in SVG units."""
_TICKS = (0, 0.25, 0.5, 0.75, 1)


def reliability_diagram(lesson: Lesson) -> str:
    """An SVG document: a point for each band with cases, its 90 % interval, its number of discs.

    A forecast that is right lies on the diagonal. What the picture shows is told in its description as well.
    """
    whole = SIDE + 2 * MARGIN
    told = escape(" ".join(line for line in lesson_lines(lesson) if line))
    points = [band for band in lesson.bands if band.forecast is not None]
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {whole} {whole}" role="img" '
        'font-family="sans-serif" font-size="13">',
        f"<title>{DIAGRAM_TITLE}</title><desc>{told}</desc>",
        f'<rect width="{whole}" height="{whole}" fill="white"/>',
        f'<rect x="{MARGIN}" y="{MARGIN}" width="{SIDE}" height="{SIDE}" fill="none" stroke="#444"/>',
        f'<path d="M{_x(0)} {_y(0)} L{_x(1)} {_y(1)}" stroke="#888" stroke-dasharray="6 4"/>',
        *_axes(),
        *(_point(band) for band in points),
        "</svg>",
    ]
    return "\n".join(parts) + "\n"


def _axes() -> Iterator[str]:
    middle = MARGIN + SIDE / 2
    yield f'<text x="{middle:g}" y="{MARGIN - 24}" text-anchor="middle" font-size="16">{DIAGRAM_TITLE}</text>'
    yield f'<text x="{middle:g}" y="{SIDE + MARGIN + 42}" text-anchor="middle">{DIAGRAM_ACROSS}</text>'
    turned = f'transform="rotate(-90 16 {middle:g})"'
    yield f'<text x="16" y="{middle:g}" text-anchor="middle" {turned}>{DIAGRAM_UP}</text>'
    for tick in _TICKS:
        yield f'<text x="{_x(tick)}" y="{SIDE + MARGIN + 20}" text-anchor="middle">{tick:.0%}</text>'
        yield f'<text x="{MARGIN - 6}" y="{_y(tick)}" text-anchor="end" dominant-baseline="middle">{tick:.0%}</text>'


def _point(band: Band) -> str:
    """A point where the share counted lies, a bar over what is to be expected."""
    assert band.forecast is not None
    played = band.played
    x, y = _x(band.forecast), _y(played.happened / played.cases)
    beside, anchor = (x + 9, "start") if band.forecast < 0.9 else (x - 9, "end")
    return (
        f'<path d="M{x} {_y(played.low)} L{x} {_y(played.high)}" stroke="#246" stroke-width="2"/>'
        f'<circle cx="{x}" cy="{y}" r="5" fill="#246"/>'
        f'<text x="{beside:g}" y="{y - 8:g}" text-anchor="{anchor}">n = {played.cases}</text>'
    )


def _x(share: float) -> float:
    return round(MARGIN + SIDE * share, 1)


def _y(share: float) -> float:
    return round(MARGIN + SIDE * (1 - share), 1)
