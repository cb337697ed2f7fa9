"""Basket and trip: finds typed in rows, read as the command line reads a table of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from discscan.deals import Forecast
from discscan.money import ZERO, parse_money, parse_tier
from discscan.report import money_words, screen_words
from discscan.report.forecasts import forecast_of
from discscan.rows import Line
from discscan.web.desk import Desk
from discscan.web.forms import ALL, ASKED, COSTS, MAX_TEXT, SELLS, Field, Filled, count, read
from discscan.web.pages import Pages
from discscan.worth import FIND_COLUMNS, Fees, Find, choose_basket, finds_of, judge_box, plan_trip, weigh_bench

BLANK_ROWS, MOST_ROWS = 3, 60
ITEM = Field("item", "What it is")
MORE = tuple(one for one in ALL if one.name in ("sells_spoiled", "chance_polished", "polish_fee", "days"))
CHANCE = next(one for one in ALL if one.name == "chance")
COLUMNS = ((ITEM, SELLS, ASKED), CHANCE, MORE)
"""Of a find: those in sight, the chance where no photo tells it, and those out of sight."""
SELLING = tuple(one for one in COSTS if one.name in ("selling_rate", "selling_fixed", "postage", "return_cost"))
BUDGET = Field("budget", "Cash at hand", "which finds to take for it", parse_money)
BOX = Field("box", "Or one price for all of them", "whether a mixed box is worth it", parse_money)
FEE = Field("fee", "The shop takes for a disc", parse=parse_money, needed=True)
TRIP = (
    FEE,
    Field("fee_from", "Less from so many on", "such as 10:3.50", parse_tier),
    Field("going", "Going there and back costs", parse=parse_money),
    Field("at_most", "It takes at most", "so many discs at once", count),
)
BENCH = (
    Field("bench_price", "A machine of your own costs", parse=parse_money),
    Field("bench_supplies", "It uses up for a disc", parse=parse_money),
    Field("bench_minutes", "Your minutes for a disc", parse=count),
    Field("hour", "An hour of yours is worth", parse=parse_money),
)


@dataclass(frozen=True)
class Row:
    """A find's row: what was typed, what it is judged by, and why it is left out, if it is."""

    number: int
    typed: Mapping[str, str]
    photo: str
    wrong: str = ""

    @property
    def filled(self) -> Filled:
        """Under the names of the row's inputs."""
        return Filled({f"{name}-{self.number}": value for name, value in self.typed.items()})


@dataclass(frozen=True)
class Answer:
    """What is told of a form: sentences, and a table under its head."""

    lines: tuple[str, ...] = ()
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    after: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


def finds_routes(desk: Desk, pages: Pages) -> list[Route]:
    screens = _Finds(desk, pages)
    return [Route("/basket", screens.basket), Route("/trip", screens.trip)]


class _Finds:
    def __init__(self, desk: Desk, pages: Pages) -> None:
        self._desk, self._pages = desk, pages

    def basket(self, request: Request) -> Response:
        filled = _typed((BUDGET, BOX, *SELLING), request.query_params)
        told, wrong = filled.told, dict(filled.wrong)
        rows, finds = self._read(request.query_params, told, asked_needed="box" not in told)
        answer = None
        if not wrong and finds and "more" not in request.query_params:
            if ("budget" in told) == ("box" in told):
                wrong["budget"] = screen_words.BUDGET_OR_BOX
            else:
                answer = _box(finds, told["box"]) if "box" in told else _basket(finds, told["budget"])
        return self._show("basket.html", rows, Filled(filled.typed, wrong), answer, (BUDGET, BOX), SELLING)

    def trip(self, request: Request) -> Response:
        filled = _typed((*TRIP, *BENCH, *SELLING), request.query_params)
        rows, finds = self._read(request.query_params, filled.told, asked_needed=False)
        answer = _trip(finds, filled.told) if finds and "fee" in filled.told and not filled.wrong else None
        return self._show("trip.html", rows, filled, answer, TRIP, (*SELLING, *BENCH))

    def _show(
        self, template: str, rows: list[Row], filled: Filled, answer: Answer | None, *fields: tuple[Field, ...]
    ) -> Response:
        wrong = bool(filled.wrong) or any(row.wrong for row in rows)
        return self._pages.show(
            template, 422 if wrong and answer is None else 200, rows=rows, filled=filled, answer=answer,
            fields=fields, columns=COLUMNS,
        )  # fmt: skip

    def _read(
        self, query: Mapping[str, str], told: Mapping[str, Decimal], *, asked_needed: bool
    ) -> tuple[list[Row], list[Find]]:
        """The rows as typed, one for each disc that was judged and some blank ones; and the finds in them."""
        forecasts = dict(self._forecasts())
        rows = list(_rows(query, list(forecasts)))
        lines = [Line(row.number, {**row.typed, "photo": row.photo}) for row in rows if _is_filled(row)]
        costs = {one.name: told[one.name] for one in SELLING if one.name in told}
        finds, faults = finds_of(lines, costs=costs, forecasts=forecasts, asked_needed=asked_needed)
        why = {fault.line: money_words.fault_words(fault) for fault in faults}
        return [Row(row.number, row.typed, row.photo, why.get(row.number, "")) for row in rows], finds

    def _forecasts(self) -> Iterator[tuple[str, Forecast]]:
        for job in reversed(self._desk.all()):
            discs = [] if job.entry is None else job.entry.photo.discs
            for number, disc in enumerate(discs, start=1):
                forecast = forecast_of(disc)
                if forecast is not None:
                    yield (job.name if len(discs) == 1 else f"{job.name}, disc {number}"), forecast


def _typed(fields: tuple[Field, ...], query: Mapping[str, str]) -> Filled:
    """The form; on the way to more rows, and before anything is typed, nothing is wrong with it yet."""
    filled = read(fields, query)
    return Filled(filled.typed, {}, filled.told) if "more" in query or not query else filled


def _rows(query: Mapping[str, str], judged: list[str]) -> Iterator[Row]:
    """The rows of the query, then those of judged discs that it does not name, then blank ones."""
    number, named = 0, set()
    typed_rows = [at for at in range(1, MOST_ROWS + 1) if any(query.get(f"{name}-{at}") for name in FIND_COLUMNS)]
    for at in typed_rows:
        number += 1
        typed = {name: query.get(f"{name}-{at}", "").strip()[:MAX_TEXT] for name in FIND_COLUMNS if name != "photo"}
        photo = query.get(f"photo-{at}", "")[:MAX_TEXT]
        named.add(photo)
        yield Row(number, typed, photo)
    for name in judged:
        if name not in named and number < MOST_ROWS:
            number += 1
            yield Row(number, {"item": name}, name)
    blank = BLANK_ROWS if "more" in query or not number else 1
    for _ in range(min(blank, MOST_ROWS - number)):
        number += 1
        yield Row(number, {}, "")


def _is_filled(row: Row) -> bool:
    """A judged disc of which no price is told yet is no find."""
    return any(value for name, value in row.typed.items() if name != "item" or not row.photo)


def _basket(finds: list[Find], budget: Decimal) -> Answer:
    chosen = choose_basket(finds, budget=budget)
    return Answer(
        lines=tuple(money_words.basket_lines(chosen)), head=money_words.PICKS_HEAD,
        rows=tuple(money_words.pick_rows(chosen.picks)), after=(money_words.left_line(chosen.left),),
    )  # fmt: skip


def _box(finds: list[Find], price: Decimal) -> Answer:
    judged = judge_box(finds, price=price)
    return Answer(
        lines=tuple(money_words.box_lines(judged)), head=money_words.PICKS_HEAD,
        rows=tuple(money_words.pick_rows(judged.carriers)),
    )  # fmt: skip


def _trip(finds: list[Find], told: Mapping[str, Any]) -> Answer:
    tiers = (told["fee_from"],) if "fee_from" in told else ()
    fees, going = Fees(told["fee"], tiers), told.get("going", ZERO)
    planned = plan_trip(finds, fees=fees, going=going, at_most=told.get("at_most"))
    bench: list[str] = []
    if "bench_price" in told:
        weighed = weigh_bench(
            price=told["bench_price"], supplies=told.get("bench_supplies", ZERO),
            minutes=Decimal(told.get("bench_minutes", 0)), hour=told.get("hour", ZERO), fee=told["fee"],
        )  # fmt: skip
        bench = list(money_words.bench_lines(weighed))
    return Answer(
        lines=tuple(money_words.trip_lines(planned)), head=money_words.TRIP_HEAD,
        rows=tuple(money_words.trip_rows(planned)), after=(money_words.left_line(planned.left), *bench),
        cautions=tuple(money_words.trip_cautions(planned)),
    )  # fmt: skip
