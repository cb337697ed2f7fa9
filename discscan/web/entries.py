"""The forms of the ledger: what may be told of each kind of event, as on the command line."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from discscan.barcodes import parse_barcode
from discscan.events import Event, Kind
from discscan.money import parse_money
from discscan.web.forms import Field, Filled, past_day, read

ON = Field("day", "On", "today, when left empty", past_day, type="date")
NOTE = Field("note", "Note", "anything to remember")
SOURCE = Field("source", "Where from")
BARCODE = Field("barcode", "Barcode of its case", "the number below it", parse_barcode)
TITLE = Field("what", "Title", "as you want to find it again", needed=True)
YES, NO = "yes", "no"


def _answer(text: str) -> bool:
    if text not in (YES, NO):
        raise ValueError("Say yes or no.")
    return text == YES


def _amount(label: str, *, needed: bool = True) -> Field:
    return Field("amount", label, parse=parse_money, needed=needed)


def _question(name: str, label: str, yes: str, no: str, *, needed: bool = False) -> Field:
    options = (("", "not said"), (YES, yes), (NO, no))
    return Field(name, label, parse=_answer, options=options, needed=needed)


CHECKS = (
    _question("case", "Its case", "is there", "is missing"),
    _question("manual", "Its manual", "is there", "is missing"),
    _question("inserts", "All else that belongs in it", "is there", "is missing"),
    _question("right_disc", "The disc in the case", "is the right one", "is another"),
    _question("good_print", "Label and paper", "are sharply printed", "are poorly printed"),
    _question("player", "A player", "is sold with it", "is not"),
)

FORMS: Mapping[Kind, tuple[str, tuple[Field, ...]]] = {
    "found": ("Found", (_amount("Price asked", needed=False), SOURCE, BARCODE)),
    "bought": ("Bought", (_amount("Paid"), SOURCE, BARCODE)),
    "checked": ("Looked over", CHECKS),
    "polished": ("Polished", (_amount("The polish cost"), _question("good", "It", "helped", "did not help"))),
    "tested": ("Tested", (_question("good", "All of it", "plays", "does not play", needed=True),)),
    "listed": ("Listed", (_amount("Price asked"),)),
    "sold": ("Sold", (_amount("Sold for"), Field("fees", "Selling cost", "postage and all", parse_money))),
    "returned": (
        "Sent back by the buyer",
        (
            _amount("Paid back", needed=False),
            Field("fees", "Its coming back cost", "besides", parse_money),
            _question("good", "What came back", "is the disc that was sold", "is another"),
        ),
    ),
    "discarded": ("Thrown away", ()),
}
"""By kind: its heading and the fields of its own; each has a day and a note besides."""

STARTS: tuple[Kind, ...] = ("found", "bought")


def fields_of(kind: Kind) -> tuple[Field, ...]:
    return (*FORMS[kind][1], ON, NOTE)


def read_entry(kind: Kind, form: Mapping[str, Any]) -> Filled:
    """What a form tells of an event, as `next_event` takes it."""
    filled = read(fields_of(kind), form)
    if kind != "checked" or filled.wrong:
        return filled
    answers = {one.name: filled.told[one.name] for one in CHECKS if one.name in filled.told}
    if not answers:
        return Filled(filled.typed, {CHECKS[0].name: "Answer one of these at least."})
    rest = {name: value for name, value in filled.told.items() if name not in answers}
    return Filled(filled.typed, {}, {**rest, "document": json.dumps(answers)})


def typed_of(event: Event) -> Filled:
    """The form of an event that was written, to be corrected."""
    typed = {
        "amount": "" if event.amount is None else f"{event.amount:.2f}",
        "fees": "" if event.fees is None else f"{event.fees:.2f}",
        "good": {None: "", True: YES, False: NO}[event.good],
        "source": event.source, "note": event.note, "barcode": event.barcode, "day": event.day.isoformat(),
    }  # fmt: skip
    if event.kind == "checked":
        typed |= {name: YES if answer else NO for name, answer in json.loads(event.document).items()}
    return Filled(typed)
