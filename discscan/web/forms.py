"""Typed amounts and chances, read as the command line reads them, each with what is wrong with it beside its field."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from discscan.deals import Advice, Forecast
from discscan.errors import BadTerms
from discscan.money import parse_money, parse_share
from discscan.report import money_words
from discscan.worth import advise_on_scan

MAX_LENGTH = 20


@dataclass(frozen=True)
class Field:
    """One input. Its name is that of the value that it gives, as on the command line."""

    name: str
    label: str
    hint: str
    parse: Callable[[str], Decimal]


def _days(text: str) -> Decimal:
    if not (text.isascii() and text.isdigit() and len(text) <= 5):
        raise ValueError(f"{text!r} is no number of days, such as 14.")
    return Decimal(text)


SELLS = Field("sells", "Sells for, when it plays", "such as 15", parse_money)
ASKED = Field("asked", "Its price now", "when you have yet to buy it", parse_money)
CHANCES = (
    Field("chance", "Chance that it plays", "such as 0.8 or 80%", parse_share),
    Field("chance_polished", "Chance after a polish", "if you know it", parse_share),
)
COSTS = (
    Field("sells_spoiled", "Sells for, when it does not play", "sold as such", parse_money),
    Field("polish_fee", "A polish costs", "", parse_money),
    Field("selling_rate", "Share that selling costs", "such as 13%", parse_share),
    Field("selling_fixed", "Fixed fee of a sale", "", parse_money),
    Field("postage", "Postage", "", parse_money),
    Field("return_cost", "A returned sale costs", "", parse_money),
    Field("days", "Days until it is sold", "", _days),
)
ALL = (SELLS, ASKED, *CHANCES, *COSTS)


@dataclass(frozen=True)
class Worth:
    """A filled-in form: what was typed, what is wrong with it by field ("" for the whole), and the answer."""

    typed: Mapping[str, str] = field(default_factory=dict)
    wrong: Mapping[str, str] = field(default_factory=dict)
    advice: Advice | None = None
    lines: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    cautions: tuple[str, ...] = ()


def read_worth(query: Mapping[str, str], forecast: Forecast | None = None) -> Worth:
    """The answer to what was typed; an empty form has none, and nothing is wrong with it."""
    fields = [one for one in ALL if forecast is None or one not in CHANCES]
    typed = {one.name: query.get(one.name, "").strip()[:MAX_LENGTH] for one in fields}
    if not any(typed.values()):
        return Worth()
    told, wrong = {}, {}
    for one in fields:
        if typed[one.name]:
            try:
                told[one.name] = one.parse(typed[one.name])
            except ValueError as error:
                wrong[one.name] = str(error)
    if not typed["sells"]:
        wrong["sells"] = "Say what it brings when it plays."
    if forecast is None and not typed["chance"]:
        wrong["chance"] = "Say how likely it plays."
    if wrong:
        return Worth(typed, wrong)
    try:
        advice = advise_on_scan(told, forecast)
    except BadTerms as error:
        return Worth(typed, {"": f"{error.what} {error.remedy}"})
    settled = forecast is None or forecast.settled
    return Worth(
        typed=typed,
        advice=advice,
        lines=tuple(money_words.advice_lines(advice, settled=settled)),
        rows=tuple(money_words.act_rows(advice)),
        cautions=tuple(money_words.advice_cautions(advice)),
    )
