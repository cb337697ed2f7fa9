"""Tables of events: what is good is kept, every bad row is told by its line, and twice is once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from discscan.deals import Fault
from discscan.errors import UnreadableTable
from discscan.events import Event
from discscan.ledger import items_of, read_entries

D = Decimal
TODAY = date(2026, 11, 25)
HEAD = "item,event,date,amount,fees,outcome,source,note,barcode\n"
BAD_ROWS = {
    "no-item": ",sold,2026-01-05,4,,,,,",
    "no-event": "Film,,2026-01-05,4,,,,,",
    "bad-event": "Film,lost,2026-01-05,4,,,,,",
    "no-date": "Film,listed,,4,,,,,",
    "bad-date": "Film,listed,2026-02-30,4,,,,,",
    "future-date": "Film,listed,2027-01-05,4,,,,,",
    "no-price": "Film,listed,2026-01-05,,,,,,",
    "bad-price": "Film,listed,2026-01-05,cheap,,,,,",
    "bad-outcome": "Film,tested,2026-01-05,,,maybe,,,",
    "not-taken": "Film,listed,2026-01-05,4,,yes,,,",
    "bad-barcode": "Other film,bought,2026-01-05,4,,,,,6291041500214",
    "refused": "Nothing of the kind,sold,2026-01-05,4,,,,,",
    "quote-left-open": 'Film,listed,2026-01-05,4,,,,"never closed,',
    "too-many-fields": "Film,listed,2026-01-05,4,,,,,,one more",
}


@pytest.fixture
def enter(tmp_path: Path) -> Callable[..., tuple[list[Event], int, list[Fault]]]:
    def entered(rows: str, *, known: Sequence[Event] = (), head: str = HEAD) -> tuple[list[Event], int, list[Fault]]:
        path = tmp_path / "rows.csv"
        path.write_text(head + rows)
        return read_entries(path, known=known, today=TODAY)

    return entered


def test_a_month_goes_in_as_one_table(enter: Callable[..., tuple[list[Event], int, list[Fault]]]) -> None:
    fresh, passed_over, faults = enter(
        "The Last Ferry,bought,3.1.2026,\"4,50\",,,yard sale,,6291041500213\n"
        "the last  ferry,polished,10.1.2026,3,,helped,,,\n"
        "6291041500213,tested,10.1.2026,,,plays,,,\n"
        "The Last Ferry,sold,31.1.2026,15,2.25,,,to a friend,\n"
        "Harbour Songs,found,31.1.2026,8,,,,too dear,\n"
    )  # fmt: skip
    assert (passed_over, faults) == (0, [])
    ferry, songs = items_of(fresh)
    assert [event.kind for event in ferry.events] == ["bought", "polished", "tested", "sold"]
    assert (ferry.total("bought"), ferry.events[3].fees, ferry.events[1].good) == (D("4.50"), D("2.25"), True)
    assert (ferry.events[0].day, ferry.barcode, songs.title) == (date(2026, 1, 3), "6291041500213", "Harbour Songs")


@pytest.mark.parametrize("what", BAD_ROWS)
def test_a_bad_row_is_told_and_the_rest_is_kept(
    enter: Callable[..., tuple[list[Event], int, list[Fault]]], what: str
) -> None:
    fresh, _, faults = enter(f"Film,bought,2026-01-04,4,,,,,\n{BAD_ROWS[what]}\nFilm,discarded,2026-01-06,,,,,,\n")
    assert [event.kind for event in fresh] == ["bought", "discarded"]
    assert [(fault.line, fault.what) for fault in faults] == [(3, what)]


@given(st.lists(st.sampled_from([*BAD_ROWS, "good"]), min_size=110, max_size=130).filter(lambda kinds: "good" in kinds))
def test_a_hundred_faults_are_each_told_by_their_line(
    tmp_path_factory: pytest.TempPathFactory, kinds: list[str]
) -> None:
    """A quote left open may run on into the next rows (RFC 4180), so that here each is closed off by what it holds."""
    rows = [BAD_ROWS.get(kind, f"Disc of line {line},bought,2026-01-04,4,,,,,") for line, kind in enumerate(kinds, 2)]
    path = tmp_path_factory.mktemp("rows") / "rows.csv"
    path.write_text(HEAD + "".join(f"{row}\n" for row in rows))
    known = [Event(key="f", item="f", kind="bought", day=date(2026, 1, 1), number=1, title="Film", amount=D(1))]
    fresh, _, faults = read_entries(path, known=known, today=TODAY)
    assert {fault.line: fault.what for fault in faults} == {
        line: kind for line, kind in enumerate(kinds, 2) if kind != "good"
    }
    assert [event.title for event in fresh] == [
        f"Disc of line {line}" for line, kind in enumerate(kinds, 2) if kind == "good"
    ]


def test_a_table_whose_bad_rows_were_mended_can_be_entered_again(
    enter: Callable[..., tuple[list[Event], int, list[Fault]]],
) -> None:
    rows = "A,bought,2026-01-04,4,,,,,\nA,sold,2026-01-05,x,,,,,\nB,bought,2026-01-04,4,,,,,\n"
    first, _, faults = enter(rows)
    assert len(faults) == 1
    second, passed_over, faults = enter(rows.replace(",x,", ",9,"), known=first)
    assert (passed_over, faults, [event.kind for event in second]) == (2, [], ["sold"])
    assert enter(rows.replace(",x,", ",9,"), known=[*first, *second])[:2] == ([], 3)


def test_two_alike_in_one_table_are_two(enter: Callable[..., tuple[list[Event], int, list[Fault]]]) -> None:
    once = "A,bought,2026-01-04,4,,,,,\nA,sold,2026-01-04,5,,,,,\n"
    fresh, _, faults = enter(once + once)
    assert (len(items_of(fresh)), faults) == (2, [])


def test_a_table_of_other_columns_is_refused(enter: Callable[..., tuple[list[Event], int, list[Fault]]]) -> None:
    with pytest.raises(UnreadableTable, match="no column `event`"):
        enter("A,4\n", head="item,price\n")
