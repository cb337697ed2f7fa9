"""`discscan scan` at work: photo after photo, its pictures written at once, then the results."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from discscan import scan
from discscan.cli.learn import in_use
from discscan.cli.outputs import Outputs
from discscan.cli.priced import priced, priced_disc
from discscan.cli.streams import put, say
from discscan.cli.text import as_text
from discscan.judged import JudgedPhoto
from discscan.matches import MergedDisc
from discscan.photo import PhotoLimits, Source, by_disc, expand
from discscan.records import Given
from discscan.report import DiscReport, PhotoReport, report
from discscan.report.learn_words import used_line

DONE, INCOMPLETE, STOPPED = 0, 1, 130
"""Exit statuses: they say whether the work was done, never whether a disc is good."""


@dataclass(frozen=True)
class Wishes:
    """What the options asked for."""

    given: Given
    limits: PhotoLimits
    merge: bool
    lamp: str | None
    as_json: bool
    explain: bool
    pictures: Path | None
    labels: Path | None
    page: Path | None
    terms: Mapping[str, Decimal]


def judge(photos: Sequence[str], wishes: Wishes) -> int:
    """Judge the photos, write what was asked for, and return the exit status.

    Stopped with Ctrl-C, it reports what it has judged by then.
    """
    sources: Sequence[Source] = photos if wishes.merge else expand(photos)
    total = sum(map(len, by_disc(photos))) if wishes.merge else len(sources)
    outputs = Outputs(pictures=wishes.pictures, labels=wishes.labels, page=wishes.page)
    learned = in_use()
    entries: list[PhotoReport] = []
    merged: list[DiscReport] = []
    stopped = False
    with _progress(total) as step:

        def on_photo(entry: PhotoReport, judged: JudgedPhoto | None) -> None:
            entry = priced(entry, wishes.terms)
            outputs.keep(entry, judged)
            entries.append(entry)
            step()

        def on_merged(entry: DiscReport, disc: MergedDisc) -> None:
            entry = priced_disc(entry, wishes.terms)
            outputs.keep_merged(entry, disc)
            merged.append(entry)

        try:
            scan(
                sources,
                format=wishes.given.format,
                polished=wishes.given.polished,
                limits=wishes.limits,
                merge=wishes.merge,
                lamp=wishes.lamp,
                on_photo=on_photo,
                on_merged=on_merged,
                learned=learned,
            )
        except KeyboardInterrupt:
            stopped = True
    document = report(entries, merged=merged if wishes.merge else None, learned=learned)
    outputs.finish()
    for entry in entries:
        if entry.error is not None:
            say(f"{entry.file}: {entry.error.message}")
    if stopped:
        say(f"Stopped after {len(entries)} of {total} photos.")
    if wishes.as_json:
        put(document.to_json(), encoding="utf-8")
    else:
        put(as_text(document, explain=wishes.explain, terminal=sys.stdout.isatty()))
    if learned is not None and learned.lesson.curve is not None:
        say(used_line(learned.lesson))
    for line in outputs.whereabouts():
        say(line)
    if stopped:
        return STOPPED
    return DONE if all(entry.error is None and entry.discs for entry in entries) else INCOMPLETE


@contextmanager
def _progress(total: int) -> Iterator[Callable[[], None]]:
    """A bar on standard error; none for a single photo, nor where nobody looks at it."""
    if total < 2 or not sys.stderr.isatty():
        yield lambda: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = TextColumn("photos"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn()
    with Progress(*columns, console=Console(stderr=True), transient=True, redirect_stdout=False) as bar:
        task = bar.add_task("photos", total=total)
        yield lambda: bar.advance(task)
