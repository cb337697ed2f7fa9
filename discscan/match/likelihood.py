"""How much likelier what was found is if two photographs show one disc than if they show two.

On two different discs the lead of the best turn is chance: it falls off exponentially. On one disc its marks are either
found again, and the lead is then mostly large, or they are not, and it is chance as well. How often they are depends on
how much there is to find. `python -m models.training.same_disc` fits this on rendered pairs and writes
calibration/match.toml.
"""

from __future__ import annotations

from collections.abc import Iterable
from math import exp, log1p

from discscan.calibration import limit, setting
from discscan.match.turn import Turn
from discscan.matches import SameAnswer
from discscan.records import LINE_KINDS, DamageSurvey

PARAMETERS = (
    "chance_share", "chance_rate", "found_constant", "found_lines", "lead_constant", "lead_lines",
)  # fmt: skip
"""Entries of calibration/match.toml."""


def likelihood_ratio(turn: Turn, *, lines_mm: float) -> float:
    """P(lead | one disc) / P(lead | two discs), at most what the pairs that it was fitted on can bear.

    Args:
        lines_mm: of `lines_to_find_mm`.
    """
    fitted = {name: limit(name, file="match").value for name in PARAMETERS}
    return min(ratio_of(borne_out(turn), lines_mm=lines_mm, **fitted), limit("most_ratio", file="together").value)


def borne_out(turn: Turn) -> float:
    """The lead, as far as more than one place of the disc bears it out: two discs may share a bunch of long lines."""
    return min(turn.lead, turn.spread_lead + setting("match", "lone_lead"))


def ratio_of(
    lead: float,
    *,
    lines_mm: float,
    chance_share: float,
    chance_rate: float,
    found_constant: float,
    found_lines: float,
    lead_constant: float,
    lead_lines: float,
) -> float:
    """The same with its parameters given: the density of a lead where marks are found again is a gamma of shape 2."""
    lead = min(lead, setting("match", "lead_most"))
    found = 1 / (1 + exp(-(found_constant + found_lines * log1p(lines_mm))))
    scale = exp(lead_constant + lead_lines * log1p(lines_mm)) / 2
    by_marks = lead / scale**2 * exp(-lead / scale)
    by_chance = chance_share * chance_rate * exp(-chance_rate * lead)
    return 1 - found + found * by_marks / by_chance


def lines_to_find_mm(surveys: Iterable[DamageSurvey]) -> float:
    """Length of plain lines on the disc that has less of them: where one has none, nothing can be found again."""
    plain = setting("match", "plain_line")
    return min(
        sum(d.length_mm.value for d in one.defects if d.kind in LINE_KINDS and d.length_mm and d.confidence >= plain)
        for one in surveys
    )


def answer_of(ratio: float) -> SameAnswer:
    """What may be said with that ratio alone, whatever one thought before."""
    if ratio >= limit("same_disc_ratio", file="together").value:
        return "same"
    return "another" if ratio <= limit("another_disc_ratio", file="together").value else "cannot tell"
