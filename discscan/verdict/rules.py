"""The rules, each small, named, dated, and asking for one action. Their order is their rank.

A rule's docstring says when it speaks; the sentences that people read are the report room's.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field

from discscan.calibration import limit
from discscan.doubts import Doubt
from discscan.formats import FORMATS, data_area_mm
from discscan.records import Action, DamageSurvey, Defect, Face, FormatName, Kind, Playback, Polish, Spoken
from discscan.verdict.another_photo import part_reads

_FINAL: tuple[Kind, ...] = ("crack", "delamination")


@dataclass(frozen=True)
class Evidence:
    """All that a rule may look at, for one format. `playback` and `polish` are None on a label side.

    Attributes:
        actions: what each possible format comes to by itself; empty while that is found out.
    """

    face: Face
    survey: DamageSurvey
    playback: Playback | None
    polish: Polish | None
    doubts: tuple[Doubt, ...]
    measured_fraction: float
    actions: Mapping[FormatName, Action] = field(default_factory=dict)

    def doubts_that(self, effect: str) -> str:
        """Names of the doubts with this effect, in their order, or ""."""
        return ", ".join(doubt.name.lower() for doubt in self.doubts if doubt.value.effect == effect)

    @property
    def trusted(self) -> bool:
        """Whether the photograph is good enough for an answer about the tracks at all."""
        return self.face.side == "data" and not self.doubts_that("retake")

    def needed_confidence(self, kind: Kind) -> float:
        """How sure damage must be to condemn: more likely than not, or nearly certain where the photograph is poor.

        Cracks and parted layers are final, so that a better photograph of them is never worth asking for.
        """
        return limit("confident_defect" if self.trusted or kind in _FINAL else "condemning_confidence").value

    def sure(self, kind: Kind) -> Iterator[Defect]:
        """Damage of one kind that is sure enough to act on."""
        return (d for d in self.survey.defects if d.kind == kind and d.confidence >= self.needed_confidence(kind))

    def over_data(self, kind: Kind) -> Iterator[Defect]:
        """The same, where it lies over tracks of any possible format."""
        inner, outer = data_area_mm(self.face.format, 120)
        return (d for d in self.sure(kind) if d.radius_max_mm > inner and d.radius_min_mm < outer)

    @property
    def chance(self) -> float | None:
        return None if self.playback is None else self.playback.chance.probability


Voice = tuple[float | str | None, float | str | None]
"""What a rule saw, and its limit."""


@dataclass(frozen=True)
class Rule:
    """One rule.

    Attributes:
        meaning: one line on when it speaks.
        sees: what it saw and its limit, or None when it has nothing to say.
    """

    name: str
    action: Action
    since: str
    meaning: str
    sees: Callable[[Evidence], Voice | None]

    def speak(self, evidence: Evidence) -> Spoken | None:
        seen = self.sees(evidence)
        return None if seen is None else Spoken(self.name, self.action, *seen)


_rules: list[Rule] = []


def _rule(name: str, *, action: Action, since: str) -> Callable[[Callable[[Evidence], Voice | None]], None]:
    def enlist(sees: Callable[[Evidence], Voice | None]) -> None:
        _rules.append(Rule(name, action, since, (sees.__doc__ or "").strip(), sees))

    return enlist


# ------------------------------------------------------------------ when the format is not known


@_rule("format-decides", action="retake", since="2026-11-26")
def _(e: Evidence) -> Voice | None:
    """The formats that it may be come to different actions; the value tells them."""
    if len(set(e.actions.values())) < 2:
        return None
    return ", ".join(f"{name} {action}" for name, action in e.actions.items()), None


# ------------------------------------------------------------------ damage that condemns whatever else was seen


@_rule("crack", action="pass", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """A crack, however short and wherever it is (common practice, no source: it can burst in a fast drive)."""
    found = max((d.confidence for d in e.sure("crack")), default=None)
    return None if found is None else (found, e.needed_confidence("crack"))


@_rule("delamination", action="pass", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """Separated layers or a lost reflector over tracks: what lies there is gone, and it creeps on."""
    found = max((d.confidence for d in e.over_data("delamination")), default=None)
    return None if found is None else (found, e.needed_confidence("delamination"))


@_rule("label-side-damage", action="pass", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """A lamp shines through the mirror, over more of the track than the error correction mends."""
    return _too_long(e, [d for d in e.over_data("label_damage") if d.see_through])


@_rule("ring-arc", action="pass", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """A certain, long ring arc that the forecast finds fatal and polishing does not save."""
    if e.playback is None or e.playback.chance.probability > limit("condemning_play_chance").value or _polishable(e):
        return None
    sure, longest = limit("condemning_confidence").value, limit("condemning_ring_arc_deg").value
    arcs = [d.arc_deg for d in e.over_data("ring_arc") if d.confidence >= sure and d.arc_deg >= longest]
    return (max(arcs), longest) if arcs else None


# ------------------------------------------------------------------ photographs that give no answer


@_rule("label-wound", action="retake", since="2026-11-26")
def _(e: Evidence) -> Voice | None:
    """A CD's label has a wound that stops it should it go down to the data, and nothing yet tells whether it does."""
    if e.face.format != "cd" or Doubt.LABEL_DEPTH_UNKNOWN not in e.doubts or _dead(e):
        return None
    least = limit("confident_defect").value  # more likely than not is enough to ask, and the lead-in counts as well
    return _too_long(e, [d for d in e.survey.defects if d.kind == "label_damage" and d.confidence >= least])


@_rule("label-side-up", action="retake", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """The printed side is up: it says nothing about the tracks."""
    return (e.face.side, None) if e.face.side == "label" else None


@_rule("side-unknown", action="retake", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """It is not sure which side is up."""
    return (e.face.side_confidence, None) if e.face.side == "unknown" else None


@_rule("photo-too-poor", action="retake", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """The photograph has a fault with which no answer is given; the value names it."""
    return (e.doubts_that("retake"), None) if e.doubts_that("retake") else None


@_rule("little-seen", action="retake", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """Too little of the data area was seen to judge it."""
    least = limit("min_measured_fraction").value
    return (e.measured_fraction, least) if e.face.side != "label" and e.measured_fraction < least else None


# ------------------------------------------------------------------ what the forecast says


@_rule("polish-helps", action="resurface", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """It is not playable enough as it is, and polishing makes it likely to play and gains enough."""
    if e.playback is None or e.polish is None or not e.polish.possible or _playable(e) or not _polishable(e):
        return None
    gain = e.polish.chance.probability - e.playback.chance.probability
    return (e.polish.chance.probability, limit("polish_chance").value) if gain >= limit("polish_gain").value else None


@_rule("undecided", action="retake", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """Neither play nor pass, and it would be play if the part that was not seen turned out sound."""
    if e.chance is None or _playable(e) or _dead(e):
        return None
    sound, plays = part_reads(e.chance, share=e.measured_fraction), limit("play_chance").value
    return (sound, plays) if sound >= plays else None


@_rule("dead", action="pass", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """More likely than not it does not play."""
    return (e.chance, limit("pass_play_chance").value) if _dead(e) else None


@_rule("part-unseen", action="retake", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """Nothing condemns it, but so much of the data area was not seen that play cannot be promised."""
    least = limit("play_measured_fraction").value
    return (e.measured_fraction, least) if e.face.side != "label" and e.measured_fraction < least else None


@_rule("play-forbidden", action="retake", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """Nothing condemns it, but with a fault of the photograph, which the value names, play is not promised of it."""
    if e.doubts_that("forbid play"):
        return e.doubts_that("forbid play"), None
    enough = e.chance is not None and e.chance >= limit("hidden_fine_play_chance").value
    return (e.doubts_that("hide"), None) if e.doubts_that("hide") and not enough else None


@_rule("gamble", action="pass", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """The chance lies between pass and play, and neither polishing nor a better photograph would settle it."""
    return None if e.chance is None or _playable(e) or _dead(e) else (e.chance, limit("play_chance").value)


@_rule("plays", action="play", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """It is likely to play as it is."""
    return (e.chance, limit("play_chance").value) if _playable(e) else None


@_rule("not-judged", action="retake", since="2026-11-25")
def _(e: Evidence) -> Voice | None:
    """There is no forecast, so there is nothing to decide on."""
    return (None, None) if e.playback is None and e.face.side == "data" else None


def _too_long(e: Evidence, holes: list[Defect]) -> Voice | None:
    """The longest run in mm that one of them takes of the track, where error correction does not always mend as much.

    An area over the breadth of its ring is the mean run in it: all of a ring arc, and little of a line that crosses.
    """
    runs = [d.area_mm2.value / max(d.radius_max_mm - d.radius_min_mm, 1e-6) for d in holes if d.area_mm2]
    longest = max(runs, default=0.0)
    mended = FORMATS[e.face.formats[0]].guaranteed_burst_mm
    return (longest, mended) if longest > mended else None


def _playable(e: Evidence) -> bool:
    return e.chance is not None and e.chance >= limit("play_chance").value


def _dead(e: Evidence) -> bool:
    return e.chance is not None and e.chance < limit("pass_play_chance").value


def _polishable(e: Evidence) -> bool:
    return e.polish is not None and e.polish.possible and e.polish.chance.probability >= limit("polish_chance").value


RULES: tuple[Rule, ...] = tuple(_rules)
"""Every rule, the weightiest first."""
