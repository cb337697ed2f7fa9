"""Which traces are believed: a faint line is a scratch more often on a disc with many sure ones than on one without."""

from __future__ import annotations

import cv2
import numpy as np

from discscan.calibration import setting
from discscan.damage.maps import DamageMaps
from discscan.damage.measure import look_at
from discscan.damage.trace import Trace, means_along
from discscan.polylines import Polylines
from discscan.records import FlatDisc


def believed(traces: list[Trace], flat: FlatDisc, *, told: float) -> list[Trace]:
    """The traces that are likely enough, given the disc's other lines, with the probabilities that they then have.

    The net sees a piece of the disc at a time; how many lines there are differs from disc to disc by more than that
    tells. So the odds of each line rise with a power of the length that is sure elsewhere on the disc. A long line that
    stands out from the picture is told in any case, unless it might be one of the rings that a disc is made with.

    Args:
        told: mean probability that a line must have; those that have it without the others are the sure ones.
    """
    if not traces:
        return []
    lines = Polylines.of([trace.points_mm for trace in traces])
    probability = np.concatenate([trace.probability for trace in traces])
    mean = lines.means(probability)
    sure_mm = np.where(mean >= told, mean * lines.length, 0.0)
    others_mm = sure_mm.sum() - sure_mm
    times = ((1 + others_mm / setting("damage", "few_sure_mm")) ** setting("damage", "belief_power"))[lines.owner]
    probability = times * probability / (1 + (times - 1) * probability)
    likely = (lines.means(probability) >= told).tolist()
    raised = [Trace(trace.points_mm, mine) for trace, mine in zip(traces, lines.split(probability), strict=True)]
    sure = [trace for trace, is_so in zip(raised, likely, strict=True) if is_so]
    return sure + _plain([trace for trace, is_so in zip(raised, likely, strict=True) if not is_so], flat)


def without_grease(traces: list[Trace], maps: DamageMaps) -> list[Trace]:
    """Without those amid grease that are not quite sure: its streaks look like scratches, and a wipe will tell."""
    about = cv2.GaussianBlur(maps.smudge, (0, 0), setting("damage", "grease_about_mm") * maps.px_per_mm)
    amid = means_along(traces, np.asarray(about, np.float32), px_per_mm=maps.px_per_mm)
    grease, sure = setting("damage", "level.grease_about"), setting("damage", "level.line_amid_grease")
    return [
        trace for trace, share in zip(traces, amid, strict=True) if share < grease or trace.probability.mean() >= sure
    ]


def _plain(traces: list[Trace], flat: FlatDisc) -> list[Trace]:
    """Those that are long, stand out, and stray from every circle about the disc's centre."""
    long = [trace for trace in traces if trace.length_mm >= setting("damage", "plain_mm")]
    levels, stray_mm = setting("damage", "plain_levels"), setting("damage", "arc_stray_mm")
    looks = zip(long, look_at(long, flat), strict=True)
    return [trace for trace, look in looks if look.contrast >= levels and look.radius_spread_mm > stray_mm]
