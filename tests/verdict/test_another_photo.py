"""Whether another photograph could change the verdict; the figures follow from the equations in the module."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discscan.doubts import Doubt
from discscan.records import Action, Chance, Playback, Polish
from discscan.verdict.another_photo import could_become, part_reads

POLISH = Polish(False, Chance(0.0, 0.0, 0.0), "too-thin")


def forecast(probability: float, low: float, high: float) -> Playback:
    return Playback("dvd", Chance(probability, low, high), 0.0, 6.0, 0.0, None)


def by_chance(playback: Playback, polish: Polish, doubts: tuple[Doubt, ...], measured: float) -> Action:
    """A house of three rules: enough seen, and likely to play."""
    if measured < 0.75 or Doubt.BLURRED in doubts:
        return "retake"
    return "play" if playback.chance.probability >= 0.8 else "pass"


def ask(action: Action, playback: Playback | None, *doubts: Doubt, seen: float) -> tuple[tuple[Action, ...], float]:
    return could_become(
        action=action, judge=by_chance, playback=playback, polish=POLISH, doubts=doubts, shown_fraction=seen
    )  # fmt: skip


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


def test_what_decides_whatever_is_seen_stays() -> None:
    found = could_become(
        action="pass", judge=lambda *_: "pass", playback=forecast(0.5, 0.1, 0.9), polish=POLISH, doubts=(Doubt.GLARE,),
        shown_fraction=0.3,
    )  # fmt: skip
    assert found == ((), 0.0)


def test_before_the_data_side_is_seen_all_is_open() -> None:
    assert ask("retake", None, seen=0.0) == (("play", "resurface", "pass"), 1.0)


def test_the_side_is_no_matter_once_a_crack_condemns_the_disc() -> None:
    cracked: tuple[Doubt, ...] = (Doubt.SIDE_UNCLEAR, Doubt.COARSE)
    found = could_become(
        action="pass", judge=lambda *_: "pass", playback=forecast(0.4, 0.0, 0.9), polish=POLISH, doubts=cracked,
        shown_fraction=0.55,
    )  # fmt: skip
    assert found == ((), 0.0)
    assert ask("retake", forecast(0.4, 0.0, 0.9), Doubt.SIDE_UNCLEAR, seen=1.0) == (("play", "resurface", "pass"), 1.0)
