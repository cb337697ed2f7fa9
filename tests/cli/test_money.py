"""The money commands: worked examples to the cent, exit statuses, streams, and words instead of tracebacks.

The texts behind the examples are named in tests/worth/test_worked_examples.py.
"""

from __future__ import annotations

import json
import re
import shlex
import subprocess
import sys
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

Call = Callable[..., Any]
ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()
FINDS = str(ROOT / "tests/worth/quay_street_finds.csv")
PRICES = str(ROOT / "tests/worth/quay_street_prices.csv")


@pytest.fixture
def answer(run: Call) -> Callable[[str], Any]:
    """The JSON that a command answers with."""

    def ask(command: str) -> Any:
        called = run(*shlex.split(command), "--json")
        assert called.status == 0, called.err
        return json.loads(called.out)

    return ask


def act(document: Any, name: str) -> Any:
    (found,) = (one for one in document["acts"] if one["name"] == name)
    return found


def test_the_answer_on_one_disc_has_exactly_these_fields(answer: Call) -> None:
    document = answer("worth --sells 15 --chance 0.5 --days 10")
    assert set(document) == {"acts", "best", "most_to_pay", "polish_break_even_chance", "value_of_test"}
    for one in document["acts"]:
        assert set(one) == {
            "name", "gain", "low", "high", "loss_chance", "return_per_unit", "days", "gain_per_day",
        }  # fmt: skip
        assert re.fullmatch(r"-?\d+\.\d\d", one["gain"])
    assert document["best"] == document["acts"][0]["name"] == "sell-as-it-is"
    assert act(document, "sell-as-it-is")["gain_per_day"] == "0.75"


def test_a_polish_pays_from_one_third_on(answer: Call) -> None:
    document = answer("worth --sells 15 --sells-spoiled 3 --chance 0 --polish-fee 4")
    assert document["polish_break_even_chance"] == pytest.approx(1 / 3)
    spoiled = answer("worth --sells 15 --sells-spoiled 3 --chance 0 --polish-fee 4 --return-cost 2")
    assert spoiled["polish_break_even_chance"] == pytest.approx(0.42857, abs=1e-5)


def test_at_the_break_even_chance_the_polish_gains_as_much_as_the_best_other_act(answer: Call) -> None:
    common = "worth --sells 30 --sells-spoiled 2.50 --chance 0.4 --polish-fee 4 --postage 3 --selling-rate 13%"
    chance = answer(common)["polish_break_even_chance"]
    document = answer(f"{common} --chance-polished {chance:.12f}")
    assert act(document, "polish-then-sell")["gain"] == act(document, "sell-as-it-is")["gain"]


def test_the_most_to_pay_is_4_50_and_with_a_fee_2_50(answer: Call) -> None:
    document = answer("worth --sells 24 --chance 0.8 --selling-rate 0.13 --postage 4")
    assert (document["most_to_pay"], act(document, "sell-as-it-is")["gain"]) == ("4.50", "13.50")
    polished = "worth --sells 24 --chance 0 --chance-polished 0.8 --polish-fee 2 --selling-rate 0.13 --selling-fixed 4"
    assert answer(polished)["most_to_pay"] == "2.50"
    assert answer(f"{polished} --multiple 2")["most_to_pay"] == "4.75"  # 13.504 / 2 - 2


def test_a_test_is_worth_42_cents_and_a_perfect_one_1_20(answer: Call) -> None:
    document = answer("worth --sells 12 --chance 0.6 --asked 3 --test-sensitivity 0.9 --test-specificity 0.8")
    assert document["value_of_test"] == "0.42"
    assert (document["best"], act(document, "test-first")["gain"]) == ("test-first", "4.62")
    assert act(document, "sell-as-it-is")["gain"] == "4.20"
    assert act(document, "sell-as-it-is")["loss_chance"] == 0.4
    assert act(document, "sell-as-it-is")["return_per_unit"] == 2.4
    assert answer("worth --sells 12 --chance 0.6 --asked 3")["value_of_test"] == "1.20"


@pytest.mark.parametrize(
    ("command", "says"),
    [("--sells 13.50 --chance 1 --asked 4.50", "margin 66.7 %, markup 200.0 %"),
     ("--sells 12 --chance 1 --asked 10 --days 30", "819 % a year"),
     ("--sells 15 --chance 0.5 --asked 5", "stake 25 % at most"),
     ("--sells 80 --chance 1 --days 3", "The most to pay: 40.00, so that the money put in comes back 2 times, not 3"),
     ("--sells 80 --chance 1 --days 3 --multiple 3", "The most to pay: 26.67, so that the money put in comes back 3")],
)  # fmt: skip
def test_the_traders_figures_are_told(run: Call, command: str, says: str) -> None:
    assert says in run("worth", *command.split()).out


def test_the_best_act_comes_first_and_the_most_to_pay_soon_after(run: Call) -> None:
    lines = run(
        "worth", "--sells", "24", "--chance", "0.8", "--selling-rate", "0.13", "--postage", "4"
    ).out.splitlines()
    assert lines[0] == "SELL IT AS IT IS, ITS DAMAGE TOLD: expected gain 13.50."
    assert lines[1] == "The most to pay: 4.50, so that the money put in comes back 3 times."


def test_amounts_and_chances_are_taken_as_people_write_them(answer: Call) -> None:
    assert answer("worth --sells 24,00 --chance 80% --selling-rate 13% --postage 4") == answer(
        "worth --sells 24 --chance 0,8 --selling-rate 0.13 --postage 4.00"
    )


@pytest.mark.parametrize(
    "command",
    ["worth", "worth --chance 0.5", "worth --sells 12", "worth --sells 12 --chance 2", "worth --sells x --chance 1",
     "worth --sells -1 --chance 1", "worth --sells 1.234 --chance 1", "worth --sells 3 --sells-spoiled 5 --chance 1",
     "worth --sells 3 --chance 1 --multiple 0", "worth none.json --sells 3", "worth play.jpg --sells 3",
     "worth --sells 3 --chance 1 --days -1", "worth --sells 3 --chance nan", "prices", "prices none.csv",
     "prices play.jpg", "prices . ", f"prices {PRICES} --on yesterday", f"basket {FINDS}",
     f"basket {FINDS} --budget 3 --box 4", f"basket {PRICES} --budget 3", f"trip {FINDS}",
     f"trip {FINDS} --fee 3 --fee-from 3", f"trip {FINDS} --fee 3 --report play.jpg"],
)  # fmt: skip
def test_wrong_usage_is_2_and_told_in_words_on_standard_error_alone(run: Call, command: str) -> None:
    called = run(*shlex.split(command))
    assert (called.status, called.out) == (2, "")
    assert called.err and "Traceback" not in called.err


def test_without_a_price_there_is_no_number(run: Call) -> None:
    assert "No price." in run("worth", "--chance", "0.5").err
    called = run("prices", PRICES, "--item", "harbour songs", "--on", "2026-11-25")
    assert "no price" in called.out and "8.00" in called.out  # asked, and said to be so
    assert run("prices", PRICES, "--item", "Another", "--on", "2026-11-25").out.startswith("Another: no price.")


def test_the_chances_of_a_scan_are_reckoned_with(run: Call, answer: Call, stall: Path) -> None:
    """The stand-in disc plays with 0.9, from 0.8 to 0.96, and as well after a polish."""
    (stall / "one.json").write_text(run("scan", "play.jpg", "--json").out)
    (stall / "two.json").write_text(run("scan", "play.jpg", "pass.jpg", "--json").out)
    document = answer("worth one.json --sells 20 --polish-fee 4")
    assert act(document, "sell-as-it-is")["gain"] == "18.00"
    assert act(document, "polish-then-sell")["gain"] == "14.00"
    assert act(answer("worth one.json --sells 20 --chance 0.5"), "sell-as-it-is")["gain"] == "10.00"
    several = run("worth", "two.json", "--sells", "20")
    assert several.status == 2 and "1: play.jpg; 2: pass.jpg" in several.err
    assert answer("worth two.json --disc 1 --sells 20 --polish-fee 4") == document
    assert run("worth", "two.json", "--disc", "3", "--sells", "20").status == 2


def test_a_disc_that_may_be_cracked_is_neither_tested_nor_polished(run: Call, answer: Call, stall: Path) -> None:
    (stall / "cracked.json").write_text(run("scan", "pass.jpg", "--json").out)
    document = answer("worth cracked.json --sells 20 --sells-spoiled 1 --polish-fee 4")
    assert not {"test-first", "polish-then-sell"} & {one["name"] for one in document["acts"]}
    assert document["polish_break_even_chance"] is None
    assert "Caution: A crack is seen or suspected" in run("worth", "cracked.json", "--sells", "20").out


def test_a_photo_without_an_answer_is_told(run: Call, stall: Path) -> None:
    (stall / "unclear.json").write_text(run("scan", "retake.jpg", "--json").out)
    out = run("worth", "unclear.json", "--sells", "20", "--asked", "17", "--chance-polished", "0").out
    assert "The scan asks for another photo" in out
    assert "to leave it at its low end" in out
    assert re.search(r"A better photo is worth \d\.\d\d at most", out)
    (stall / "none.json").write_text(run("scan", "no_disc.jpg", "--json").out)
    assert run("worth", "none.json", "--sells", "20").status == 2


def test_rows_left_out_are_told_by_line_and_make_the_status_1(run: Call) -> None:
    called = run("prices", PRICES, "--on", "2026-11-25", "--json")
    assert called.status == 1
    assert called.err == f"discscan: {PRICES}: Line 10 is left out. This is no price: 5 or so.\n"
    document = json.loads(called.out)
    assert [fault["line"] for fault in document["faults"]] == [10]
    ferry = next(one for one in document["prices"] if one["item"] == "The Last Ferry")
    assert (ferry["price"], ferry["sold"], ferry["asking"]) == ("12.50", 5, 1)


def test_the_finds_of_a_table_take_their_chances_from_a_scan(run: Call, stall: Path) -> None:
    (stall / "stack.json").write_text(run("scan", "play.jpg", "pass.jpg", "--json").out)
    (stall / "finds.csv").write_text("item,photo,asked,sells\nA,play.jpg,1,20\nB,pass.jpg,2,20\nC,none.jpg,1,20\n")
    called = run("basket", "finds.csv", "--budget", "1", "--report", "stack.json", "--json")
    document = json.loads(called.out)
    assert called.status == 1 and "Line 4 is left out." in called.err
    assert [(pick["item"], pick["gain"]) for pick in document["picks"]] == [("A", "17.00")]
    assert document["left"] == ["B"]


def test_a_basket_adds_up_and_keeps_within_the_cash(answer: Call) -> None:
    document = answer(f"basket {FINDS} --budget 15 --postage 1")
    assert Decimal(document["cost"]) == sum(Decimal(pick["cost"]) for pick in document["picks"]) <= 15
    assert Decimal(document["gain"]) == sum(Decimal(pick["gain"]) for pick in document["picks"])


def test_a_box_and_a_trip_say_whether_or_not(run: Call) -> None:
    assert run("basket", FINDS, "--box", "15").out.startswith("TAKE THE BOX at 15.00")
    assert run("basket", FINDS, "--box", "150").out.startswith("LEAVE THE BOX at 150.00")
    assert run("trip", FINDS, "--fee", "4").out.startswith("GO with 2 discs")
    assert run("trip", FINDS, "--fee", "4", "--going", "12").out.startswith("DO NOT GO YET")
    assert run("trip", FINDS, "--fee", "40").out.startswith("DO NOT GO YET")


def test_a_trip_reckons_with_tiers_a_limit_and_a_machine(answer: Call) -> None:
    trip = answer(f"trip {FINDS} --fee 4 --fee-from 2:3 --at-most 1 --bench-price 150 --bench-supplies 0.50")
    assert (len(trip["picks"]), trip["fee_each"], trip["go"]) == (1, "4.00", True)
    assert trip["bench"] == {"price": "150.00", "months": 12, "saving_each": "3.50", "discs_a_month": 4}
    assert answer(f"trip {FINDS} --fee 4 --fee-from 2:3")["fee_each"] == "3.00"


@pytest.mark.parametrize(
    ("command", "answer"),
    re.findall(r"```\n\$ \.venv/bin/discscan ((?:worth|prices|basket|trip) .+)\n([^`]+)```", README),
)
def test_the_answers_shown_in_the_readme_are_the_programs_own(command: str, answer: str) -> None:
    run = [sys.executable, "-m", "discscan", *shlex.split(command)]
    ended = subprocess.run(run, cwd=ROOT, capture_output=True, text=True, check=False)
    assert [line.rstrip() for line in ended.stdout.splitlines()] == answer.splitlines()


def test_the_readme_shows_money_examples() -> None:
    assert len(re.findall(r"^\$ \.venv/bin/discscan (?:worth|prices|basket|trip) ", README, re.MULTILINE)) >= 2
