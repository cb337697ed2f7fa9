"""What travels on when all rooms have spoken: the judged disc and photograph, and what the next should show."""

from __future__ import annotations

from dataclasses import dataclass, field

from discscan.doubts import Doubt
from discscan.records import (
    Action,
    DamageSurvey,
    Face,
    FlatDisc,
    LocatedDisc,
    NotADisc,
    Photo,
    Playback,
    Polish,
    Sight,
    Verdict,
    doubts_of,
)


@dataclass(frozen=True)
class UnseenPart:
    """A part of the data area that was not seen, and why.

    Attributes:
        share: 0..1 of the data area.
        from_deg, to_deg: the arc that holds most of it, from +x towards +y; None where it goes all the way round.
    """

    sight: Sight
    share: float
    from_deg: float | None
    to_deg: float | None
    radius_min_mm: float
    radius_max_mm: float


@dataclass(frozen=True)
class NextPhoto:
    """What another photograph should show, and what it could change.

    Attributes:
        unseen: parts of the data area, the largest first.
        light_from_deg: where a lamp should stand, from +x towards +y; None where no unseen part asks for a place.
        could_become: the verdict's action after it, where it would be another one; empty when none could come of it.
        chance_of_change: 0..1 that it would be another one.
    """

    unseen: tuple[UnseenPart, ...]
    light_from_deg: float | None
    could_become: tuple[Action, ...]
    chance_of_change: float


@dataclass(frozen=True)
class JudgedDisc:
    """One disc with what every room found. `playback` and `polish` are None on a label side."""

    located: LocatedDisc
    flat: FlatDisc
    face: Face
    survey: DamageSurvey
    playback: Playback | None
    polish: Polish | None
    verdict: Verdict
    next_photo: NextPhoto | None = None

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """Doubts of all rooms, in their order, each once."""
        return doubts_of(self.located, self.flat, self.face, self.survey)


@dataclass(frozen=True)
class JudgedPhoto:
    """One photograph, the discs in it from left to right and top to bottom, and the round things turned down."""

    photo: Photo
    discs: tuple[JudgedDisc, ...]
    turned_down: tuple[NotADisc, ...] = field(default=())
