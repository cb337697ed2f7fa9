"""The report as text: the sentences of `discscan.report`, laid out for a terminal or a pipe."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from rich.console import Console
from rich.table import Table
from rich.text import Text

from discscan.records import Action
from discscan.report import DiscReport, PhotoReport, Report, defect_words, merged_words, reasons, words

_STYLES: dict[Action, str] = {
    "play": "bold green", "resurface": "bold yellow", "pass": "bold red", "retake": "bold blue",
}  # fmt: skip
_PIPED_WIDTH = 1000
_NAMES_AT_MOST = 8


def as_text(report: Report, *, explain: bool, terminal: bool) -> str:
    """The report as text: a line of verdict for each disc, then a table.

    A lone disc is told in full, its table that of its defects; of several, the table is that of the discs. `explain`
    tells each disc in full, and what was turned down.
    """
    console = _console(terminal=terminal)
    named = list(_named_discs(report.photos))
    in_full = explain or (len(named) == 1 and not report.merged)
    for photo in report.photos:
        if photo.error is None and not photo.discs:
            console.print(f"{photo.file}: {words.NO_DISC}")
        for name, disc in _named_discs([photo]):
            _show_disc(console, name, disc, in_full=in_full, explain=explain)
        if explain:
            _show_lines(console, _turned_down(photo))
    for disc in report.merged or ():
        named.append((merged_words.merged_name(disc), disc))
        _show_disc(console, merged_words.merged_name(disc), disc, in_full=True, explain=explain)
        _show_lines(console, merged_words.merged_lines(disc))
    if len(named) > 1:
        console.print()
        console.print(_overview(named))
    _show_cautions(console, named)
    if len(report.photos) > 1 or len(named) > 1:
        console.print(words.summary(report))
    return _captured(console)


def lines_and_table(lines: Sequence[str], head: Sequence[str], rows: Sequence[Sequence[str]], *, terminal: bool) -> str:
    """Sentences, and below them a table where there is any row."""
    console = _console(terminal=terminal)
    for line in lines:
        console.print(Text(line))
    if rows:
        console.print(_table(head, rows))
    return _captured(console)


def _captured(console: Console) -> str:
    return "".join(f"{line.rstrip()}\n" for line in console.end_capture().splitlines())


def _console(*, terminal: bool) -> Console:
    console = Console(
        force_terminal=terminal, color_system="auto" if terminal else None, width=None if terminal else _PIPED_WIDTH,
        highlight=False, emoji=False, markup=False, soft_wrap=True,
    )  # fmt: skip
    console.begin_capture()
    return console


def _named_discs(photos: Iterable[PhotoReport]) -> Iterator[tuple[str, DiscReport]]:
    for photo in photos:
        for number, disc in enumerate(photo.discs, start=1):
            yield (photo.file if len(photo.discs) == 1 else f"{photo.file}, disc {number}"), disc


def _show_disc(console: Console, name: str, disc: DiscReport, *, in_full: bool, explain: bool) -> None:
    console.print(f"{name}: {words.disc_line(disc)}")
    line = Text(f"  {words.verdict_line(disc)}")
    line.stylize(_STYLES[disc.verdict.action], 2, 2 + len(words.VERDICT[disc.verdict.action]))
    console.print(line)
    _show_lines(console, [words.worth_line(disc)])
    if explain:
        _show_lines(console, map(words.explained, disc.verdict.reasons))
    if in_full:
        _show_lines(console, [words.seen_line(disc), words.worst_format_line(disc), words.learned_line(disc)])
    if in_full or disc.verdict.action == "retake":
        _show_lines(console, (f"{doubt.wrong} {doubt.remedy}" for doubt in disc.doubts))
        _show_lines(console, [words.next_photo_line(disc)])
    if in_full and disc.defects:
        console.print(_table(defect_words.TABLE_HEAD, defect_words.disc_table_rows(disc)))
        _show_lines(console, [defect_words.rest_line(disc)])


def _show_cautions(console: Console, named: Sequence[tuple[str, DiscReport]]) -> None:
    for caution in dict.fromkeys(caution for _, disc in named for caution in disc.verdict.cautions):
        names = [name for name, disc in named if caution in disc.verdict.cautions]
        concerned = "; ".join(names) if len(names) <= _NAMES_AT_MOST else f"{len(names)} discs"
        whom = f" ({concerned})" if len(named) > 1 else ""
        console.print(Text.assemble((f"Caution{whom}:", "bold"), f" {caution}"))


def _turned_down(photo: PhotoReport) -> Iterator[str]:
    for one in photo.turned_down:
        yield f"Turned down at x {one.outer_ellipse_px.cx:.0f}, y {one.outer_ellipse_px.cy:.0f}: {one.why}"


def _show_lines(console: Console, lines: Iterable[str]) -> None:
    for line in filter(None, lines):
        console.print(f"  {line}")


def _overview(named: Iterable[tuple[str, DiscReport]]) -> Table:
    rows = []
    for name, disc in named:
        odds = words.odds(disc)
        chance = reasons.chance(odds[0].probability) if odds else ""
        rows.append((name, words.VERDICT[disc.verdict.action], chance, f"{100 * disc.measured_fraction:.0f} %"))
    return _table(("Disc", "Verdict", "Chance", "Seen"), rows)


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 3, 0, 0), header_style="bold")
    for name in head:
        table.add_column(Text(name))
    for row in rows:
        table.add_row(*map(Text, row))
    return table
