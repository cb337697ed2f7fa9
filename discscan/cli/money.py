"""The commands about money: options in, words and tables out. No sum and no sentence is made here."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, TypeVar

import typer

from discscan.barcodes import parse_barcode
from discscan.money import parse_money, parse_share, parse_tier

Value = TypeVar("Value")


def _or_bad(parse: Callable[[str], Value]) -> Callable[[str], Value]:
    """Its ValueError, told as wrong usage of the option."""

    def parsed(text: str) -> Value:
        try:
            return parse(text)
        except ValueError as error:
            raise typer.BadParameter(str(error)) from None

    return parsed


def _times(text: str) -> Decimal:
    times = parse_money(text)
    if times == 0:
        raise ValueError("It must be above zero.")
    return times


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text!r} is no date, such as 2026-11-25.") from None


def amount_option(help: str) -> Any:
    return typer.Option(parser=_or_bad(parse_money), metavar="AMOUNT", help=help)


def day_option(help: str) -> Any:
    return typer.Option(parser=_or_bad(_day), metavar="DATE", help=help)


def barcode_option(help: str) -> Any:
    return typer.Option(parser=_or_bad(parse_barcode), metavar="NUMBER", help=help)


def _share(help: str) -> Any:
    return typer.Option(parser=_or_bad(parse_share), metavar="SHARE", help=help)


_MULTIPLE = typer.Option(
    parser=_or_bad(_times), metavar="TIMES",
    help="How often the money put in should come back (3 when not given, 2 for a dear disc that sells fast).",
)  # fmt: skip
_TABLE = typer.Argument(metavar="TABLE", help="A table (CSV) of discs; its first row names the columns.")
_FORECASTS = typer.Option(metavar="FILE", help="A report of `scan --json`, for rows that name a photo.")
_JSON = typer.Option("--json", help="Write the answer as one JSON document.")

Rate = Annotated[Decimal | None, _share("Share of the price that selling costs, such as 0.13.")]
Fixed = Annotated[Decimal | None, amount_option("What each sale costs on top of that.")]
Postage = Annotated[Decimal | None, amount_option("What sending it costs you.")]
Return = Annotated[Decimal | None, amount_option("All that it costs you when a buyer sends it back.")]
Multiple = Annotated[Decimal | None, _MULTIPLE]
Table = Annotated[Path, _TABLE]
Forecasts = Annotated[Path | None, _FORECASTS]
AsJson = Annotated[bool, _JSON]


class Dates(StrEnum):
    day_first = "day-first"
    month_first = "month-first"


def worth(
    report: Annotated[
        Path | None, typer.Argument(metavar="[REPORT]", help="A report of `scan --json`, for the chances of its disc.")
    ] = None,
    disc: Annotated[int | None, typer.Option(min=1, help="Which disc of the report, from 1.")] = None,
    sells: Annotated[Decimal | None, amount_option("What it sells for when it plays.")] = None,
    sells_spoiled: Annotated[
        Decimal | None, amount_option("What it brings if it turns out not to play, sold as such.")
    ] = None,
    chance: Annotated[Decimal | None, _share("The chance that it plays as it is, such as 0.8 or 80%.")] = None,
    polish_fee: Annotated[Decimal | None, amount_option("What a polish costs.")] = None,
    chance_polished: Annotated[Decimal | None, _share("The chance that it plays after a polish.")] = None,
    selling_rate: Rate = None,
    selling_fixed: Fixed = None,
    postage: Postage = None,
    return_cost: Return = None,
    days: Annotated[int | None, typer.Option(min=0, max=99999, help="Days until it is sold.")] = None,
    multiple: Multiple = None,
    asked: Annotated[Decimal | None, amount_option("Its price, when you have yet to buy it.")] = None,
    test_sensitivity: Annotated[
        Decimal | None, _share("The chance that a disc that plays passes your test (1).")
    ] = None,
    test_specificity: Annotated[
        Decimal | None, _share("The chance that a disc that does not play fails your test (1).")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """What one disc is worth: the best thing to do with it, and the most to pay for it.

    Its chances are typed, or those of a disc in a report; what is typed goes before. Costs not given are 0.
    """
    from discscan.cli import reckon

    given = {
        "sells": sells, "sells_spoiled": sells_spoiled, "chance": chance, "polish_fee": polish_fee,
        "chance_polished": chance_polished, "selling_rate": selling_rate, "selling_fixed": selling_fixed,
        "postage": postage, "return_cost": return_cost, "days": None if days is None else Decimal(days), "asked": asked,
    }  # fmt: skip
    reckon.worth(
        given, report=report, disc=disc, multiple=multiple, sensitivity=test_sensitivity,
        specificity=test_specificity, as_json=as_json,
    )  # fmt: skip


def prices(
    table: Annotated[
        Path, typer.Argument(metavar="TABLE", help="A table (CSV) of prices seen; its first row names the columns.")
    ],
    item: Annotated[str | None, typer.Option(metavar="NAME", help="This item only.")] = None,
    currency: Annotated[
        str | None, typer.Option(metavar="CODE", help="The table's currency (that of most rows when not given).")
    ] = None,
    dates: Annotated[
        Dates | None, typer.Option(help="How to read dates such as 3/4/2026, where the table does not tell.")
    ] = None,
    on: Annotated[date | None, day_option("Reckon as of this day, such as 2026-11-25 (today).")] = None,
    as_json: AsJson = False,
) -> None:
    """What items sell for, from a table of prices that were seen.

    Columns: item, price, currency, date, status (sold or asking), completeness (complete, disc only, case only),
    days_listed. Asking prices are shown apart and never used. Exit status 1 when a row was left out.
    """
    from discscan.cli import reckon

    raise typer.Exit(
        reckon.prices(
            table, item=item, currency=currency, dates=None if dates is None else dates.value,
            today=on or date.today(), as_json=as_json,
        )
    )  # fmt: skip


def basket(
    table: Table,
    budget: Annotated[Decimal | None, amount_option("The cash at hand.")] = None,
    box: Annotated[
        Decimal | None, amount_option("All discs of the table together at this one price: is it worth it?")
    ] = None,
    report: Forecasts = None,
    selling_rate: Rate = None,
    selling_fixed: Fixed = None,
    postage: Postage = None,
    return_cost: Return = None,
    multiple: Multiple = None,
    as_json: AsJson = False,
) -> None:
    """Which finds to take for the cash at hand, or whether a mixed box is worth its price.

    Columns: item, asked, sells, and as far as known photo, sells_spoiled, chance, polish_fee, chance_polished, days,
    and the costs of the options, where they differ from row to row. Exit status 1 when a row was left out.
    """
    if (budget is None) == (box is None):
        raise typer.BadParameter("Say either --budget or --box.")
    from discscan.cli import reckon

    costs = _costs(selling_rate, selling_fixed, postage, return_cost)
    raise typer.Exit(
        reckon.basket(table, budget=budget, box=box, report=report, costs=costs, multiple=multiple, as_json=as_json)
    )


def trip(
    table: Table,
    fee: Annotated[Decimal, amount_option("What the shop takes for a disc.")],
    fee_from: Annotated[
        list[Any] | None,
        typer.Option(
            parser=_or_bad(parse_tier),
            metavar="COUNT:AMOUNT",
            help="Its fee for each disc from so many on, such as 10:3.50.",
        ),
    ] = None,
    going: Annotated[Decimal | None, amount_option("What going there and back costs you.")] = None,
    at_most: Annotated[int | None, typer.Option(min=1, help="The shop takes no more discs at once.")] = None,
    bench_price: Annotated[Decimal | None, amount_option("The price of a polishing machine of your own.")] = None,
    bench_supplies: Annotated[Decimal | None, amount_option("What it uses up for a disc.")] = None,
    bench_minutes: Annotated[int, typer.Option(min=0, help="Your minutes for a disc on it.")] = 0,
    hour: Annotated[Decimal | None, amount_option("What an hour of yours is worth.")] = None,
    report: Forecasts = None,
    selling_rate: Rate = None,
    selling_fixed: Fixed = None,
    postage: Postage = None,
    return_cost: Return = None,
    as_json: AsJson = False,
) -> None:
    """Which discs to take to the shop for a polish, and whether to go yet.

    Columns as for `basket`; asked and polish_fee play no part. Exit status 1 when a row was left out.
    """
    from discscan.cli import reckon

    raise typer.Exit(
        reckon.trip(
            table, fee=fee, fee_from=fee_from or [], going=going, at_most=at_most, bench_price=bench_price,
            bench_supplies=bench_supplies, bench_minutes=bench_minutes, hour=hour, report=report,
            costs=_costs(selling_rate, selling_fixed, postage, return_cost), as_json=as_json,
        )
    )  # fmt: skip


def _costs(
    rate: Decimal | None, fixed: Decimal | None, postage: Decimal | None, returned: Decimal | None
) -> dict[str, Decimal]:
    told = {"selling_rate": rate, "selling_fixed": fixed, "postage": postage, "return_cost": returned}
    return {name: value for name, value in told.items() if value is not None}
