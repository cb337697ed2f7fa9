"""The forecast: will every sector of this disc read?"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from discscan.calibration import limit
from discscan.doubts import Doubt
from discscan.formats import FORMATS, DiscFormat
from discscan.playback.beam import lost_half_width_mm
from discscan.playback.bursts import Budget, budget, window_ends
from discscan.playback.case import Case, make_case
from discscan.playback.chance import chance_of
from discscan.playback.draws import DRAWS
from discscan.playback.track import LEVELS, Runs, lost_runs, turns_mm
from discscan.polylines import IntArray
from discscan.records import LINE_KINDS, Chance, DamageSurvey, FloatArray, FormatName, Playback, RadiusBand, Recording

TURN_STEP_MM = 0.4
MOST_RUNS = 700
"""Above about this only the worst turn of each stretch of radius is followed through all draws."""

CERTAIN_SHARE = 0.5
"""Turns that at most use this much of the smallest budget are never in doubt, so they are not followed."""

AREA_EDGE_MM = 1e-3

BANDS = 18
"""Of radius, about two millimetres each on a 120 mm disc, in which the forecast is told."""

FloatArray32 = NDArray[np.float32]


@dataclass(frozen=True)
class Losses:
    """The turns of one format that may fail, followed through all draws; t = turns, r = runs, n = DRAWS.

    Attributes:
        turns: (t,) radii, mm.
        breadth: (t,) mm of radius for which each turn stands, 0 for those that are not followed.
        runs: of the turns that are followed.
        length: (r, n) mm, of each run.
        word_turn: (m,) index of the turn on which each code word begins that may fail, ascending.
        load: (m, n) what is lost of it over what it bears.
    """

    turns: FloatArray
    breadth: FloatArray
    runs: Runs
    length: FloatArray32
    word_turn: IntArray
    load: FloatArray32


def widening(doubts: Iterable[Doubt]) -> float:
    """The factor `widen` for a photograph with these doubts: each makes everything measured on it less sure.

    Those that are for a person to clear up, as which format it is, do not.
    """
    return 1 + limit("widen_per_doubt").value * sum(doubt.value.effect != "ask" for doubt in set(doubts))


def shown_fraction(measured_fraction: float, doubts: Iterable[Doubt]) -> float:
    """Share of the faults that a photograph with these doubts shows: 0..1, at most that of the area that it shows."""
    hidden = any(doubt.value.effect == "hide" for doubt in doubts)
    return measured_fraction * (limit("hidden_fine_shows").value if hidden else 1)


def forecast(
    *,
    survey: DamageSurvey,
    format: FormatName,
    diameter_mm: int,
    widen: float,
    seed: int,
    recording: Recording = "unknown",
) -> Playback:
    """Will every sector read, in a drive taken at random?

    Args:
        survey: defects in the disc's plane; its `measured_fraction` is that of `shown_fraction`.
        format: of the disc, or one that it may be.
        diameter_mm: 120 or 80.
        widen: see `widening`; 1 for a photograph without doubts.
        seed: of all that is drawn; the same seed gives the same forecast.
        recording: as far as the photograph tells it; a recordable disc may be hardly written on.
    """
    case = make_case(survey=survey, diameter_mm=diameter_mm, widen=widen, seed=seed, recording=recording)
    disc = FORMATS[format]
    losses = losses_of(case, disc)
    chance = chance_to_read(case, disc, losses)
    edges = np.linspace(*_track_mm(case, disc), BANDS + 1)
    worst_burst, worst_radius, lost_mm2 = 0.0, None, np.zeros(BANDS)
    if losses:
        worst_burst = float(losses.length.max(axis=0).mean())
        longest = losses.length.mean(axis=1).argmax()
        worst_radius = float(losses.turns[losses.runs.turn[longest]]) if worst_burst > 0 else None
        lost_mm2 = _unreadable_mm2(losses, budget(disc), edges)
    whole_mm2 = np.pi * np.diff(edges**2)
    return Playback(
        format=format,
        chance=chance,
        worst_burst_mm=worst_burst,
        correctable_burst_mm=disc.guaranteed_burst_mm,
        unreadable_fraction=float(lost_mm2.sum() / whole_mm2.sum()),
        worst_radius_mm=worst_radius,
        unreadable_by_radius=tuple(
            map(RadiusBand, edges[:-1].tolist(), edges[1:].tolist(), (lost_mm2 / whole_mm2).tolist())
        ),
    )


def losses_of(case: Case, disc: DiscFormat, *, removed_um: FloatArray | None = None) -> Losses | None:
    """Follow all draws through one format; None where nothing is lost.

    Args:
        case: the disc.
        disc: its format.
        removed_um: (d, n) what a polish has taken off each groove, None for none.
    """
    blocked, tracking = _half_widths(case, disc, removed_um)
    most_blocked, most_tracking = blocked.max(axis=1, initial=0), tracking.max(axis=1, initial=0)
    widest = np.maximum(most_blocked, most_tracking)
    if not widest.any():
        return None
    inner, outer = _track_mm(case, disc)
    turns = turns_mm(case.pieces, inner_mm=inner, outer_mm=outer, step_mm=TURN_STEP_MM)
    touch = np.where(case.of_kind(*LINE_KINDS), disc.beam_mm + case.draws.width_mm.max(axis=1, initial=0), 0) / 2
    runs = lost_runs(
        case.pieces,
        turns=turns,
        blocked_mm=most_blocked,
        tracking_mm=most_tracking,
        touch_mm=np.maximum(touch, widest),
        servo_hold_mm=limit("servo_hold_mm").value,
    )
    runs, breadth = _at_risk(runs, turns, budget(disc))
    if not len(runs.turn):
        return None
    length = _drawn_lengths(runs, blocked, tracking, widest)
    return Losses(turns, breadth, runs, length, *_loads(case, disc, runs, turns, length))


def chance_to_read(case: Case, disc: DiscFormat, losses: Losses | None) -> Chance:
    """That every sector reads, with what was missed and what was not seen.

    Args:
        losses: of `losses_of`.
    """
    inner, outer = _track_mm(case, disc)
    over_data = np.array([d.radius_max_mm > inner and d.radius_min_mm < outer for d in case.defects], dtype=bool)
    cracked = case.of_kind("crack") & over_data
    stopped = (case.draws.present & cracked[:, None]).any(axis=0)
    stopped &= case.draws.crack_luck < limit("crack_stops_disc").value
    load = losses.load.max(axis=0) if losses else np.zeros(DRAWS)
    margin = np.log(np.maximum(load, 1e-9)).astype(np.float64)
    reads = np.where(stopped, 0.0, 1 / (1 + np.exp(np.clip(margin / limit("drive_spread").value, -60, 60))))
    return chance_of(reads, case, over_data)


def _track_mm(case: Case, disc: DiscFormat) -> tuple[float, float]:
    """Radii between which there is a track to be read."""
    return disc.lead_in_radius_mm, disc.data_area_mm(case.diameter_mm)[1]


def _half_widths(case: Case, disc: DiscFormat, removed_um: FloatArray | None) -> tuple[FloatArray32, FloatArray32]:
    """(d, n) how far from its centre line each defect loses the light, and light or, where it is followed, tracking."""
    draws = case.draws
    width, depth = draws.width_mm, draws.depth_um
    if removed_um is not None:  # a groove narrows towards its bottom
        left = np.clip(1 - removed_um / np.maximum(depth, 1e-9), 0, 1)
        width, depth = width * left, depth * left
    groove = case.of_kind("scratch", "ring_arc")[:, None]
    thrown = 1 - np.exp(-depth / limit("scatter_depth_um").value)  # a groove shallower than a wavelength only dims
    dimmed = draws.smudge_share * case.under_smudge[:, None]
    thin = np.minimum(4 / np.pi * width / disc.beam_mm, 1) * thrown * (draws.present & groove)
    dimmed = dimmed + case.crowding(disc) @ thin
    left = np.maximum(draws.blocked_threshold - dimmed, 0)
    along = np.where(case.of_kind("ring_arc"), limit("ring_arc_tracking_factor").value, 1.0)[:, None]
    thresholds = np.stack([left, draws.tracking_threshold * along]) / np.maximum(thrown, 1e-9)
    reach = lost_half_width_mm(width_mm=np.where(groove, width, 0), beam_mm=disc.beam_mm, threshold=thresholds)
    np.copyto(reach, (width + disc.beam_mm) / 2, where=case.of_kind("crack")[:, None], casting="same_kind")
    np.copyto(reach, AREA_EDGE_MM, where=case.mirror_lost(disc))
    reach *= draws.present
    blocked, tracking = reach
    return blocked, np.maximum(blocked, tracking)


def _at_risk(runs: Runs, turns: FloatArray, code: Budget) -> tuple[Runs, FloatArray]:
    """The turns that may fail in some draw, and the one with the longest run; of too many, those with the most loss.

    Returns:
        runs: of these turns.
        breadth: (t,) mm of radius for which each turn stands.
    """
    most = np.bincount(runs.turn, runs.length_mm[:, 2] + code.pad_worst_mm, minlength=len(turns))
    risky = most > CERTAIN_SHARE * code.unflagged_mm
    if len(runs.turn):
        risky[runs.turn[runs.length_mm[:, 2].argmax()]] = True
    followed = risky
    count = np.count_nonzero(risky[runs.turn])
    if count > MOST_RUNS:
        load = np.bincount(runs.turn, runs.length_mm[:, 1] + code.pad_worst_mm, minlength=len(turns))
        stretches = max(1, int(MOST_RUNS * len(turns) / count))
        stretch = np.arange(len(turns)) * stretches // len(turns)
        order = np.lexsort((-load, stretch))
        followed = np.zeros_like(risky)
        followed[order[np.unique(stretch, return_index=True)[1]]] = True
        followed &= risky
        followed[runs.turn[runs.length_mm[:, 2].argmax()]] = True
    kept = np.flatnonzero(followed)
    step = np.gradient(turns) if len(turns) > 1 else np.full(len(turns), TURN_STEP_MM)
    breadth = np.zeros(len(turns))
    if len(kept):  # each turn that is not followed is counted with the nearest one that is
        middles = (kept[1:] + kept[:-1]) / 2
        np.add.at(breadth, kept[np.searchsorted(middles, np.flatnonzero(risky))], step[risky])
    keep = followed[runs.turn]
    followed_runs = Runs(
        runs.turn[keep], runs.defect[keep], runs.theta[keep], runs.length_mm[keep], runs.touched_mm[keep]
    )
    return followed_runs, breadth


def _drawn_lengths(runs: Runs, blocked: FloatArray32, tracking: FloatArray32, widest: FloatArray) -> FloatArray32:
    """(runs, n) lost length in each draw: straight lines between the levels at which the runs were measured."""
    followed = runs.touched_mm > limit("servo_hold_mm").value
    share = np.concatenate([blocked, tracking]) / np.tile(np.where(widest > 0, widest, 1), 2)[:, None]
    row = runs.defect + followed * len(widest)
    low, mid, high = LEVELS.tolist()  # with NumPy's own floats all of this would be float64
    first = np.where(share > 0, np.clip(share, low, mid) - low, 0)[row]
    second = np.maximum(share - mid, 0)[row]
    slopes = (np.diff(runs.length_mm, axis=1) / np.array([mid - low, high - mid])).astype(np.float32)
    base = runs.length_mm[:, :1].astype(np.float32) * (share > 0)[row]
    return np.asarray(base + slopes[:, :1] * first + slopes[:, 1:] * second, dtype=np.float32)


def _loads(
    case: Case, disc: DiscFormat, runs: Runs, turns: FloatArray, length: FloatArray32
) -> tuple[IntArray, FloatArray32]:
    """(m,) and (m, n), as `Losses` has them: the turn on which each code word begins, and load / budget."""
    draws, code = case.draws, budget(disc)
    flags = limit("bd_drives_with_flags" if disc.name == "bd" else "drives_with_flags").value
    bears = np.where(draws.drive < flags, code.flagged_mm, code.unflagged_mm)
    # Each step of radius holds many turns that meet the same damage; the unluckiest of them decides.
    turns_each = TURN_STEP_MM * 1000 / disc.track_pitch_um
    luck = 1 - (1 - draws.alignment) ** (1 / turns_each)
    pad = code.pad_worst_mm + (code.pad_best_mm - code.pad_worst_mm) * luck

    order, end = window_ends(runs, turns=turns, span_mm=code.span_mm)
    near_hub = disc.data_area_mm(120)[0] + limit("near_hub_mm").value
    weight = np.where(turns[runs.turn] < near_hub, limit("near_hub_weight").value, 1.0).astype(np.float32)
    cost = (length + pad.astype(np.float32) * (length > 0)) * weight[:, None]
    total = np.zeros((len(order) + 1, DRAWS), dtype=np.float32)
    total[1:] = cost[order]
    for before, after in pairwise(total):  # faster than np.cumsum
        np.add(before, after, out=after)
    load = np.asarray((total[end] - total[:-1]) / bears.astype(np.float32), dtype=np.float32)
    inner, outer = disc.data_area_mm(case.diameter_mm)
    ends = np.sqrt(inner**2 + draws.recorded_share * (outer**2 - inner**2))
    turn = runs.turn[order]
    load *= turns[turn][:, None] < ends
    return turn, load


def _unreadable_mm2(losses: Losses, code: Budget, edges: FloatArray) -> FloatArray:
    """Expected area in code words that fail, by radius: of a failing turn, the loss and a word's span."""
    failing = np.flatnonzero((losses.load > 1).any(axis=1))
    if not len(failing):
        return np.zeros(BANDS)
    turn, first = np.unique(losses.word_turn[failing], return_index=True)
    fails = np.logical_or.reduceat(losses.load[failing] > 1, first, axis=0)
    hurt = np.flatnonzero(np.isin(losses.runs.turn, turn))  # all runs of the turns that may fail
    first = np.searchsorted(losses.runs.turn[hurt], turn)
    lost = np.add.reduceat(losses.length[hurt], first, axis=0) + code.span_mm
    around = 2 * np.pi * losses.turns[turn]
    along = (np.minimum(lost, around[:, None]) * fails).mean(axis=1)
    area, _ = np.histogram(losses.turns[turn], bins=edges, weights=along * losses.breadth[turn])
    return np.asarray(np.minimum(area, np.pi * np.diff(edges**2)))
