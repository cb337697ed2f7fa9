"""Situations that a clerk can read: given, expect, because."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from discscan.doubts import Doubt
from discscan.records import (
    LINE_KINDS,
    Action,
    Chance,
    DamageSurvey,
    Defect,
    Face,
    Playback,
    Polish,
    Reading,
    Verdict,
)
from discscan.verdict import CAUTIONS, RULES, decide

CASES = sorted((Path(__file__).parent / "cases").glob("*.toml"))
ACTIONS: set[Action] = {"play", "resurface", "pass", "retake"}


def defects_of(given: dict[str, Any]) -> list[Defect]:
    found = []
    for entry in given.get("defects", []):
        low, high = entry["radius_mm"]
        line = entry["kind"] in LINE_KINDS
        area = Reading(entry.get("area_mm2", 1.0), 0.1)
        defect = Defect(
            kind=entry["kind"],
            outline_mm=np.array([[low, 0.0], [high, 0.0], [high, 0.1]]),
            length_mm=Reading(high - low, 0.1) if line else None,
            width_um=Reading(80.0, 20.0) if line else None,
            width_is_bound=False,
            area_mm2=None if line else area,
            radius_min_mm=low,
            radius_max_mm=high,
            arc_deg=entry.get("arc_deg", 0.1),
            confidence=entry["confidence"],
        )
        found += [defect] * entry.get("times", 1)
    return found


def judge(given: dict[str, Any]) -> Verdict:
    name = given.get("format", "dvd" if "formats" not in given else "unknown")
    face = Face(
        side=given.get("side", "data"),
        side_confidence=given.get("side_confidence", 0.98),
        recording="pressed",
        format=name,
        format_source="given" if name != "unknown" else "guessed",
        formats=tuple(given.get("formats", [name])),
    )
    seen = given.get("measured_fraction", 0.95)
    play, polish = given.get("play"), given.get("polish")
    return decide(
        face=face,
        survey=DamageSurvey(tuple(defects_of(given)), 1.0, seen),
        playback=Playback(face.formats[0], Chance(*play), 1.0, 6.0, 0.0, None) if play else None,
        polish=Polish(polish["possible"], Chance(*polish["chance"]), polish["why"]) if polish else None,
        doubts=tuple(Doubt[doubt] for doubt in given.get("doubts", [])),
        measured_fraction=seen,
    )


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_the_situation_is_judged_as_a_clerk_would(path: Path) -> None:
    case = tomllib.loads(path.read_text())
    verdict = judge(case["given"])
    expect = case["expect"]
    assert (verdict.action, verdict.spoken[0].rule) == (expect["action"], expect["rule"]), case["because"]
    assert set(expect.get("also", [])) <= {said.rule for said in verdict.spoken[1:]}
    if "cautions" in expect:
        assert list(verdict.cautions) == expect["cautions"]


def test_there_is_a_situation_for_every_rule_and_every_caution() -> None:
    expectations = [tomllib.loads(path.read_text())["expect"] for path in CASES]
    assert {expect["rule"] for expect in expectations} == {rule.name for rule in RULES}
    assert {caution for expect in expectations for caution in expect.get("cautions", [])} == set(CAUTIONS)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.name)
def test_every_rule_has_a_date_an_action_and_one_line_of_meaning(rule: Any) -> None:
    assert rule.since.startswith("20")
    assert rule.action in ACTIONS
    assert rule.meaning and "\n" not in rule.meaning


@pytest.mark.parametrize("doubt", Doubt, ids=lambda doubt: doubt.name)
def test_what_a_doubt_does_to_a_clean_disc(doubt: Doubt) -> None:
    verdict = judge({"play": [0.97, 0.9, 0.99], "doubts": [doubt.name]})
    assert verdict.action == ("play" if doubt.value.effect == "widen" else "retake")


@pytest.mark.parametrize("side", ["data", "label", "unknown"])
@pytest.mark.parametrize("play", [None, [0.99, 0.9, 1.0], [0.6, 0.1, 0.9], [0.0, 0.0, 0.1]])
@pytest.mark.parametrize("doubts", [[], ["GLARE"], ["BLURRED"], ["COARSE", "SIDE_UNCLEAR"]])
@pytest.mark.parametrize("format_name", ["cd", "dvd", "bd"])
def test_a_confident_crack_is_passed_up_whatever_else_is_seen(
    side: str, play: list[float] | None, doubts: list[str], format_name: str
) -> None:
    """Common practice, no source: a cracked disc is not spun."""
    crack = {"kind": "crack", "radius_mm": [7.5, 20.0], "confidence": 0.95}
    given = {"side": side, "play": play, "doubts": doubts, "format": format_name, "defects": [crack]}
    verdict = judge(given)
    assert verdict.action == "pass"
    assert verdict.cautions[0] == "do-not-spin"


@pytest.mark.parametrize("action_chance", [(0.95, "play"), (0.65, "pass"), (0.2, "pass")])
def test_smudges_and_dust_never_change_the_action(action_chance: tuple[float, str]) -> None:
    chance, action = action_chance
    dirt = [
        {"kind": "smudge", "radius_mm": [25.0, 57.0], "area_mm2": 3000.0, "confidence": 1.0, "arc_deg": 180.0},
        {"kind": "dust", "radius_mm": [30.0, 30.1], "confidence": 1.0, "times": 200},
    ]
    for defects in ([], dirt):
        assert judge({"play": [chance, chance - 0.1, chance + 0.04], "defects": defects}).action == action
