"""Could another photograph change the verdict at all, and how likely is that?

The verdict is asked again for what a better photograph might show. The chance p that all reads is that of the seen part
times that of the unseen one; with faults at the same rate everywhere, as the forecast takes them to lie, the shares of
log p go with the areas, and where fine damage does not show, a photograph shows that much less of the faults. So with a
share m of them shown, the rest turns out sound with chance p^(1-m), and p is then p^m; or it is not, and the disc
fails. What doubts leave open of the seen part is taken at the two ends and the middle of the forecast's interval, with
weights by which three points stand for a distribution.

References:
    D. L. Keefer and S. E. Bodily, Three-point approximations for continuous random variables, Management Science 29
    (1983): 0.185, 0.63, 0.185 at the 5, 50 and 95 % points (from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

from discscan.doubts import Doubt
from discscan.records import Action, Chance, Playback, Polish

_WEIGHTS = (0.185, 0.63, 0.185)
Judge = Callable[[Playback, Polish, tuple[Doubt, ...], float], Action]


def part_reads(chance: float, *, share: float) -> float:
    """The chance that what a share (0..1) of the faults touches reads, where `chance` is that of all."""
    return float(chance**share)


def could_become(
    *,
    action: Action,
    judge: Judge,
    playback: Playback | None,
    polish: Polish | None,
    doubts: tuple[Doubt, ...],
    shown_fraction: float,
) -> tuple[tuple[Action, ...], float]:
    """The other actions that another photograph could lead to, the likelier first, and the chance of any of them.

    Args:
        action: the verdict as it is.
        judge: the verdict's action for a forecast, a polish, doubts and a measured fraction.
        shown_fraction: 0..1 of the faults that this photograph shows (playback/forecast.py).
    """
    all_open = action == "retake" and (Doubt.SIDE_UNCLEAR in doubts or Doubt.LABEL_DEPTH_UNKNOWN in doubts)
    if playback is None or polish is None or all_open:  # it is not known what becomes of the tracks
        return ("play", "resurface", "pass"), 1.0
    staying = tuple(doubt for doubt in doubts if doubt.value.effect == "ask")
    open_ends = set(doubts) - set(staying)
    found: dict[Action, float] = {}
    for weight, chance in _possible(playback.chance, shown_fraction, spread=bool(open_ends)):
        seen = replace(playback, chance=Chance(chance, chance, chance))
        then = judge(seen, polish, staying, 1.0)
        if then != action and weight > 0:
            found[then] = found.get(then, 0.0) + weight
    return tuple(sorted(found, key=lambda one: -found[one])), min(1.0, sum(found.values()))


def _possible(chance: Chance, shown: float, *, spread: bool) -> Iterator[tuple[float, float]]:
    """Weights, which add up to 1, and the chance of playing that a better photograph may lead to."""
    ends = (chance.low, chance.probability, chance.high) if spread else (chance.probability,)
    weights = _WEIGHTS if spread else (1.0,)
    for weight, one in zip(weights, ends, strict=True):
        sound = part_reads(one, share=1 - shown)
        yield weight * sound, part_reads(one, share=shown)
        yield weight * (1 - sound), 0.0
