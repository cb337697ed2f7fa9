"""Whether another photograph could change the verdict; the figures follow from the equations in the module."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discscan.doubts import Doubt
from discscan.records import Action, Chance, DamageSurvey, Face, FormatName, Outlook, Playback, Polish
from discscan.verdict import decide
from discscan.verdict.another_photo import could_become, part_reads

POLISH = Polish(False, Chance(0.0, 0.0, 0.0), "too-thin")


Outlooks = Mapping[FormatName, Outlook]


def forecast(probability: float, low: float, high: float, *, name: FormatName = "dvd") -> dict[FormatName, Outlook]:
    return {name: Outlook(Playback(name, Chance(probability, low, high), 0.0, 6.0, 0.0, None), POLISH)}


def by_chance(outlooks: Outlooks, doubts: tuple[Doubt, ...], measured: float) -> Action:
    """A house of three rules: enough seen, and likely to play."""
    if measured < 0.75 or Doubt.BLURRED in doubts:
        return "retake"
    (outlook,) = outlooks.values()
    return "play" if outlook.playback.chance.probability >= 0.8 else "pass"


def by_the_rules(outlooks: Outlooks, doubts: tuple[Doubt, ...], measured: float) -> Action:
    """Those of the house, on a data side without any defect."""
    face = Face("data", 1.0, "pressed", "unknown", "guessed", tuple(outlooks))
    survey = DamageSurvey((), 0.0, measured, ())
    return decide(face=face, survey=survey, outlooks=outlooks, doubts=doubts, measured_fraction=measured)[0].action


def ask(action: Action, outlooks: Outlooks, *doubts: Doubt, seen: float) -> tuple[tuple[Action, ...], float]:
    return could_become(action=action, judge=by_chance, outlooks=outlooks, doubts=doubts, shown_fraction=seen)


@given(chance=st.floats(0.01, 1), share=st.floats(0, 1))
def test_what_is_seen_and_what_is_not_make_up_the_whole(chance: float, share: float) -> None:
    seen, unseen = part_reads(chance, share=share), part_reads(chance, share=1 - share)
    assert chance <= seen * (1 + 1e-12)
    assert seen * unseen == pytest.approx(chance)
    assert part_reads(chance, share=0.0) == 1.0


def test_a_disc_seen_whole_without_doubts_has_nothing_left_to_show() -> None:
    assert ask("play", forecast(0.9, 0.7, 0.97), seen=1.0) == ((), 0.0)


def test_a_good_disc_half_unseen_becomes_play_unless_the_rest_is_bad() -> None:
    others, chance = ask("retake", forecast(0.81, 0.6, 0.9), seen=0.5)
    assert others == ("play", "pass")
    assert chance == pytest.approx(1.0)
    # sound with 0.81^0.5 = 0.9; a disc called "play" already would change in the other tenth
    assert ask("play", forecast(0.81, 0.6, 0.9), seen=0.5) == (("pass",), pytest.approx(0.1))


def test_doubts_open_the_interval_with_the_weights_of_three_points() -> None:
    assert ask("pass", forecast(0.7, 0.4, 0.9), Doubt.SOFT, seen=1.0) == (("play",), pytest.approx(0.185))
    assert ask("pass", forecast(0.7, 0.4, 0.75), Doubt.SOFT, seen=1.0) == ((), 0.0)


def test_no_photo_clears_up_the_format() -> None:
    assert ask("pass", forecast(0.7, 0.4, 0.9), Doubt.FORMAT_UNKNOWN, seen=1.0) == ((), 0.0)


def test_a_photo_shows_the_same_faults_whichever_format_it_is() -> None:
    """Bad luck with what was not seen fails it as each format, and is no reason to ask which it is."""
    both = {**forecast(0.9, 0.6, 0.97, name="cd"), **forecast(0.9, 0.7, 0.97)}
    assert by_the_rules(both, (), 1.0) == "play"
    found = could_become(action="play", judge=by_the_rules, outlooks=both, doubts=(), shown_fraction=0.9)
    assert found == (("pass",), pytest.approx(1 - 0.9**0.1))


def test_what_fails_it_as_one_format_alone_leaves_the_verdict_to_the_format() -> None:
    either = {**forecast(0.95, 0.9, 1.0, name="cd"), **forecast(0.85, 0.7, 0.9)}
    others, chance = could_become(
        action="play", judge=by_the_rules, outlooks=either, doubts=(), shown_fraction=0.5
    )  # fmt: skip
    assert others == ("retake", "pass")
    assert chance == pytest.approx(1 - 0.85**0.5)


@given(cd=st.floats(0, 1), dvd=st.floats(0, 1), bd=st.floats(0, 1), shown=st.floats(0, 1))
def test_what_may_come_of_it_is_counted_once(cd: float, dvd: float, bd: float, shown: float) -> None:
    each = {
        name: outlook
        for name, chance in (("cd", cd), ("dvd", dvd), ("bd", bd))
        for name, outlook in forecast(chance, 0.0, 1.0, name=name).items()  # type: ignore[arg-type]
    }
    never: Action = "resurface"
    _, chance = could_become(action=never, judge=by_the_rules, outlooks=each, doubts=(), shown_fraction=shown)
    assert chance == pytest.approx(1.0)


def test_what_decides_whatever_is_seen_stays() -> None:
    found = could_become(
        action="pass", judge=lambda *_: "pass", outlooks=forecast(0.5, 0.1, 0.9), doubts=(Doubt.GLARE,),
        shown_fraction=0.3,
    )  # fmt: skip
    assert found == ((), 0.0)


def test_before_the_data_side_is_seen_all_is_open() -> None:
    assert ask("retake", {}, seen=0.0) == (("play", "resurface", "pass"), 1.0)


def test_the_side_is_no_matter_once_a_crack_condemns_the_disc() -> None:
    cracked: tuple[Doubt, ...] = (Doubt.SIDE_UNCLEAR, Doubt.COARSE)
    found = could_become(
        action="pass", judge=lambda *_: "pass", outlooks=forecast(0.4, 0.0, 0.9), doubts=cracked,
        shown_fraction=0.55,
    )  # fmt: skip
    assert found == ((), 0.0)
    assert ask("retake", forecast(0.4, 0.0, 0.9), Doubt.SIDE_UNCLEAR, seen=1.0) == (("play", "resurface", "pass"), 1.0)
