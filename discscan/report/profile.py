"""The forecast by radius as a small SVG picture: how much of the tracks is expected not to read, from hub to rim."""

from __future__ import annotations

from html import escape

from discscan.report.schema import DiscReport
from discscan.report.words import BY_RADIUS, BY_RADIUS_ACROSS, by_radius_line

WIDTH, HEIGHT = 360, 96
_LEFT, _TOP, _FLOOR = 6, 8, 66
"""In SVG units: the margins, and where the bars stand."""

_LEAST = 0.01
"""The tallest bar stands for at least this share, so that a trace of loss does not look like ruin."""


def radius_profile(disc: DiscReport) -> str:
    """An SVG element for a page; "" where all tracks are expected to read.

    A bar for each band of radius, the tallest filling the picture and told in per cent. What it shows is told in its
    description as well.
    """
    told = by_radius_line(disc)
    if not told or disc.playback is None:
        return ""
    bands = disc.playback.unreadable_by_radius
    first, last = bands[0].radius_min_mm, bands[-1].radius_max_mm
    most = max(_LEAST, *(band.unreadable_fraction for band in bands))

    def across(radius_mm: float) -> float:
        return _LEFT + (WIDTH - 2 * _LEFT) * (radius_mm - first) / (last - first)

    bars, tops = [], _FLOOR - _TOP
    for band in bands:
        left, right = across(band.radius_min_mm), across(band.radius_max_mm)
        tall = tops * band.unreadable_fraction / most
        if tall > 0:
            tall = max(tall, 1.5)
            bars.append(
                f'<rect x="{left:.1f}" y="{_FLOOR - tall:.1f}" width="{right - left - 1:.1f}" height="{tall:.1f}"/>'
            )
    ticks = [
        f'<text x="{across(radius):.1f}" y="{_FLOOR + 14}" text-anchor="middle">{radius}</text>'
        for radius in range(30, int(last) + 1, 10)
    ]
    return "".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" class="by-radius" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" '
            'font-family="sans-serif" font-size="11">',
            f"<title>{BY_RADIUS}</title><desc>{escape(told)}</desc>",
            f'<g fill="#a33">{"".join(bars)}</g>',
            f'<line x1="{_LEFT}" y1="{_FLOOR}" x2="{WIDTH - _LEFT}" y2="{_FLOOR}" stroke="#444"/>',
            f'<g fill="currentColor">{"".join(ticks)}',
            f'<text x="{WIDTH / 2:.0f}" y="{HEIGHT - 4}" text-anchor="middle">{BY_RADIUS_ACROSS}</text></g></svg>',
        ]
    )
