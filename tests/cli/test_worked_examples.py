"""Worked examples of ledger, basket and learning through the command line; those of `worth` are in test_money.py.

The texts behind them are from memory unless said otherwise.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

Call = Callable[..., Any]
DETAILS = ("title", "amount", "fees", "good", "source", "note", "undoes", "document", "barcode")


def test_sales_of_1400_at_a_cost_of_800_from_a_stock_of_200_make_a_gmroi_of_3(book: Callable[[str], Any]) -> None:
    """Levy and Weitz, Retailing Management: 600 / 200 = 3.0; turns 800 / 200 = 4."""
    days = ["2025-01-01", "2025-04-02", "2025-07-02", "2025-10-02", "2026-01-01"]
    for number, (start, end) in enumerate(pairwise(days), start=1):
        book(f"bought 'Lot {number} of four' --cost 200 --on {start}")
        book(f"sold 'Lot {number} of four' --price 350 --on {end}")
    told = book("summary --on 2026-01-01").out
    assert told.startswith("Gain 600.00 with 4 items")
    assert "Over these 365 days, stock of 200.00 on average was turned 4.0 times and gained 3.0 times its cost." in told


def test_ten_in_cash_gain_48_where_the_best_ratio_gains_30(run: Call, stall: Path) -> None:
    """Dantzig 1957; Kellerer et al. 2004: budget 10; cost and gain (6, 30), (5, 24), (5, 24)."""
    (stall / "finds.csv").write_text("item,asked,sells,chance\nA,6,36,1\nB,5,29,1\nC,5,29,1\n")
    document = json.loads(run("basket", "finds.csv", "--budget", "10", "--json").out)
    assert (document["gain"], document["cost"], [pick["item"] for pick in document["picks"]]) == (
        "48.00", "10.00", ["B", "C"],
    )  # fmt: skip


def book_of(cases: Iterable[tuple[float, bool]], *, polishes: Iterable[bool] = ()) -> str:
    """An export: discs scanned with a chance and then tested; scratched discs polished with an outcome."""
    events = []

    def add(item: str, kind: str, **more: str) -> None:
        empty = dict.fromkeys(DETAILS, "")
        known = {"key": f"{item}{kind}", "item": f"{item}bought", "kind": kind, "day": "2026-01-02"}
        events.append({**empty, **known, **more})

    def scan(item: str, chance: float) -> None:
        disc = {
            "format": "dvd", "defects": [{"kind": "scratch"}], "playback": {"probability": chance},
            "verdict": {"action": "play"},
        }  # fmt: skip
        add(item, "bought", title=item, amount="4.00")
        add(item, "scanned", document=json.dumps({"photo": {"discs": [disc]}}))

    for number, (chance, played) in enumerate(cases):
        scan(f"Played {number} ", chance)
        add(f"Played {number} ", "tested", good="yes" if played else "no")
    for number, helped in enumerate(polishes):
        scan(f"Polished {number} ", 0.5)
        add(f"Polished {number} ", "polished", amount="3.00", good="yes" if helped else "no")
    return json.dumps({"events": events})


@pytest.fixture
def learned(run: Call, stall: Path) -> Callable[[str], tuple[str, Any]]:
    """What `learn` says of a book, and the file that it leaves."""

    def learn(export: str) -> tuple[str, Any]:
        (stall / "export.json").write_text(export)
        assert run("ledger", "import", "export.json").status == 0
        return run("learn").out, json.loads((stall / "ledger.learned.json").read_text())

    return learn


@pytest.mark.parametrize(
    ("chances", "played", "brier"),
    [([0.1, 0.9, 0.8, 0.3], [0, 1, 1, 0], 0.0375), ([0.9, 0.8, 0.3, 0.1], [1, 1, 0, 1], 0.2375)],
)
def test_briers_score(
    learned: Callable[[str], tuple[str, Any]], chances: list[float], played: list[int], brier: float
) -> None:
    """Brier 1950; the first is the example of scikit-learn's brier_score_loss."""
    told, lesson = learned(book_of(zip(chances, map(bool, played), strict=True)))
    assert lesson["scores"]["brier"] == pytest.approx(brier, abs=1e-12)
    assert "too few to tell" in told.lower()


def test_murphys_split(learned: Callable[[str], tuple[str, Any]]) -> None:
    """Murphy 1973: 0.035667 - 0.006667 + 0.24 = 0.269; calibration error 0.4 * 0.25 + 0.6 * 0.13333 = 0.18."""
    cases = [(0.25, n < 2) for n in range(4)] + [(0.8, n < 4) for n in range(6)]
    told, lesson = learned(book_of(cases))
    assert "Brier score 0.269 over 10 discs" in told
    assert "reliability 0.036" in told and "resolution 0.007" in told and "uncertainty 0.240" in told
    assert lesson["scores"]["calibration_error"] == pytest.approx(0.18)


def test_eight_of_ten_polishes_that_helped(learned: Callable[[str], tuple[str, Any]]) -> None:
    """Gelman et al., BDA3: Beta(7, 3) and 8 of 10 make Beta(15, 5), mean 0.75; its 90 % interval by SciPy."""
    told, lesson = learned(book_of([], polishes=[n < 8 for n in range(10)]))
    (scratch,) = lesson["polish"]
    found = scratch["helped"]
    assert (found["cases"], found["happened"], found["mean"]) == (10, 8, pytest.approx(0.75))
    assert [found["low"], found["high"]] == pytest.approx([0.5809, 0.8901], abs=5e-5)
    assert "58% to 89%" in told
