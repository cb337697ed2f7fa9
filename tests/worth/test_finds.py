"""Finds from a table: what each row tells, what the command and the scan tell for it, and what is missing."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from discscan.deals import Fault, Forecast
from discscan.worth import Find, Terms, read_finds

D = Decimal
SEEN = Forecast(D("0.7"), D("0.5"), D("0.8"), D("0.9"), may_spin=True, settled=True)
CRACKED = Forecast(D("0.1"), D("0.0"), D("0.3"), None, may_spin=False, settled=True)


def read(tmp_path: Path, text: str, *, asked_needed: bool = True) -> tuple[list[Find], list[Fault]]:
    path = tmp_path / "finds.csv"
    path.write_text(text)
    forecasts = {"a.jpg": SEEN, "b.jpg, disc 2": CRACKED}
    return read_finds(path, costs={"postage": D(4)}, forecasts=forecasts, asked_needed=asked_needed)


def test_a_row_is_read_with_the_costs_of_the_command_unless_it_tells_its_own(tmp_path: Path) -> None:
    finds, faults = read(
        tmp_path, "item;asked;sells;chance;days;postage\nThe Last Ferry;1,50;12;80%;9;\nB;1;2;0,5;;0\n"
    )
    assert not faults
    assert finds == [
        Find(2, "The Last Ferry", Terms(sells=D(12), asked=D("1.50"), chance=D("0.8"), days=D(9), postage=D(4))),
        Find(3, "B", Terms(sells=D(2), asked=D(1), chance=D("0.5"), postage=D(0))),
    ]


def test_a_row_takes_the_chances_of_its_photo_unless_it_tells_its_own(tmp_path: Path) -> None:
    finds, faults = read(
        tmp_path,
        'item,photo,asked,sells,chance\nA,a.jpg,1,12,\nB,"b.jpg, disc 2",1,12,\nC,a.jpg,1,12,0.2\n',
    )
    assert not faults
    chances = [(find.terms.chance, find.terms.chance_polished, find.terms.may_spin) for find in finds]
    assert chances == [(D("0.7"), D("0.9"), True), (D("0.1"), None, False), (D("0.2"), D("0.9"), True)]


@pytest.mark.parametrize(
    ("row", "what"),
    [(",,1,12,0.5", "no-item"), ("A,,,12,0.5", "no-price"), ("A,,1,,0.5", "no-price"), ("A,,1,x,0.5", "bad-price"),
     ("A,,1,12,50", "bad-share"), ("A,,1,12,", "no-chance"), ("A,z.jpg,1,12,", "no-such-photo"),
     ("A,,1,12,0.5,soon", "bad-days"), ("A,,1,12,0.5,,13", "bad-terms")],
)  # fmt: skip
def test_each_fault_is_named_with_its_line_and_the_others_are_read(tmp_path: Path, row: str, what: str) -> None:
    finds, faults = read(
        tmp_path, f"item,photo,asked,sells,chance,days,sells_spoiled\nA,,1,12,0.5\n{row}\nA,,1,12,0.5\n"
    )
    assert [find.line for find in finds] == [2, 4]
    assert [(fault.line, fault.what) for fault in faults] == [(3, what)]


def test_a_price_asked_is_needed_only_where_it_is_reckoned_with(tmp_path: Path) -> None:
    text = "item,sells,chance\nA,12,0.5\n"
    assert read(tmp_path, text)[1] == [Fault(2, "no-price")]
    assert read(tmp_path, text, asked_needed=False)[0][0].terms.asked is None
