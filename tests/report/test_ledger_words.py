"""Every kind of event has its word."""

from __future__ import annotations

from typing import get_args

from discscan.events import Kind
from discscan.report import ledger_words as words


def test_every_kind_of_event_is_named() -> None:
    assert set(words.KIND) == set(get_args(Kind))
