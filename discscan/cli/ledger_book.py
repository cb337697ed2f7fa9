"""The commands on the book as a whole: correcting, entering many rows, looking, summing, taking out and in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from decimal import Decimal
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from discscan.cli.ledger import What
from discscan.cli.money import Dates, amount_option, barcode_option, day_option


class Shape(StrEnum):
    csv = "csv"
    json = "json"


def undo(
    context: typer.Context,
    event: Annotated[
        int | None, typer.Option(min=1, metavar="NUMBER", help="This event, as `show ITEM` tells it (the last one).")
    ] = None,
) -> None:
    """Take an event back. It stays in the book, and so does the taking back."""
    from discscan.cli import books

    books.undo(context.obj, number=event)


def correct(
    context: typer.Context,
    event: Annotated[int, typer.Argument(min=1, metavar="NUMBER", help="The event, as `show ITEM` tells it.")],
    amount: Annotated[Decimal | None, amount_option("The right amount.")] = None,
    fees: Annotated[Decimal | None, amount_option("The right fees.")] = None,
    outcome: Annotated[
        bool | None, typer.Option("--yes/--no", help="The right outcome: it plays, it helped, it is the same.")
    ] = None,
    title: Annotated[str | None, typer.Option(help="The right title, of the event that the item begins with.")] = None,
    source: Annotated[str | None, typer.Option(metavar="PLACE", help="Where it is really from.")] = None,
    barcode: Annotated[str | None, barcode_option("The right barcode.")] = None,
    on: Annotated[date | None, day_option("The right day.")] = None,
    note: Annotated[str | None, typer.Option(help="The right note.")] = None,
) -> None:
    """Put something right. What was wrong stays in the book, and so does the correction; `undo` takes that back."""
    if on is not None and on > date.today():
        raise typer.BadParameter("This day has not come yet.", param_hint="'--on'")
    from discscan.cli import books

    told = {
        "amount": amount, "fees": fees, "good": outcome, "title": title, "source": source, "barcode": barcode,
        "day": on, "note": note,
    }  # fmt: skip
    books.correct(context.obj, event, {name: value for name, value in told.items() if value is not None})


def enter(
    context: typer.Context,
    table: Annotated[Path, typer.Argument(metavar="TABLE", help="A table (CSV); its first row names the columns.")],
    dates: Annotated[
        Dates | None, typer.Option(help="How to read dates such as 3/4/2026, where the table does not tell.")
    ] = None,
) -> None:
    """Enter many events at once.

    Columns: item, event (found, bought, polished, tested, listed, sold, returned, discarded), date, and as far as there
    is anything to tell amount, fees, outcome (yes or no), source, note, barcode. Exit status 1 when a row was left out.
    """
    from discscan.cli import books

    raise typer.Exit(books.enter(context.obj, table, dates=None if dates is None else dates.value))


def show(
    context: typer.Context,
    what: Annotated[
        str | None, typer.Argument(metavar="[ITEM]", help="An item, by number, title or barcode; or any text.")
    ] = None,
    barcode_photo: Annotated[
        Path | None, typer.Option(metavar="PHOTO", help="The items with the barcode in this photo.")
    ] = None,
) -> None:
    """The items of the book, the events of one, or the items that mention a text in title, place or note."""
    from discscan.cli import books

    books.show(context.obj, what if barcode_photo is None else books.barcode_in(barcode_photo))


def listing(
    context: typer.Context,
    what: What,
    out: Annotated[Path | None, typer.Option(metavar="FILE", help="Write it to this file instead.")] = None,
    pictures: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Draw its kept photos there, with the marks.")
    ] = None,
) -> None:
    """Words for selling it: its condition as it was measured and tested, to be edited."""
    from discscan.cli import books

    books.listing(context.obj, what, out=out, pictures=pictures)


def summary(context: typer.Context, on: Annotated[date | None, day_option("As of this day (today).")] = None) -> None:
    """Gain, return, days and stock; by where things came from, and by verdict."""
    from discscan.cli import books

    books.summary(context.obj, today=on or date.today())


def export(
    context: typer.Context,
    shape: Annotated[Shape, typer.Option("--format", help="As a table or as a JSON document.")] = Shape.csv,
) -> None:
    """Write every event to standard output, for other programs and for `import`."""
    from discscan.cli import books

    books.export(context.obj, as_json=shape is Shape.json)


def take_in(
    context: typer.Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="What `export` wrote, CSV or JSON.")],
) -> None:
    """Take in the events of another book; those that are there already are passed over."""
    from discscan.cli import books

    books.take_in(context.obj, file)


def backup(
    context: typer.Context, file: Annotated[Path, typer.Argument(metavar="FILE", help="Where to, a new file.")]
) -> None:
    """Copy the book, also while it is in use."""
    from discscan.cli import books

    books.backup(context.obj, file)


COMMANDS: Mapping[str, Callable[..., None]] = {
    "undo": undo, "correct": correct, "enter": enter, "show": show, "listing": listing, "summary": summary,
    "export": export, "import": take_in, "backup": backup,
}  # fmt: skip
