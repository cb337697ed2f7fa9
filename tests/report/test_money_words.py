"""Every name that the worth room hands on has its sentence."""

from __future__ import annotations

import re
from typing import get_args

import pytest

from discscan.deals import ActName, Completeness, Fault
from discscan.report import money_words as words
from discscan.rows import FAULTS


def test_every_fault_has_its_sentence_and_no_sentence_is_left_over() -> None:
    assert set(words.FAULTS) == set(FAULTS)


@pytest.mark.parametrize("what", FAULTS)
def test_a_fault_says_its_line_and_what_it_is_about(what: str) -> None:
    whole = words.FAULTS[what] == "{text}"  # a sentence of another place, which is not cut
    said = words.fault(Fault(7, what, "This makes no sense." if whole else "x" * 200))
    assert re.fullmatch(r"Line 7 is left out\. [A-Z][^{}]{10,}\.", said)
    assert len(said) < 200, "a long field is cut"


def test_every_act_and_state_is_named() -> None:
    assert set(words.ACT) == set(get_args(ActName))
    assert set(words.STATE) == set(get_args(Completeness))
