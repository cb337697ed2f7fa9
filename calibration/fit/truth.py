"""Plays a disc of which all is known: share of the beam that is blocked at every place of every turn, and then
`correctable`, which counts what the decoders mend.

The forecast takes none of these steps: it has no cells, adds millimetres, and knows neither depth nor true width. Both
share what physics is not known better: from which share on light and tracking are lost, and the allowance for tracking
(calibration/house.toml).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.fit.discs import Groove, TrueDisc
from calibration.fit.numbers import number
from discscan.calibration import limit
from discscan.playback import correctable
from discscan.playback.beam import blocked_share
from discscan.playback.bursts import budget
from discscan.records import FloatArray

Cells = NDArray[np.float32]
SURELY_MENDED = 0.3
"""Turns on which less than this share of the smallest budget is lost are not counted: no code comes near its limit."""

MASK_PX_PER_MM = 20


@dataclass(frozen=True)
class Drive:
    """From which blocked share on it loses light or tracking, and whether it marks what is lost."""

    blocked: float
    tracking: float
    flagged: bool


@dataclass(frozen=True)
class Shade:
    """What takes the beam on each turn (rows) and cell (columns).

    Attributes:
        blocked: share of the beam, summed over the grooves, at most 1.
        leaning: the largest share that one groove takes, weighted by how hard it pulls at the tracking: grooves on both
            sides of the beam pull against each other.
    """

    turns_mm: FloatArray
    blocked: Cells
    leaning: Cells


def draw_drives(rng: np.random.Generator, name: str) -> list[Drive]:
    """Half of the doubt about a threshold is that of all drives together, half that of each."""
    flags = limit("bd_drives_with_flags" if name == "bd" else "drives_with_flags").value
    ours = rng.random(2)

    def threshold(which: int, low: str, high: str) -> float:
        at = float(ours[which] + rng.random()) / 2
        return limit(low).value + (limit(high).value - limit(low).value) * at

    return [
        Drive(
            threshold(0, "blocked_share_low", "blocked_share_high"),
            threshold(1, "tracking_share_low", "tracking_share_high"),
            bool(rng.random() < flags),
        )
        for _ in range(int(number("drives.count")))
    ]


def plays(disc: TrueDisc, drives: Sequence[Drive], *, removed_um: float = 0.0) -> NDArray[np.bool_]:
    """In which drives all that is recorded reads, after a polish that took off `removed_um`."""
    cracked = any(
        g.kind == "crack" and np.hypot(*g.points_mm.T).max() > disc.disc.lead_in_radius_mm for g in disc.grooves
    )
    if cracked:
        return np.zeros(len(drives), bool)
    shade = shade_of(disc, removed_um=removed_um)
    weakest = Drive(min(d.blocked for d in drives), min(d.tracking for d in drives), all(d.flagged for d in drives))
    if reads(disc, shade, weakest):
        return np.ones(len(drives), bool)
    return np.array([reads(disc, shade, drive) for drive in drives])


def shade_of(disc: TrueDisc, *, removed_um: float) -> Shade:
    turns = np.arange(disc.disc.lead_in_radius_mm, disc.recorded_to_mm, number("drives.turn_step_mm"))
    cells = int(number("drives.cells_per_turn"))
    blocked, leaning = (np.zeros((len(turns), cells), np.float32) for _ in range(2))
    dims = limit("smudge_dims_up_to").value * _covered(disc, ("smudge",), turns, cells)
    layer = np.zeros_like(blocked)
    for groove in disc.grooves:
        rows = _lay(groove, disc, turns, layer, removed_um)
        pull = 1 / limit("ring_arc_tracking_factor").value if groove.kind == "ring_arc" else 1.0
        blocked[rows] += layer[rows]
        np.maximum(leaning[rows], pull * layer[rows], out=leaning[rows])
        layer[rows] = 0
    np.add(blocked, dims, out=blocked, where=blocked > 0)
    lost = ("delamination", "label_damage") if disc.disc.name == "cd" else ("delamination",)
    gone = (_covered(disc, lost, turns, cells) > 0).astype(np.float32)
    for total in (blocked, leaning):
        np.maximum(total, gone, out=total)
    return Shade(turns, np.minimum(blocked, 1), leaning)


def _lay(groove: Groove, disc: TrueDisc, turns: FloatArray, layer: Cells, removed_um: float) -> slice:
    """Write one groove's share of the beam into `layer`; returns the rows that it may have touched."""
    beam, step, cells = disc.disc.beam_mm, turns[1] - turns[0], layer.shape[1]
    left = 1.0
    depth = groove.depth_um.max(initial=0)
    if groove.polishes and removed_um:
        left = max(0.0, 1 - removed_um / max(depth, 1e-9))
    first, last = len(turns), 0
    points = groove.points_mm
    for a, b, width_um, depth_um in zip(
        points[:-1], points[1:], (groove.width_um[:-1] + groove.width_um[1:]) / 2, groove.depth_um[:-1], strict=True
    ):
        width, deep = left * width_um / 1000, left * depth_um
        if width <= 0 or deep <= 0:
            continue
        reach = (beam + width) / 2
        radius = np.hypot([a[0], b[0]], [a[1], b[1]])
        low = max(0, int(np.ceil((radius.min() - reach - turns[0]) / step)))
        high = min(len(turns), int((radius.max() + reach - turns[0]) / step) + 1)
        if low >= high:
            continue
        middle = np.arctan2(a[1] + b[1], a[0] + b[0])
        half = (np.hypot(*(b - a)) / 2 + reach) / max(radius.min() - reach, 1.0)
        column = np.arange(
            int((middle - half) * cells / (2 * np.pi)) - 1, int((middle + half) * cells / (2 * np.pi)) + 2
        )
        theta = column * (2 * np.pi / cells)
        x, y = turns[low:high, None] * np.cos(theta), turns[low:high, None] * np.sin(theta)
        along = b - a
        share = np.clip(((x - a[0]) * along[0] + (y - a[1]) * along[1]) / max(along @ along, 1e-12), 0, 1)
        away = np.hypot(x - a[0] - share * along[0], y - a[1] - share * along[1])
        thrown = 1 - np.exp(-deep / limit("scatter_depth_um").value)
        part = thrown * blocked_share(width_mm=width, beam_mm=beam, offset_mm=away)
        column %= cells
        layer[low:high, column] = np.maximum(layer[low:high, column], part)
        first, last = min(first, low), max(last, high)
    return slice(first, max(first, last))


def _covered(disc: TrueDisc, kinds: tuple[str, ...], turns: FloatArray, cells: int) -> Cells:
    """Strength of the areas of these kinds at each cell."""
    areas = [patch for patch in disc.patches if patch.kind in kinds]
    if not areas:
        return np.zeros((1, 1), np.float32)
    side = 124 * MASK_PX_PER_MM
    flat = np.zeros((side, side), np.uint8)
    for patch in areas:
        corners = np.round((patch.border_mm * MASK_PX_PER_MM + side / 2) * 16).astype(np.int32)
        one = np.zeros_like(flat)
        cv2.fillPoly(one, [corners], (255 if patch.kind != "smudge" else round(255 * patch.strength),), cv2.LINE_8, 4)
        np.maximum(flat, one, out=flat)
    theta = np.arange(cells) * (2 * np.pi / cells)
    x = (turns[:, None] * np.cos(theta) * MASK_PX_PER_MM + side / 2).astype(np.float32)
    y = (turns[:, None] * np.sin(theta) * MASK_PX_PER_MM + side / 2).astype(np.float32)
    return np.asarray(cv2.remap(flat, x, y, cv2.INTER_NEAREST) / np.float32(255))


def reads(disc: TrueDisc, shade: Shade, drive: Drive) -> bool:
    """Whether every turn reads; those with the most loss are tried first."""
    lost = shade.blocked > drive.blocked
    leaning = shade.leaning > drive.tracking
    code = budget(disc.disc)
    whole = code.flagged_mm if drive.flagged else code.unflagged_mm
    turns = np.flatnonzero(lost.any(axis=1) | leaning.any(axis=1))
    loads = {}
    for turn in turns:
        step = 2 * np.pi * shade.turns_mm[turn] / lost.shape[1]
        _lose_tracking(lost[turn], leaning[turn], limit("servo_hold_mm").value / step)
        edges = np.flatnonzero(np.diff(lost[turn], prepend=False, append=False)).reshape(-1, 2)
        load = (np.diff(edges, axis=1) * step + code.pad_worst_mm).sum() / whole
        if load > SURELY_MENDED:
            loads[turn] = load
    fmt = disc.disc.name
    for turn in sorted(loads, key=lambda one: -loads[one]):
        step = 2 * np.pi * shade.turns_mm[turn] / lost.shape[1]
        row = np.roll(lost[turn], -int(np.argmin(lost[turn])))
        for phase in range(int(number("drives.phases"))):
            # a block of a DVD is the longest; a third of a turn more each time puts its start anywhere
            ahead = np.zeros(int(phase * 13.7 / step), bool)
            if not correctable(fmt, np.concatenate([ahead, row, row]), step_mm=step, flagged=drive.flagged):
                return False
    return True


def _lose_tracking(lost: NDArray[np.bool_], leaning: NDArray[np.bool_], hold: float) -> None:
    """A pull that lasts throws the pickup off the track until it is over; the turn is round."""
    if leaning.all():
        lost[:] = True
        return
    start = int(np.argmin(leaning))
    turned = np.roll(leaning, -start)
    for first, last in np.flatnonzero(np.diff(turned, prepend=False, append=False)).reshape(-1, 2):
        if last - first > hold:
            lost[np.arange(first, last) % len(lost) + start - len(lost)] = True
