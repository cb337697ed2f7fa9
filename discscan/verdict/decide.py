"""The one place that picks among the rules."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from discscan.calibration import limit
from discscan.doubts import Doubt
from discscan.records import Action, DamageSurvey, Face, FormatName, Outlook, Spoken, Verdict
from discscan.verdict.rules import RULES, Evidence

CAUTIONS: tuple[str, ...] = ("do-not-spin", "polish-cautions", "cleaning", "dust-first", "test-by-playing")
"""Names of all cautions.

do-not-spin: a crack is seen or suspected; a cracked disc can burst in a fast drive.
polish-cautions: abrasives, solvents, dust, the maker's instructions and local rules.
cleaning: there is enough grease on it to wipe it, straight from the centre to the rim, before it is played or polished.
dust-first: it is dusty, and dust hides scratches and scratches when wiped dry.
test-by-playing: the answer is a chance; play it before it is sold on.
"""


def decide(
    *,
    face: Face,
    survey: DamageSurvey,
    outlooks: Mapping[FormatName, Outlook],
    doubts: tuple[Doubt, ...],
    measured_fraction: float,
) -> tuple[Verdict, Outlook | None]:
    """Play, resurface, pass, or take another photograph.

    Every rule is heard, for each format that the disc may be; the weightiest that speaks decides, the others follow in
    their rank. Where the formats come to different actions, the answer asks which it is.

    Args:
        outlooks: of each possible format; none on a label side.
        doubts: of all rooms.
        measured_fraction: 0..1 of the data area.
    Returns:
        the verdict, and the outlook that it speaks of: that of the possible format which fares worst.
    """
    each = {
        name: Evidence(
            face=replace(face, format=name, formats=(name,)),
            survey=survey,
            playback=outlooks[name].playback if name in outlooks else None,
            polish=outlooks[name].polish if name in outlooks else None,
            doubts=doubts,
            measured_fraction=measured_fraction,
        )
        for name in face.formats
    }
    actions = {name: _heard(evidence)[0].action for name, evidence in each.items()}
    worst = min(each, key=lambda name: each[name].chance or 0.0)
    spoken = _heard(replace(each[worst], actions=actions))
    action = spoken[0].action
    return Verdict(action, spoken, tuple(_cautions(action, survey))), outlooks.get(worst)


def _heard(evidence: Evidence) -> tuple[Spoken, ...]:
    return tuple(said for rule in RULES if (said := rule.speak(evidence)) is not None)


def _cautions(action: Action, survey: DamageSurvey) -> Iterator[str]:
    suspected = limit("crack_caution_confidence").value
    cracked = any(d.kind == "crack" and d.confidence >= suspected for d in survey.defects)
    smudged_mm2 = sum(d.area_mm2.value for d in survey.defects if d.kind == "smudge" and d.area_mm2)
    if cracked:
        yield "do-not-spin"
    if action == "resurface":
        yield "polish-cautions"
    if smudged_mm2 >= limit("smudged_area_mm2").value:
        yield "cleaning"
    if sum(d.kind == "dust" for d in survey.defects) >= limit("dusty_specks").value:
        yield "dust-first"
    if action in ("play", "resurface") and not cracked:
        yield "test-by-playing"
