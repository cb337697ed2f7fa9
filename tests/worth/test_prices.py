"""Observed prices as people keep them: what is read, and that nothing is lost in silence."""

from __future__ import annotations

import csv
import io
import random
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from discscan.deals import Fault, PriceBook
from discscan.errors import UnreadableTable
from discscan.money import parse_money, parse_share
from discscan.rows import FAULTS
from discscan.worth import read_prices

TODAY = date(2026, 11, 25)
HEAD = "item,price,currency,date,status,completeness,days_listed\n"


@pytest.fixture
def table(tmp_path: Path) -> Path:
    return tmp_path / "prices.csv"


def read(table: Path, text: str | bytes, **options: object) -> PriceBook:
    table.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_prices(table, today=TODAY, **options)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("said", "amount"),
    [("4", "4"), ("4.5", "4.50"), ("4,50", "4.50"), (".5", "0.50"), ("1,234.50", "1234.50"), ("1.234,50", "1234.50"),
     ("1 234", "1234"), ("1'234.50", "1234.50"), ("1\u00a0234,5", "1234.50"), ("12.345.678", "12345678")],
)  # fmt: skip
def test_amounts_are_read_as_people_write_them(said: str, amount: str) -> None:
    assert parse_money(said) == Decimal(amount)


@pytest.mark.parametrize(
    "said", ["", "-4", "4.505", "1.234", "0,125", "1e3", "nan", "inf", "4 50 0", "9999999999", "x"]
)
def test_what_is_no_amount_or_may_be_two_is_refused(said: str) -> None:
    with pytest.raises(ValueError, match=r"amount|money|thousands"):
        parse_money(said)


@given(st.integers(0, 10**11 - 1))
def test_every_amount_survives_being_written_and_read(count: int) -> None:
    amount = Decimal(count) / 100
    for said in (f"{amount:.2f}", f"{amount:,.2f}", f"{amount:.2f}".replace(".", ",")):
        assert parse_money(said) == amount


@pytest.mark.parametrize(
    ("said", "share"), [("0.8", "0.8"), ("0,8", "0.8"), ("80%", "0.8"), ("80 %", "0.8"), ("1", "1")]
)
def test_shares_are_read_as_people_write_them(said: str, share: str) -> None:
    assert parse_share(said) == Decimal(share)


@pytest.mark.parametrize("said", ["80", "1.1", "101%", "-0.1", "nan", ""])
def test_what_is_no_share_is_refused(said: str) -> None:
    with pytest.raises(ValueError, match=r"share|whole"):
        parse_share(said)


@pytest.mark.parametrize(
    ("said", "day"),
    [("2026-11-03", (11, 3)), ("2026/11/3", (11, 3)), ("03.11.2026", (11, 3)), ("3. 11. 2026", (11, 3)),
     ("3.11.26", (11, 3)), ("3 Nov 2026", (11, 3)), ("Nov 3, 2026", (11, 3)), ("November 3 2026", (11, 3)),
     ("23/10/2026", (10, 23)), ("10/23/2026", (10, 23)), ("5/5/2026", (5, 5)), ("2026-11-03T10:15:00Z", (11, 3)),
     ("2026-11-03 10:15", (11, 3))],
)  # fmt: skip
def test_dates_are_read_as_people_write_them(table: Path, said: str, day: tuple[int, int]) -> None:
    book = read(table, f'{HEAD}Film,4,EUR,"{said}",sold,,\n')
    assert [one.day for one in book.seen] == [date(2026, *day)]


def test_a_date_that_may_be_two_is_a_fault_unless_the_table_or_the_person_tells(table: Path) -> None:
    row = "Film,4,EUR,3/4/2026,sold,,\n"
    assert read(table, HEAD + row).faults == (Fault(2, "either-date", "3/4/2026"),)
    assert read(table, f"{HEAD}{row}Film,4,EUR,10/23/2026,sold,,\n").seen[0].day == date(2026, 3, 4)
    assert read(table, f"{HEAD}{row}Film,4,EUR,23/10/2026,sold,,\n").seen[0].day == date(2026, 4, 3)
    assert read(table, HEAD + row, day_order="month-first").seen[0].day == date(2026, 3, 4)
    both = f"{HEAD}{row}Film,4,EUR,10/23/2026,sold,,\nFilm,4,EUR,23/10/2026,sold,,\n"
    assert [fault.line for fault in read(table, both).faults] == [2]


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_any_usual_separator_encoding_and_line_ending_is_read(
    table: Path, separator: str, encoding: str, ending: str
) -> None:
    text = io.StringIO()
    writer = csv.writer(text, delimiter=separator, lineterminator=ending)
    writer.writerow(["Item", "PRICE", "Currency", "Date", "Status", "Completeness", "Days listed", "a note"])
    writer.writerow(['Café, the "film"; 1|2', "4,50", "EUR", "2026-11-03", "Sold", "Disc only", "9", "x"])
    (one,) = read(table, text.getvalue().encode(encoding)).seen
    assert (one.item, one.price, one.completeness, one.days_listed) == (
        'Café, the "film"; 1|2', Decimal("4.50"), "disc", 9,
    )  # fmt: skip


def test_a_spreadsheets_line_on_its_separator_is_passed_over(table: Path) -> None:
    assert len(read(table, "sep=;\nitem;price;date;status\nFilm;4,5;3.11.2026;sold\n").seen) == 1


def test_a_quoted_field_may_go_on_over_lines_and_the_next_row_keeps_its_number(table: Path) -> None:
    book = read(table, f'{HEAD}"Film,\nsecond part",4,EUR,2026-11-03,sold,,\nFilm,x,EUR,2026-11-03,sold,,\n')
    assert [(one.line, one.item) for one in book.seen] == [(2, "Film, second part")]
    assert book.faults == (Fault(4, "bad-price", "x"),)


def test_a_quote_left_open_swallows_no_other_row(table: Path) -> None:
    rows = "".join(f"Film {n},4,EUR,2026-11-03,sold,,\n" for n in range(30))
    book = read(table, f'{HEAD}{rows}"Film,4,EUR,2026-11-03,sold,,\n{rows}')
    assert len(book.seen) == 60
    assert book.faults == (Fault(32, "quote-left-open"),)


def test_a_mark_of_currency_beside_the_price_counts_as_its_currency(table: Path) -> None:
    book = read(
        table, 'item;price;date;status\nA;€4,50;3.11.2026;sold\nB;"5,00 €";3.11.2026;sold\nC;$6;3.11.2026;sold\n'
    )
    assert book.currency == "EUR"
    assert [one.price for one in book.seen] == [Decimal("4.50"), Decimal("5.00")]
    assert book.faults == (Fault(4, "other-currency", "USD"),)
    assert read(table, table.read_bytes(), currency="usd").faults == (
        Fault(2, "other-currency", "EUR"), Fault(3, "other-currency", "EUR"),
    )  # fmt: skip


GOOD = ["Film", "4.50", "EUR", "2026-11-03", "sold", "complete", "9"]
BAD = {
    "no-item": (0, ""), "no-price": (1, ""), "bad-price": (1, "four"), "other-currency": (2, "USD"),
    "no-date": (3, ""), "bad-date": (3, "2026-02-30"), "either-date": (3, "3/4/2026"), "future-date": (3, "2026-11-26"),
    "bad-status": (4, "gone"), "bad-completeness": (5, "half"), "bad-days": (6, "-3"),
}  # fmt: skip


@pytest.mark.parametrize("what", BAD)
def test_each_fault_is_named_with_its_line_and_the_others_are_read(table: Path, what: str) -> None:
    bad = list(GOOD)
    bad[BAD[what][0]] = BAD[what][1]
    book = read(table, "\n".join([HEAD.strip(), *(",".join(row) for row in (GOOD, bad, GOOD))]))
    assert [one.line for one in book.seen] == [2, 4]
    assert [(fault.line, fault.what) for fault in book.faults] == [(3, what)]


@settings(max_examples=30, deadline=None)
@given(seed=st.integers(0, 2**32))
def test_a_hundred_faults_among_good_rows_are_each_told_by_their_line(
    tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    draw = random.Random(seed)
    kinds = [*BAD, "too-many-fields", "quote-left-open"]
    planned = [draw.choice(kinds) for _ in range(100)] + [""] * 150
    draw.shuffle(planned)
    lines = [HEAD.strip()]
    for what in planned:
        row = list(GOOD)
        if what in BAD:
            row[BAD[what][0]] = BAD[what][1]
        line = ",".join(row)
        lines.append({"too-many-fields": f"{line},more", "quote-left-open": f'"{line}'}.get(what, line))
    book = read(tmp_path_factory.mktemp("faults") / "prices.csv", "\n".join(lines))
    assert [(fault.line, fault.what) for fault in book.faults] == [
        (line, what) for line, what in enumerate(planned, start=2) if what
    ]
    assert len(book.seen) == 150


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=400) | st.text(alphabet='",;\n\r 4Film-:/.', max_size=200).map(lambda text: HEAD + text))
def test_any_bytes_are_read_or_refused_in_words(tmp_path_factory: pytest.TempPathFactory, data: bytes | str) -> None:
    path = tmp_path_factory.getbasetemp() / "any.csv"
    try:
        book = read(path, data)
    except UnreadableTable as error:
        assert error.what and error.remedy
    else:
        assert {fault.what for fault in book.faults} <= set(FAULTS)


@pytest.mark.parametrize(
    ("text", "says"),
    [("", "empty"), ("item,price\n", "no column `date`"), ("item,item,price,date,status\n", "two columns `item`")],
)
def test_a_table_that_cannot_be_used_is_refused_in_words(table: Path, text: str, says: str) -> None:
    with pytest.raises(UnreadableTable, match=says):
        read(table, text)


def test_a_missing_table_is_refused_in_words(tmp_path: Path) -> None:
    with pytest.raises(UnreadableTable, match="No such file"):
        read_prices(tmp_path / "none.csv", today=TODAY)
    with pytest.raises(UnreadableTable):
        read_prices(tmp_path, today=TODAY)
