"""Reading tables as people keep them: any usual separator, quotes, encodings; every bad row told by its line."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from discscan.deals import Fault
from discscan.errors import UnreadableTable

FAULTS = (
    "quote-left-open", "too-many-fields", "no-item", "no-price", "bad-price", "bad-share", "bad-days", "bad-date",
    "no-date", "either-date", "future-date", "other-currency", "bad-status", "bad-completeness", "bad-terms",
    "no-chance", "no-such-photo", "no-event", "bad-event", "bad-outcome", "bad-barcode", "not-taken", "refused",
)  # fmt: skip
"""Every name of a fault; its sentence is in `report/`."""

SEPARATORS = ",;\t|"
LINES_OF_A_ROW = 20
_TELLS_SEPARATOR = re.compile(r"sep=.\s*", re.IGNORECASE).fullmatch  # a first line that spreadsheets write
MEGABYTES = 30
Row = TypeVar("Row")


class BadRow(Exception):
    """A row that cannot be used: the fault's name and the text that it is about."""

    def __init__(self, what: str, text: str = "") -> None:
        assert what in FAULTS
        self.what, self.text = what, text
        super().__init__(what)


@dataclass(frozen=True)
class Line:
    """A row with the number of its first line in the file; a column that is absent or empty gives ""."""

    number: int
    fields: Mapping[str, str]

    def __getitem__(self, column: str) -> str:
        return self.fields.get(column, "").strip()


def read_rows(path: Path, *, columns: Sequence[str], needed: Sequence[str]) -> tuple[list[Line], list[Fault]]:
    """The rows of a table whose first row names its columns, in any order and case; other columns are left alone.

    Raises:
        UnreadableTable: the file cannot be read, or it lacks a needed column.
    """
    lines = re.split(r"\r\n|\r|\n", _text(path))
    start = next((number for number, line in enumerate(lines) if line.strip() and not _TELLS_SEPARATOR(line)), None)
    if start is None:
        raise UnreadableTable("It is empty.", file=str(path), remedy=_first_row(columns))
    separator = max(SEPARATORS, key=lambda mark: len(set(_names(lines[start], mark)) & set(columns)))
    names = _names(lines[start], separator)
    if missing := [name for name in needed if name not in names]:
        raise UnreadableTable(f"It has no column `{missing[0]}`.", file=str(path), remedy=_first_row(columns))
    if twice := [name for name in columns if names.count(name) > 1]:
        raise UnreadableTable(f"It has two columns `{twice[0]}`.", file=str(path), remedy="Rename one of them.")
    rows, faults = [], []
    for number, fields in _records(lines, start + 1, separator, len(names)):
        if fields is None:
            faults.append(Fault(number, "quote-left-open"))
        elif any(field.strip() for field in fields[len(names) :]):
            faults.append(Fault(number, "too-many-fields", str(len(names))))
        else:
            rows.append(Line(number, dict(zip(names, fields, strict=False))))
    return rows, faults


def make_all(rows: Sequence[Line], make: Callable[[Line], Row], faults: list[Fault]) -> list[Row]:
    """What `make` makes of each row; the faults of those that it rejects are added to `faults`."""
    made = []
    for row in rows:
        try:
            made.append(make(row))
        except BadRow as bad:
            faults.append(Fault(row.number, bad.what, bad.text))
    return made


def _records(lines: Sequence[str], at: int, separator: str, width: int) -> Iterator[tuple[int, list[str] | None]]:
    """Each record with its first line's number, counted from 1; None for a quote that is never closed.

    A quoted field may go on over several lines. A quote left open would swallow all that follows, so a record of
    several lines counts only when it has no more fields than there are columns.
    """
    while at < len(lines):
        if not lines[at].strip():
            at += 1
            continue
        fields, used = _parsed([lines[at]], separator), 1
        while fields is None and used < LINES_OF_A_ROW and at + used < len(lines):
            used += 1
            longer = _parsed(lines[at : at + used], separator)
            fields = longer if longer is not None and len(longer) <= width else None
        yield at + 1, fields
        at += used if fields is not None else 1


def _parsed(lines: Sequence[str], separator: str) -> list[str] | None:
    """The fields of one record; None while a quote is open."""
    text = [line + "\n" for line in lines]
    try:
        records = list(csv.reader(text, delimiter=separator, strict=True, skipinitialspace=True))
    except csv.Error:
        return None
    if len(records) != 1:
        return None
    return [field.rstrip("\n") for field in records[0]]


def _names(line: str, separator: str) -> list[str]:
    fields = _parsed([line], separator) or []
    return [re.sub(r"[\s_-]+", "_", name.strip().casefold()) for name in fields]


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > MEGABYTES * 10**6:
            raise UnreadableTable(
                f"It is larger than {MEGABYTES} megabytes.", file=str(path), remedy="Split it into several files."
            )
        data = path.read_bytes()
    except OSError as error:
        raise UnreadableTable(
            f"It cannot be read: {error.strerror}.", file=str(path), remedy="Check how its name is written."
        ) from error
    encoding = "utf-16" if data[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    return text.replace("\0", "")


def _first_row(columns: Sequence[str]) -> str:
    return f"Its first row names the columns: {', '.join(columns)}."
