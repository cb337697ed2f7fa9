"""The commands of the ledger: options in, words and tables out."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any

import typer

from discscan.cli.money import amount_option, barcode_option, day_option

ledger = typer.Typer(no_args_is_help=True, help="What became of each disc: found, bought, scanned, sold and the rest.")

What = Annotated[str, typer.Argument(metavar="ITEM", help="Its title, or its number as `show` tells it.")]
On = Annotated[date | None, day_option("The day on which it happened (today).")]
Note = Annotated[str, typer.Option(help="Anything to remember.")]
Source = Annotated[str, typer.Option(metavar="PLACE", help="Where it is from.")]
Barcode = Annotated[str | None, barcode_option("The number below the barcode of its case.")]
BarcodePhoto = Annotated[
    Path | None, typer.Option(metavar="PHOTO", help="Read the barcode of its case from this photo.")
]


class Format(StrEnum):
    cd = "cd"
    dvd = "dvd"
    bd = "bd"


@ledger.callback()
def _book(
    context: typer.Context,
    book: Annotated[
        str | None,
        typer.Option(
            metavar="BOOK",
            envvar="DISCSCAN_BOOK",
            help="The book: a file (ledger.sqlite in your data folder), or postgresql://USER@HOST/DATABASE.",
        ),
    ] = None,
) -> None:
    context.obj = book


@ledger.command()
def found(
    context: typer.Context,
    what: What,
    asked: Annotated[Decimal | None, amount_option("The price asked for it.")] = None,
    source: Source = "",
    barcode: Barcode = None,
    barcode_photo: BarcodePhoto = None,
    on: On = None,
    note: Note = "",
) -> None:
    """Something was found; buy it or not, it is kept in mind."""
    code = _barcode(barcode, barcode_photo)
    _write(context, "found", what, on, amount=asked, source=source, barcode=code, note=note)


@ledger.command()
def bought(
    context: typer.Context,
    what: What,
    cost: Annotated[Decimal, amount_option("What was paid.")],
    source: Source = "",
    barcode: Barcode = None,
    barcode_photo: BarcodePhoto = None,
    on: On = None,
    note: Note = "",
) -> None:
    """It was bought."""
    code = _barcode(barcode, barcode_photo)
    _write(context, "bought", what, on, amount=cost, source=source, barcode=code, note=note)


@ledger.command()
def scanned(
    context: typer.Context,
    what: What,
    report: Annotated[Path, typer.Argument(metavar="REPORT", help="A report of `scan --json`.")],
    disc: Annotated[int | None, typer.Option(min=1, help="Which disc of the report, from 1.")] = None,
    photo: Annotated[
        list[Path] | None, typer.Option(metavar="PHOTO", help="The photo, where it is no more where the report says.")
    ] = None,
    on: On = None,
    note: Note = "",
) -> None:
    """It was photographed and judged; the report of its disc is kept whole, and so is the photo."""
    from discscan.cli import books

    books.scanned(context.obj, what, report=report, disc=disc, photos=photo or [], day=_past(on), note=note)


@ledger.command()
def checked(
    context: typer.Context,
    what: What,
    case: Annotated[bool | None, typer.Option("--case/--no-case", help="Its case is there.")] = None,
    manual: Annotated[bool | None, typer.Option("--manual/--no-manual", help="Its manual is there.")] = None,
    inserts: Annotated[bool | None, typer.Option("--inserts/--no-inserts", help="All else that belongs in it.")] = None,
    right_disc: Annotated[
        bool | None, typer.Option("--right-disc/--wrong-disc", help="The disc is the one that the case names.")
    ] = None,
    good_print: Annotated[
        bool | None, typer.Option("--good-print/--poor-print", help="Label and paper are sharply printed.")
    ] = None,
    player: Annotated[bool | None, typer.Option("--player/--no-player", help="A player is sold with it.")] = None,
    on: On = None,
    note: Note = "",
) -> None:
    """What is beside the disc was looked at; what is not told was not looked at."""
    from discscan.cli import books

    given = {
        "case": case, "manual": manual, "inserts": inserts, "right_disc": right_disc, "good_print": good_print,
        "player": player,
    }  # fmt: skip
    answers = {name: answer for name, answer in given.items() if answer is not None}
    books.checked(context.obj, what, answers=answers, day=_past(on), note=note)


@ledger.command()
def polished(
    context: typer.Context,
    what: What,
    fee: Annotated[Decimal, amount_option("What the polish cost.")],
    helped: Annotated[bool | None, typer.Option("--helped/--no-help", help="Whether it helped, where known.")] = None,
    on: On = None,
    note: Note = "",
) -> None:
    """It was polished."""
    _write(context, "polished", what, on, amount=fee, good=helped, note=note)


@ledger.command()
def tested(
    context: typer.Context,
    what: What,
    plays: Annotated[bool | None, typer.Option("--plays/--fails", help="Whether all of it played.")] = None,
    unreadable: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="The sectors that could not be read: `first last` a line, decimal or 0x hex."
        ),
    ] = None,
    format: Annotated[Format | None, typer.Option(help="Its format, where the scan does not tell.")] = None,
    picture: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw those sectors over the disc, beside the damage seen.")
    ] = None,
    on: On = None,
    note: Note = "",
) -> None:
    """It was played, or read by a drive. Never spin a disc that may be cracked."""
    from discscan.cli import books

    day = _past(on)
    name = None if format is None else format.value
    books.tested(
        context.obj, what, plays=plays, unreadable=unreadable, format=name, picture=picture, day=day, note=note
    )


@ledger.command()
def listed(
    context: typer.Context,
    what: What,
    price: Annotated[Decimal, amount_option("The price asked.")],
    on: On = None,
    note: Note = "",
) -> None:
    """It was put on sale."""
    _write(context, "listed", what, on, amount=price, note=note)


@ledger.command()
def sold(
    context: typer.Context,
    what: What,
    price: Annotated[Decimal, amount_option("What it was sold for.")],
    fees: Annotated[Decimal | None, amount_option("What selling it cost, postage and all.")] = None,
    on: On = None,
    note: Note = "",
) -> None:
    """It was sold."""
    _write(context, "sold", what, on, amount=price, fees=fees, note=note)


@ledger.command()
def returned(
    context: typer.Context,
    what: What,
    refund: Annotated[Decimal | None, amount_option("What the buyer was paid back.")] = None,
    fees: Annotated[Decimal | None, amount_option("What its coming back cost you besides.")] = None,
    same: Annotated[
        bool | None, typer.Option("--same/--another", help="Whether it is the disc that was sold, where you know.")
    ] = None,
    photo: Annotated[
        list[Path] | None,
        typer.Option(metavar="PHOTO", help="A photo of what came back, to be compared with those of the sale."),
    ] = None,
    on: On = None,
    note: Note = "",
) -> None:
    """A buyer sent it back: it is in stock again, and may be sold again."""
    from discscan.cli import books

    books.returned(context.obj, what, refund=refund, fees=fees, same=same, photos=photo or [], day=_past(on), note=note)


@ledger.command()
def discarded(context: typer.Context, what: What, on: On = None, note: Note = "") -> None:
    """It was thrown away."""
    _write(context, "discarded", what, on, note=note)


def _write(context: typer.Context, kind: str, what: str, on: date | None, **details: Any) -> None:
    from discscan.cli import books

    books.write(context.obj, kind, what=what, day=_past(on), **details)


def _past(on: date | None) -> date:
    """The day told, or today."""
    if on is not None and on > date.today():
        raise typer.BadParameter("This day has not come yet.", param_hint="'--on'")
    return on or date.today()


def _barcode(typed: str | None, photo: Path | None) -> str:
    """As typed, or as read from a photo."""
    if photo is None:
        return typed or ""
    if typed:
        raise typer.BadParameter("One of these is enough.", param_hint="'--barcode', '--barcode-photo'")
    from discscan.cli import books

    return books.barcode_in(photo)
