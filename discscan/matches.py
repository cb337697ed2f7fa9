"""The records of several photographs of one disc: taken as one, or asked whether they are of one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from discscan.doubts import Doubt
from discscan.judged import JudgedDisc
from discscan.records import Defect, FlatDisc, Side

SameAnswer = Literal["same", "another", "cannot tell"]


@dataclass(frozen=True)
class Source:
    """One disc of one photograph, as it came into a merged one.

    Attributes:
        file: of the photograph, as given.
        number: of the disc in its photograph, from 1.
        joined: whether its marks are in the merged disc.
        turn_deg: how far the disc lies turned against the merged one, from +x towards +y; None where not known.
        likelihood_ratio: of its being the same disc rather than another one; None for the first and for a label side.
    """

    file: str
    number: int
    side: Side
    joined: bool
    turn_deg: float | None
    likelihood_ratio: float | None


@dataclass(frozen=True)
class AgainstLamp:
    """A photograph of the disc held against a lamp.

    Attributes:
        pinholes: where light came through the mirror; their angle is that of this photograph.
        doubt: why it could not be used, else None.
    """

    file: str
    sha256: str
    pinholes: tuple[Defect, ...] = ()
    doubt: Doubt | None = None


@dataclass(frozen=True)
class MergedDisc:
    """Several photographs of one disc taken as one.

    Attributes:
        disc: with all that they show, in the plane of the one that shows most: the first of `sources`.
        sources: every photograph's disc that was to be merged.
        laid: the flat discs of the joined data sides, turned like the first, in the order of `sources`.
        lamp: the photograph against a lamp, None without one.
    """

    disc: JudgedDisc
    sources: tuple[Source, ...]
    laid: tuple[FlatDisc, ...]
    lamp: AgainstLamp | None = None


@dataclass(frozen=True)
class Comparison:
    """Whether two photographs show one disc.

    Attributes:
        answer: what may be said.
        likelihood_ratio: of what was found, one disc against two; None where it says nothing (`why`).
        why: names an entry of report/same: what the answer rests on, or what stands in its way.
        turn_deg: how far the disc lies turned in the second photograph, from +x towards +y; None where not known.
        both: marks that both show, as each shows them; all marks lie in the first one's plane.
        only_first, only_second: marks that the other one does not show where it saw their place well.
        first, second: the flat discs, the second turned like the first where the turn is known.
    """

    answer: SameAnswer
    likelihood_ratio: float | None
    why: str
    turn_deg: float | None
    both: tuple[tuple[Defect, Defect], ...]
    only_first: tuple[Defect, ...]
    only_second: tuple[Defect, ...]
    first: FlatDisc
    second: FlatDisc
