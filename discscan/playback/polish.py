"""What polishing the data side would change: the same forecast with shallower, narrower grooves."""

from __future__ import annotations

import numpy as np

from discscan.calibration import limit
from discscan.formats import FORMATS, DiscFormat
from discscan.playback.case import Case, make_case
from discscan.playback.draws import luck_of_polishes
from discscan.playback.forecast import chance_to_read, losses_of
from discscan.records import Chance, DamageSurvey, FloatArray, FormatName, Playback, Polish, Recording

POLISH_WHYS: tuple[str, ...] = (
    "scratches-within-reach",
    "ring-arcs-mostly-lost",
    "scratches-too-deep",
    "deeper-than-is-left",
    "no-layer-left",
    "nothing-to-polish",
    "crack-never",
    "delamination-never",
    "label-side-never",
    "bd-never",
)
"""Every reason that `Polish.why` may give: the first says that it helps, the others why it does not, or not enough.

scratches-within-reach: the scratches are shallower than what may be taken off.
ring-arcs-mostly-lost: what stops the disc are ring arcs, of which nine in ten stay.
scratches-too-deep: what stops the disc are scratches deeper than what may be taken off.
deeper-than-is-left: the same, where earlier polishes have taken part of that.
no-layer-left: earlier polishes have taken all that may go.
nothing-to-polish: no groove is what lowers the chance.
crack-never, delamination-never: neither can be repaired, and a polish spins and warms the disc.
label-side-never: on a CD the data lies right under the label; polishing is done on the other side.
bd-never: the clear layer of a BD is a tenth of a millimetre, of which some micrometres may go.
"""


_STOPPED_BY = {
    "ring_arc": "ring-arcs-mostly-lost",
    "label_damage": "label-side-never",
    "scratch": "scratches-too-deep",
}


def after_polish(
    *,
    survey: DamageSurvey,
    format: FormatName,
    diameter_mm: int,
    widen: float,
    seed: int,
    before: Playback,
    polished: int = 0,
    recording: Recording = "unknown",
) -> Polish:
    """The chance that every sector reads after one careful polish.

    Passes add up: each is held to have taken its share of what those before it had left. How deep the scratches are
    that show now is told by their width as on any disc: those that earlier polishes reached are gone.

    Args:
        survey, format, diameter_mm, widen, seed, recording: as given to `forecast`, so that both see the same draws.
        before: the forecast without polishing.
        polished: how many polishes it has had.
    Returns:
        Polish: `chance` is that after polishing; where polishing is not possible, that of the disc as it is.
    """
    disc = FORMATS[format]
    left_um = may_go_um(disc, polished=polished, seed=seed)
    expected_um = float(left_um.mean())

    def answer(why: str, chance: Chance = before.chance, *, possible: bool = False) -> Polish:
        return Polish(possible, chance, why, polished, expected_um)

    least = limit("confident_defect").value
    for kind, why in (("crack", "crack-never"), ("delamination", "delamination-never")):
        if any(d.kind == kind and d.confidence >= least for d in survey.defects):
            return answer(why)
    if format == "bd":
        return answer("bd-never")
    if expected_um < limit("polish_least_um").value:
        return answer("no-layer-left")

    case = make_case(survey=survey, diameter_mm=diameter_mm, widen=widen, seed=seed, recording=recording)
    after = _after(case, disc, left_um)
    chance = _with_accidents(after)
    if chance.probability - before.chance.probability < limit("polish_least_gain").value:
        return answer(_why_not(case, disc, after, left_um, polished=polished))
    reached = chance.probability >= limit("polish_chance").value
    why = "scratches-within-reach" if reached else _why_not(case, disc, after, left_um, polished=polished)
    return answer(why, chance, possible=True)


def may_go_um(disc: DiscFormat, *, polished: int, seed: int) -> FloatArray:
    """(n,) what may still be taken off the clear layer: what the standard leaves, less what earlier polishes took."""
    left = 1 - _share_taken(luck_of_polishes(polished, seed=seed))
    return np.asarray(disc.polish_limit_um * left.prod(axis=0))


def removed_um(case: Case, left_um: FloatArray) -> FloatArray:
    """(d, n) depth that the polish takes off each groove: up to `left_um`, (n,), most ring arcs excepted.

    A groove is polished out when all of its depth goes. Most ring arcs stay although they may be no deeper than that:
    common practice, no source.
    """
    taken = left_um * _share_taken(case.draws.polish_luck)
    stays = case.of_kind("ring_arc")[:, None] & (case.draws.ring_luck < limit("polish_ring_arc_lost").value)
    return np.where(stays, 0.0, taken)


def _share_taken(luck: FloatArray) -> FloatArray:
    least = limit("polish_share_low").value
    return least + (1 - least) * luck


def _with_accidents(chance: Chance) -> Chance:
    goes_well = 1 - limit("polish_accident").value
    return Chance(chance.probability * goes_well, chance.low * goes_well, chance.high * goes_well)


def _after(case: Case, disc: DiscFormat, left_um: FloatArray) -> Chance:
    """The chance that every sector reads when so much has gone."""
    return chance_to_read(case, disc, losses_of(case, disc, removed_um=removed_um(case, left_um)))


def _why_not(case: Case, disc: DiscFormat, after: Chance, left_um: FloatArray, *, polished: int) -> str:
    """Which damage still stops the disc after polishing: the kind that leaves the best disc when it is wished away."""
    if after.probability >= limit("play_chance").value:
        return "nothing-to-polish"
    reads = {
        why: _after(case.without(kind), disc, left_um).probability
        for kind, why in _STOPPED_BY.items()
        if case.of_kind(kind).any()
    }
    if not reads or max(reads.values()) <= after.probability:
        return "nothing-to-polish"
    why = max(reads, key=lambda why: reads[why])
    return "deeper-than-is-left" if why == "scratches-too-deep" and polished else why
