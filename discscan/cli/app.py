"""The commands. What a command needs is imported when it runs, so that `--help` answers at once."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from discscan.cli import ledger_book, money
from discscan.cli.ledger import ledger

app = typer.Typer(
    name="discscan", add_completion=False, no_args_is_help=True, pretty_exceptions_enable=False, rich_markup_mode=None
)


Book = Annotated[
    str | None, typer.Option(metavar="BOOK", envvar="DISCSCAN_BOOK", help="The ledger to show and to write (yours).")
]


class Format(StrEnum):
    cd = "cd"
    dvd = "dvd"
    bd = "bd"


def _print_version(wanted: bool) -> None:
    if wanted:
        import discscan

        typer.echo(f"discscan {discscan.__version__}")
        raise typer.Exit


@app.callback()
def _discscan(
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Show the version and leave.")
    ] = False,
) -> None:
    """From photographs of used discs to play, resurface or pass, with reasons and chances."""


@app.command()
def scan(
    photos: Annotated[
        list[str],
        typer.Argument(metavar="PHOTO", help="Photos, folders of photos, or patterns such as 'photos/*.jpg'."),
    ],
    format: Annotated[
        Format | None, typer.Option(help="What the discs are, where you know it: the label or the case names it.")
    ] = None,
    polished: Annotated[
        int | None, typer.Option(min=0, max=99, metavar="TIMES", help="How often the discs were polished before.")
    ] = None,
    item: Annotated[
        str | None, typer.Option(metavar="ITEM", help="The item of your ledger that they show: its polishes count.")
    ] = None,
    merge: Annotated[
        bool, typer.Option("--merge", help="The photos show one disc; a folder holds the photos of one disc.")
    ] = False,
    lamp: Annotated[
        str | None,
        typer.Option(
            metavar="PHOTO",
            help="With --merge: a photo of the disc held against a lamp (never the sun), to look for pinholes.",
        ),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Write the report as one JSON document.")] = False,
    pictures: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Put pictures there: the marks on each photo, each disc from above."),
    ] = None,
    labels_out: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Put a label image of each disc there, 10 pixels per mm.")
    ] = None,
    page: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Write one HTML page of all discs, to look at or to print.")
    ] = None,
    sells: Annotated[
        Decimal | None, money.amount_option("What such a disc sells for when it plays: tells what it is worth.")
    ] = None,
    sells_spoiled: Annotated[Decimal | None, money.amount_option("What it brings if it does not play.")] = None,
    polish_fee: Annotated[Decimal | None, money.amount_option("What a polish costs.")] = None,
    asked: Annotated[Decimal | None, money.amount_option("Its price, when you have yet to buy it.")] = None,
    explain: Annotated[
        bool,
        typer.Option(
            "--explain", "--verbose", "-v", help="Tell all reasons, defects and doubts, and what was no disc."
        ),
    ] = False,
    max_megapixels: Annotated[
        float | None, typer.Option(min=0.1, max=178, help="Refuse larger pictures (64 when not given).")
    ] = None,
    max_megabytes: Annotated[
        float | None, typer.Option(min=0.001, help="Refuse larger files (30 when not given).")
    ] = None,
) -> None:
    """Judge the discs in photos of their data sides.

    Results go to standard output, everything else to standard error. Exit status: 0 when every photo was judged, 1 when
    a photo could not be read or held no disc, 2 for wrong usage, 3 for a broken installation, 130 when stopped.
    """
    told = {"sells": sells, "sells_spoiled": sells_spoiled, "polish_fee": polish_fee, "asked": asked}
    terms = {name: value for name, value in told.items() if value is not None}
    if terms and sells is None:
        raise typer.BadParameter("It needs --sells as well.", param_hint=f"'--{next(iter(terms)).replace('_', '-')}'")
    if polished is not None and item is not None:
        raise typer.BadParameter("The ledger tells it already, so leave --polished away.", param_hint="'--item'")
    from discscan.photo import PhotoLimits  # before all others: it looks whether OpenCV may be imported

    given = {"max_megapixels": max_megapixels, "max_megabytes": max_megabytes}
    limits = PhotoLimits(**{name: value for name, value in given.items() if value is not None})

    from discscan.cli.judge import Wishes, judge
    from discscan.records import Given

    if item is not None:
        from discscan.cli.books import polishes_of

        polished = polishes_of(item)
    wishes = Wishes(
        given=Given(None if format is None else format.value, polished or 0),
        limits=limits,
        merge=merge,
        lamp=lamp,
        as_json=as_json,
        explain=explain,
        pictures=pictures,
        labels=labels_out,
        page=page,
        terms=terms,
    )
    raise typer.Exit(judge(photos, wishes))


@app.command()
def same(
    first: Annotated[str, typer.Argument(metavar="PHOTO", help="The earlier photo of the data side.")],
    second: Annotated[str, typer.Argument(metavar="PHOTO", help="The later one.")],
    as_json: Annotated[bool, typer.Option("--json", help="Write the answer as one JSON document.")] = False,
    picture: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw both side by side there, turned alike, marks numbered.")
    ] = None,
) -> None:
    """Tell whether two photos show the same disc, how far it was turned, and which marks are gone or new.

    Exit status: 0 when it was told, also that it cannot be told; 1 when a photo could not be read or held no disc.
    """
    from discscan.photo import require_one_opencv

    require_one_opencv()

    from discscan.cli.same import tell_same

    raise typer.Exit(tell_same(first, second, as_json=as_json, picture=picture))


@app.command()
def schema() -> None:
    """Write the JSON Schema that every report obeys."""
    import json

    from discscan.cli.streams import put
    from discscan.report import json_schema

    put(json.dumps(json_schema(), indent=1) + "\n")


@app.command()
def learn(
    book: Annotated[
        str | None, typer.Option(metavar="BOOK", envvar="DISCSCAN_BOOK", help="The ledger to learn from (yours).")
    ] = None,
    diagram: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Draw forecast against outcome there, as SVG.")
    ] = None,
    show: Annotated[bool, typer.Option("--show", help="Only tell what was learned last.")] = False,
    on: Annotated[bool | None, typer.Option("--on/--off", help="Use what was learned, or leave it aside.")] = None,
    forget: Annotated[bool, typer.Option("--forget", help="Delete what was learned; the ledger stays.")] = False,
) -> None:
    """Learn from the discs of the ledger that were tested or polished, and tell how sure that is."""
    if sum((show, on is not None, forget)) > 1:
        raise typer.BadParameter("One of these at a time.", param_hint="'--show', '--on', '--off', '--forget'")
    if diagram is not None and (on is not None or forget):
        raise typer.BadParameter("It goes with learning and with --show.", param_hint="'--diagram'")

    from discscan.cli import learn as learning

    if forget:
        learning.forget(book)
    elif on is not None:
        learning.switch(book, on=on)
    elif show:
        learning.show(book, diagram=diagram)
    else:
        learning.learn_anew(book, diagram=diagram)


@app.command()
def serve(
    lan: Annotated[
        bool, typer.Option("--lan", help="Let phones of the same network in, by the link it shows.")
    ] = False,
    port: Annotated[int, typer.Option(min=0, max=65535, help="Where to listen; 0 for any that is free.")] = 8037,
    book: Book = None,
) -> None:
    """Judge photos in a browser, on this machine or on a phone; ends with Ctrl-C."""
    from discscan.cli.streams import put
    from discscan.web.serve import serve as run

    run(lan=lan, port=port, tell=put, book=book)


@app.command()
def stack(
    photos: Annotated[Path, typer.Argument(metavar="FOLDER", help="Where the photos are, or will come to.")],
    watch: Annotated[bool, typer.Option("--watch", help="Wait for more photos until Ctrl-C.")] = False,
    out: Annotated[
        Path | None, typer.Option(metavar="FOLDER", help="Where results go (FOLDER-judged, beside the photos).")
    ] = None,
    format: Annotated[Format | None, typer.Option(help="What the discs are, where all are the same.")] = None,
    workers: Annotated[int, typer.Option(min=1, max=256, help="How many processes judge.")] = 2,
    cluster: Annotated[
        str | None, typer.Option(metavar="ADDRESS", help="Judge on this dask scheduler's workers instead.")
    ] = None,
    review: Annotated[
        bool, typer.Option("--review", help="Go through the discs in a browser; ends with Ctrl-C.")
    ] = False,
    lan: Annotated[bool, typer.Option("--lan", help="With --review: let phones of the same network in.")] = False,
    port: Annotated[
        int, typer.Option(min=0, max=65535, help="With --review: where to listen; 0 for any that is free.")
    ] = 8037,
    book: Book = None,
) -> None:
    """Judge a stack of discs from a folder of photos, and sort it by what to do.

    What was judged once is never judged again: stop it as you like, the same command goes on from there. A folder in
    the folder holds photos of one disc. Exit status as for scan.
    """
    from discscan.cli.stack import Wishes, judge_stack

    wishes = Wishes(
        photos=photos, out=out, format=None if format is None else format.value, watch=watch, workers=workers,
        cluster=cluster, review=review, lan=lan, port=port, book=book,
    )  # fmt: skip
    raise typer.Exit(judge_stack(wishes))


for command in (money.worth, money.prices, money.basket, money.trip):
    app.command()(command)
for name, of_book in ledger_book.COMMANDS.items():
    ledger.command(name=name)(of_book)
app.add_typer(ledger, name="ledger")
