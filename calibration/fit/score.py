"""How good the forecasts were: Brier score, bands, coverage, actions; and the reliability diagram."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from statistics import NormalDist

import numpy as np

from calibration.fit.trials import Asked
from discscan.records import Action, FloatArray

BANDS = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.9, 0.95, 1.0)
COVERED = 0.01
TENTHS = tuple(edge / 10 for edge in range(11))
ACTIONS: tuple[Action, ...] = ("play", "resurface", "pass")


def lines(asked: Sequence[Asked], edges: Sequence[float] = BANDS) -> Iterator[str]:
    """The scores as text, each with its number of discs; `edges` part the forecasts into bands."""
    chance = np.array([one.chance.probability for one in asked])
    truth = np.array([one.plays.mean() for one in asked])
    away = np.array([not 0 < one.plays.mean() < 1 for one in asked])
    yield f"  {truth.mean():.2f} play, forecast {chance.mean():.2f}"
    whole, plain = brier(chance, truth), brier(chance[away], truth[away])
    yield f"  Brier score {whole:.4f}; of the {away.sum()} away from a limit {plain:.4f}"
    for name in ("cd", "dvd", "bd"):
        of = away & np.array([one.format == name for one in asked])
        yield f"    {name}: {brier(chance[of], truth[of]):.4f} of {of.sum()}"
    low = np.array([one.chance.low for one in asked]) - COVERED
    high = np.array([one.chance.high for one in asked]) + COVERED
    yield f"  90 % intervals that hold the disc's share of drives: {np.mean((low <= truth) & (truth <= high)):.2f}"
    for band in bands(chance, truth, edges):
        yield "    forecast {:.2f}: {:.2f} play, of {}".format(*band)
    yield from actions("all", asked)
    yield from actions("away from a limit", [one for one in asked if one.away])


def brier(chance: FloatArray, truth: FloatArray) -> float:
    """Mean over discs and drives of (forecast - outcome)^2 (Brier 1950)."""
    return float(np.mean((chance - truth) ** 2 + truth * (1 - truth))) if len(chance) else float("nan")


def bands(chance: FloatArray, truth: FloatArray, edges: Sequence[float] = BANDS) -> list[tuple[float, float, int]]:
    """Mean forecast, share that play, number of discs, for each band of forecasts that has any."""
    index = np.clip(np.searchsorted(edges, chance, side="left") - 1, 0, len(edges) - 2)
    return [
        (float(chance[index == i].mean()), float(truth[index == i].mean()), int((index == i).sum()))
        for i in np.unique(index)
    ]


def actions(name: str, asked: Sequence[Asked]) -> Iterator[str]:
    """How often the right action was asked for; photographs sent back for another are counted, not judged."""
    counts = Counter((one.right, one.action) for one in asked)
    right = sum(counts[action, action] for action in ACTIONS)
    again = sum(one.action == "retake" for one in asked)
    judged = len(asked) - again
    yield (
        f"  {name}: action right on {right / max(1, judged):.3f} of {judged}; "
        f"another photo asked for: {again} of {len(asked)} ({again / max(1, len(asked)):.3f})"
    )
    for action in ACTIONS:
        whole = sum(counts[action, said] for said in ACTIONS)
        said = ", ".join(f"{counts[action, other]} {other}" for other in ACTIONS)
        sent = counts[action, "retake"]
        yield f"    {action}: {counts[action, action] / max(1, whole):.2f} of {whole} ({said}); {sent} sent back"


SIDE, MARGIN = 400, 60


def diagram(asked: Sequence[Asked]) -> str:
    """The reliability diagram as SVG: forecasts that are right lie on the diagonal; bars are 90 % Wilson intervals."""
    chance = np.array([one.chance.probability for one in asked])
    truth = np.array([one.plays.mean() for one in asked])
    whole = SIDE + 2 * MARGIN
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {whole} {whole}" '
        'font-family="sans-serif" font-size="13">',
        f"<title>Forecast and outcome of {len(asked)} discs</title>",
        f'<rect width="{whole}" height="{whole}" fill="white"/>',
        f'<rect x="{MARGIN}" y="{MARGIN}" width="{SIDE}" height="{SIDE}" fill="none" stroke="#444"/>',
        f'<line x1="{_x(0)}" y1="{_y(0)}" x2="{_x(1)}" y2="{_y(1)}" stroke="#888" stroke-dasharray="4"/>',
        f'<text x="{whole / 2}" y="{whole - 20}" text-anchor="middle">forecast</text>',
        f'<text x="20" y="{whole / 2}" text-anchor="middle" transform="rotate(-90 20 {whole / 2})">'
        "share that play</text>",
    ]
    for tick in (0, 0.25, 0.5, 0.75, 1):
        parts.append(f'<text x="{_x(tick):.0f}" y="{MARGIN + SIDE + 18}" text-anchor="middle">{tick}</text>')
        parts.append(f'<text x="{MARGIN - 8}" y="{_y(tick) + 4:.0f}" text-anchor="end">{tick}</text>')
    for forecast, plays, count in bands(chance, truth):
        at, (low, high) = _x(forecast), wilson(plays, count)
        parts.append(
            f'<line x1="{at:.1f}" y1="{_y(low):.1f}" x2="{at:.1f}" y2="{_y(high):.1f}" stroke="#246"/>'
            f'<circle cx="{at:.1f}" cy="{_y(plays):.1f}" r="4" fill="#246"/>'
            f'<text x="{at - 8:.1f}" y="{_y(plays) + 4:.1f}" font-size="11" text-anchor="end">{count}</text>'
        )
    return "\n".join([*parts, "</svg>", ""])


def _x(share: float) -> float:
    return MARGIN + SIDE * share


def _y(share: float) -> float:
    return MARGIN + SIDE * (1 - share)


def wilson(share: float, count: int) -> tuple[float, float]:
    """90 % interval of a share (Wilson 1927)."""
    z = NormalDist().inv_cdf(0.95)
    middle = (share + z * z / (2 * count)) / (1 + z * z / count)
    half = z / (1 + z * z / count) * np.sqrt(share * (1 - share) / count + z * z / (4 * count * count))
    return float(middle - half), float(middle + half)
