"""One disc after another: what it truly does, and what the tool says of its photograph."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from calibration.fit.discs import TrueDisc, draw_disc
from calibration.fit.seen import survey_of
from calibration.fit.truth import draw_drives, plays
from discscan.calibration import limit
from discscan.playback import after_polish, forecast
from discscan.records import Action, Chance, DamageSurvey, Face, FormatName, Outlook, Recording
from discscan.verdict import decide
from models.training.render.ranges import Ranges


@dataclass(frozen=True)
class Played:
    """A disc with what it does.

    Attributes:
        plays, polished: (drives,) whether all reads as it is, and after a polish (all False where none is possible).
    """

    disc: TrueDisc
    plays: NDArray[np.bool_]
    polished: NDArray[np.bool_]

    @property
    def hidden(self) -> bool:
        """Whether it has a crack or a parted layer, which the search mostly misses."""
        return self.disc.has("crack") or self.disc.has("delamination")

    @property
    def away(self) -> bool:
        """Whether all drives agree on it as it is and, where that matters, after a polish."""
        if self.plays.all():
            return True
        return bool(not self.plays.any() and (self.polished.all() or not self.polished.any()))

    @property
    def right(self) -> Action:
        """The right action, the truth being known: the limits of the house on its true chances."""
        if self.hidden:
            return "pass"
        if self.plays.mean() >= limit("play_chance").value:
            return "play"
        gains = self.polished.mean() - self.plays.mean() >= limit("polish_gain").value
        return "resurface" if gains and self.polished.mean() >= limit("polish_chance").value else "pass"


@dataclass(frozen=True)
class Trial:
    """A disc that was drawn and played, and is yet to be photographed.

    Attributes:
        seed: of the photograph, and of the forecast, as the bytes of a photograph would give it.
    """

    seed: int
    played: Played


@dataclass(frozen=True)
class Asked:
    """What the tool says of a disc, beside its truth.

    Attributes:
        hidden, plays: as of the trial.
        away: whether all drives agree on it, as it is and after a polish: it is away from a limit.
        right, action: the action that is right, and the one that the tool asks for.
        chance, polished: forecast as it is, and after a polish.
    """

    format: FormatName
    hidden: bool
    away: bool
    right: Action
    action: Action
    plays: NDArray[np.bool_]
    chance: Chance
    polished: Chance

    @classmethod
    def of(cls, played: Played, action: Action, outlook: Outlook) -> Asked:
        """The answer to one disc: the action, and the outlook that it speaks of."""
        name, chances = played.disc.disc.name, (outlook.playback.chance, outlook.polish.chance)
        return cls(name, played.hidden, played.away, played.right, action, played.plays, *chances)


def trial(ranges: Ranges, seed: int, number: int) -> Trial:
    """Draw a disc, play it in its drives, polish it, play it again."""
    rng = np.random.default_rng([seed, number])
    disc = draw_disc(rng, ranges, ring_arcs_stay=limit("polish_ring_arc_lost").value)
    played = play_out(rng, disc)
    return Trial(int(rng.integers(2**31)), played)


def play_out(rng: np.random.Generator, disc: TrueDisc) -> Played:
    """Play a disc in drives taken at random, polish it, and play it again."""
    drives = draw_drives(rng, disc.disc.name)
    as_is = plays(disc, drives)
    never = disc.disc.name == "bd" or disc.has("crack") or disc.has("delamination")
    least = limit("polish_share_low").value
    removed = disc.disc.polish_limit_um * rng.uniform(least, 1)
    polished = np.zeros_like(as_is)
    if not never:
        spoilt = rng.random(len(drives)) < limit("polish_accident").value
        polished = (np.ones_like(as_is) if as_is.all() else plays(disc, drives, removed_um=removed)) & ~spoilt
    return Played(disc, as_is, polished)


def ask(one: Trial) -> Asked:
    """The forecast, the polish and the verdict for its photograph, its format being given and no doubt left."""
    survey = survey_of(np.random.default_rng(one.seed), one.played.disc)
    action, outlook = answer(survey, one.played.disc.disc.name, diameter_mm=120, seed=one.seed)
    return Asked.of(one.played, action, outlook)


def answer(
    survey: DamageSurvey, name: FormatName, *, diameter_mm: int, seed: int, recording: Recording = "unknown"
) -> tuple[Action, Outlook]:
    """What the tool says of a disc of a known format, of which a photograph without fault shows this."""
    shared: dict[str, Any] = {
        "survey": survey,
        "format": name,
        "diameter_mm": diameter_mm,
        "widen": 1.0,
        "seed": seed,
        "recording": recording,
    }
    playback = forecast(**shared)
    outlook = Outlook(playback, after_polish(**shared, before=playback))
    verdict, _ = decide(
        face=Face("data", 0.99, "pressed", name, "given", (name,)),
        survey=survey,
        outlooks={name: outlook},
        doubts=(),
        measured_fraction=survey.measured_fraction,
    )
    return verdict.action, outlook
