"""Learning through the command line."""

from __future__ import annotations

import json
import shlex
from collections.abc import Callable
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest

Call = Callable[..., Any]


def export_of(report: dict[str, Any], *, discs: int, plays: int) -> str:
    """A ledger as `export` writes it: so many discs scanned and tested, of which some play."""
    empty = dict.fromkeys(("title", "amount", "fees", "good", "source", "note", "undoes", "document"), "")
    day = {"day": "2026-01-02"}
    document = json.dumps({"photo": report["photos"][0]})
    events = []
    for number in range(discs):
        one = {**empty, **day, "item": f"{number}"}
        events += [
            {**one, "key": f"{number}", "kind": "bought", "title": f"Film {number}", "amount": "4.00"},
            {**one, "key": f"{number}s", "kind": "scanned", "document": document},
            {**one, "key": f"{number}t", "kind": "tested", "good": "yes" if number < plays else "no"},
        ]
    return json.dumps({"events": events})


@pytest.fixture
def learn(run: Call) -> Callable[[str], Any]:
    return lambda command: run(*shlex.split(command))


def test_an_empty_ledger_teaches_nothing(learn: Callable[[str], Any], stall: Path) -> None:
    assert "Nothing was learned yet" in learn("learn --show").out
    for command in ("learn", "learn --show"):
        done = learn(command)
        assert done.status == 0 and "too few to tell" in done.out
    assert (stall / "ledger.learned.json").is_file()


def test_a_forecast_that_was_wrong_is_recalibrated_until_switched_off(learn: Callable[[str], Any], stall: Path) -> None:
    """The stand-in disc has a chance of 0.9; of 40 such discs 20 play, so that Platt's targets are 21/22 and 1/22."""
    report = learn("scan play.jpg --json").out
    (stall / "disc.json").write_text(report)
    (stall / "export.json").write_text(export_of(json.loads(report), discs=40, plays=20))
    assert learn("ledger import export.json").status == 0

    def scan_and_worth() -> tuple[Any, Any]:
        scanned = learn("scan play.jpg --json")
        (stall / "disc.json").write_text(scanned.out)
        return scanned, learn("worth disc.json --sells 10 --chance-polished 0 --json")

    plain, before = scan_and_worth()
    assert json.loads(plain.out)["learned"] is None and plain.err == ""

    learned = learn("learn --diagram forecast.svg")
    assert learned.status == 0, learned.err
    assert "40 discs tested after a scan; 20 played." in learned.out
    assert "Brier score 0.410 over 40 discs" in learned.out, "half of 0.01 and 0.81"
    assert "In use" in learned.out
    assert "n = 40" in (stall / "forecast.svg").read_text()

    scanned, after = scan_and_worth()
    assert "recalibrated by 40 discs of your own ledger" in scanned.err
    named, playback = (report := json.loads(scanned.out))["learned"], report["photos"][0]["discs"][0]["playback"]
    assert (named["file"], named["cases"], named["recalibration"]) == ("ledger.learned.json", 40, "sigmoid")
    assert named["sha256"] == sha256((stall / "ledger.learned.json").read_bytes()).hexdigest()
    assert (playback["probability"], playback["before_learning"]["probability"]) == (0.5, 0.9)
    most = [json.loads(run.out)["most_to_pay"] for run in (before, after)]
    assert most == ["3.00", "1.67"], "a third of 10 * 0.9, and of 10 * 0.5"

    assert learn("learn --off").out == "Switched off.\n"
    assert scan_and_worth() == (plain, before)
    assert learn("learn --on").out.startswith("In use")
    assert scan_and_worth() == (scanned, after)
    assert "deleted" in learn("learn --forget").out
    assert scan_and_worth() == (plain, before)
    assert "Nothing was learned yet" in learn("learn --forget").out


@pytest.mark.parametrize(
    "command", ["learn --show --off", "learn --off --diagram x.svg", "learn --diagram nowhere/x.svg", "learn --book ."]
)
def test_wrong_usage_is_2(learn: Callable[[str], Any], command: str) -> None:
    done = learn(command)
    assert done.status == 2 and done.err and "Traceback" not in done.err


def test_a_file_of_what_was_learned_that_is_damaged_is_told(learn: Callable[[str], Any], stall: Path) -> None:
    (stall / "disc.json").write_text(learn("scan play.jpg --json").out)
    (stall / "ledger.learned.json").write_text("{")
    for command in ("learn --show", "scan play.jpg"):
        done = learn(command)
        assert done.status == 2 and "discscan learn --forget" in done.err
    assert learn("learn").status == 0
