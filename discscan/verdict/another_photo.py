"""Could another photograph change the verdict at all, and how likely is that?

The verdict is asked again for what a better photograph might show. The chance p that all reads is that of the seen part
times that of the unseen one; with faults at the same rate everywhere, as the forecast takes them to lie, the shares of
log p go with the areas, and where fine damage does not show, a photograph shows that much less of the faults. So with a
share m of them shown, the rest turns out sound with chance p^(1-m), and p is then p^m; or it is not, and the disc
fails. What doubts leave open of the seen part is taken at the two ends and the middle of the forecast's interval, with
weights by which three points stand for a distribution. Formats that the disc may have share its faults: the unseen part
of one that turns out sound is sound for every format that bears more.

References:
    D. L. Keefer and S. E. Bodily, Three-point approximations for continuous random variables, Management Science 29
    (1983): 0.185, 0.63, 0.185 at the 5, 50 and 95 % points (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from itertools import pairwise

from discscan.doubts import Doubt
from discscan.records import Action, Chance, FormatName, Outlook

_WEIGHTS = (0.185, 0.63, 0.185)
Judge = Callable[[Mapping[FormatName, Outlook], tuple[Doubt, ...], float], Action]


def part_reads(chance: float, *, share: float) -> float:
    """The chance that what a share (0..1) of the faults touches reads, where `chance` is that of all."""
    return float(chance**share)


def could_become(
    *,
    action: Action,
    judge: Judge,
    outlooks: Mapping[FormatName, Outlook],
    doubts: tuple[Doubt, ...],
    shown_fraction: float,
) -> tuple[tuple[Action, ...], float]:
    """The other actions that another photograph could lead to, the likelier first, and the chance of any of them.

    Args:
        action: the verdict as it is.
        judge: the verdict's action for outlooks, doubts and a measured fraction.
        outlooks: of each possible format; none on a label side.
        shown_fraction: 0..1 of the faults that this photograph shows (playback/forecast.py).
    """
    all_open = action == "retake" and (Doubt.SIDE_UNCLEAR in doubts or Doubt.LABEL_DEPTH_UNKNOWN in doubts)
    if not outlooks or all_open:  # it is not known what becomes of the tracks
        return ("play", "resurface", "pass"), 1.0
    staying = tuple(doubt for doubt in doubts if doubt.value.effect == "ask")
    open_ends = set(doubts) - set(staying)
    found: dict[Action, float] = {}
    for weight, seen in _possible(outlooks, shown_fraction, spread=bool(open_ends)):
        then = judge(seen, staying, 1.0)
        if then != action and weight > 0:
            found[then] = found.get(then, 0.0) + weight
    return tuple(sorted(found, key=lambda one: -found[one])), min(1.0, sum(found.values()))


def _possible(
    outlooks: Mapping[FormatName, Outlook], shown: float, *, spread: bool
) -> Iterator[tuple[float, dict[FormatName, Outlook]]]:
    """Weights, which add up to 1, and the outlooks that a better photograph may lead to."""
    ends = ("low", "probability", "high") if spread else ("probability",)
    weights = _WEIGHTS if spread else (1.0,)
    for weight, end in zip(weights, ends, strict=True):
        chances: dict[FormatName, float] = {name: getattr(o.playback.chance, end) for name, o in outlooks.items()}
        sound = {name: part_reads(chance, share=1 - shown) for name, chance in chances.items()}
        for low, high in pairwise([0.0, *sorted(sound.values()), 1.0]):
            reads = {n: part_reads(p, share=shown) if sound[n] > low else 0.0 for n, p in chances.items()}
            yield weight * (high - low), {name: _with_chance(outlooks[name], chance) for name, chance in reads.items()}


def _with_chance(outlook: Outlook, chance: float) -> Outlook:
    return replace(outlook, playback=replace(outlook.playback, chance=Chance(chance, chance, chance)))
