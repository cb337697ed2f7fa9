"""The one place that picks among the rules."""

from __future__ import annotations

from collections.abc import Iterator

from discscan.calibration import limit
from discscan.doubts import Doubt
from discscan.records import Action, DamageSurvey, Face, Playback, Polish, Verdict
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
    playback: Playback | None,
    polish: Polish | None,
    doubts: tuple[Doubt, ...],
    measured_fraction: float,
) -> Verdict:
    """Play, resurface, pass, or take another photograph.

    Every rule is heard; the weightiest that speaks decides, the others follow in their rank.

    Args:
        doubts: of all rooms.
        measured_fraction: 0..1 of the data area.
    """
    evidence = Evidence(face, survey, playback, polish, doubts, measured_fraction)
    spoken = tuple(said for rule in RULES if (said := rule.speak(evidence)) is not None)
    action = spoken[0].action
    return Verdict(action, spoken, tuple(_cautions(action, survey)))


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
