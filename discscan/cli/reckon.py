"""The money commands at work: read, reckon, tell."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from discscan.cli.layout import columns, put_lines
from discscan.cli.streams import put, tell_faults
from discscan.dates import DayOrder
from discscan.deals import Fault, Forecast
from discscan.errors import BadTerms
from discscan.money import ZERO
from discscan.report import money_documents as documents
from discscan.report import money_words as words
from discscan.report.forecasts import read_forecasts
from discscan.worth import (
    Fees,
    Find,
    advise_on_scan,
    choose_basket,
    judge_box,
    observed_prices,
    plan_trip,
    read_finds,
    read_prices,
    weigh_bench,
)


def worth(
    given: Mapping[str, Decimal | None],
    *,
    report: Path | None,
    disc: int | None,
    multiple: Decimal | None,
    sensitivity: Decimal | None,
    specificity: Decimal | None,
    as_json: bool,
) -> None:
    told = {name: value for name, value in given.items() if value is not None}
    if "sells" not in told:
        raise BadTerms("No price.", remedy="Say with --sells what it brings when it plays.")
    forecast = None if report is None else _chosen(report, disc)
    if forecast is None and "chance" not in told:
        raise BadTerms(
            "Nothing says how likely it plays.", remedy="Say so with --chance, or name a report of `scan --json`."
        )
    advice = advise_on_scan(told, forecast, multiple=multiple, sensitivity=sensitivity, specificity=specificity)
    if as_json:
        _put_json(documents.worth_document(advice))
        return
    settled = forecast is None or forecast.settled
    put_lines(
        words.advice_lines(advice, settled=settled),
        columns(words.ACTS_HEAD, words.act_rows(advice)),
        (f"Caution: {one}" for one in words.advice_cautions(advice)),
    )


def prices(
    table: Path, *, item: str | None, currency: str | None, dates: DayOrder | None, today: date, as_json: bool
) -> int:
    book = read_prices(table, today=today, currency=currency, day_order=dates)
    found = observed_prices(book, today=today, item=item)
    if as_json:
        _put_json(documents.prices_document(book, found))
    elif not found and item is not None:
        put(f"{words.unknown_item(item)}\n")
    else:
        put_lines(
            columns(words.PRICES_HEAD, words.price_rows(found)),
            words.price_notes(found),
            [words.prices_summary(book, found)],
        )
    return tell_faults(table, book.faults)


def basket(
    table: Path,
    *,
    budget: Decimal | None,
    box: Decimal | None,
    report: Path | None,
    costs: Mapping[str, Decimal],
    multiple: Decimal | None,
    as_json: bool,
) -> int:
    finds, faults = _finds(table, report=report, costs=costs, asked_needed=budget is not None)
    if budget is not None:
        chosen = choose_basket(finds, budget=budget)
        if as_json:
            _put_json(documents.basket_document(chosen, faults))
        else:
            put_lines(
                words.basket_lines(chosen),
                columns(words.PICKS_HEAD, words.pick_rows(chosen.picks)),
                [words.left_line(chosen.left)],
            )
    elif box is not None:
        judged = judge_box(finds, price=box, multiple=multiple)
        if as_json:
            _put_json(documents.box_document(judged, faults))
        else:
            put_lines(words.box_lines(judged), columns(words.PICKS_HEAD, words.pick_rows(judged.carriers)))
    return tell_faults(table, faults)


def trip(
    table: Path,
    *,
    fee: Decimal,
    fee_from: Sequence[tuple[int, Decimal]],
    going: Decimal | None,
    at_most: int | None,
    bench_price: Decimal | None,
    bench_supplies: Decimal | None,
    bench_minutes: int,
    hour: Decimal | None,
    report: Path | None,
    costs: Mapping[str, Decimal],
    as_json: bool,
) -> int:
    finds, faults = _finds(table, report=report, costs=costs, asked_needed=False)
    planned = plan_trip(finds, fees=Fees(fee, tuple(fee_from)), going=going or ZERO, at_most=at_most)
    bench = None
    if bench_price is not None:
        bench = weigh_bench(
            price=bench_price, supplies=bench_supplies or ZERO, minutes=Decimal(bench_minutes), hour=hour or ZERO,
            fee=fee,
        )  # fmt: skip
    if as_json:
        _put_json(documents.trip_document(planned, bench, faults))
    else:
        put_lines(
            words.trip_lines(planned),
            columns(words.TRIP_HEAD, words.trip_rows(planned)),
            [words.left_line(planned.left)],
            words.bench_lines(bench) if bench is not None else [],
            (f"Caution: {one}" for one in words.trip_cautions(planned)),
        )
    return tell_faults(table, faults)


def _chosen(report: Path, disc: int | None) -> Forecast:
    forecasts = read_forecasts(report)
    names = list(forecasts)
    if not names:
        raise BadTerms("The report holds no disc.", file=str(report), remedy="Type the chance with --chance.")
    if disc is None and len(names) > 1:
        listed = "; ".join(f"{number}: {name}" for number, name in enumerate(names, start=1))
        raise BadTerms("The report holds several discs.", file=str(report), remedy=f"Say which with --disc. {listed}")
    number = disc or 1
    if number > len(names):
        raise BadTerms(
            f"The report holds no disc {number}.", file=str(report), remedy=f"Its discs are 1 to {len(names)}."
        )
    chosen = forecasts[names[number - 1]]
    if chosen is None:
        raise BadTerms(
            "The report has no forecast for this disc.", file=str(report), remedy="Photograph its data side."
        )
    return chosen


def _finds(
    table: Path, *, report: Path | None, costs: Mapping[str, Decimal], asked_needed: bool
) -> tuple[list[Find], list[Fault]]:
    read = {} if report is None else read_forecasts(report)
    forecasts = {name: forecast for name, forecast in read.items() if forecast is not None}
    return read_finds(table, costs=costs, forecasts=forecasts, asked_needed=asked_needed)


def _put_json(document: Mapping[str, Any]) -> None:
    put(json.dumps(document, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
