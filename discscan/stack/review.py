"""What a person decided about each disc of a stack: a list that only grows, in a file beside the answers."""

from __future__ import annotations

import json
import os
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from typing import Any, get_args

from discscan.errors import CannotWrite, UnreadablePhoto
from discscan.events import Event
from discscan.ledger import items_of, named_items, next_event
from discscan.photo import contents
from discscan.records import Action
from discscan.report import PhotoReport, Report
from discscan.report.forecasts import read_discs
from discscan.report.stack_words import decision
from discscan.stack.groups import Group, groups_of, spots_of
from discscan.stack.outputs import REPORT
from discscan.stack.run import Progress

DECISIONS = "decisions.jsonl"


@dataclass(frozen=True)
class Decision:
    """What is to be done with a disc; `agreed` where that is what the program said."""

    key: str
    action: Action
    agreed: bool
    title: str = ""


class Review:
    """The discs of a judged stack and what was decided about them. May be used from any thread.

    Args:
        place: the work folder.
        photos: the folder of the photos, where it is at hand.
        progress: of the run that still judges them, if one does.
    Raises:
        CannotWrite: a decision cannot be written.
    """

    def __init__(
        self, place: Path, *, photos: Path | None = None, progress: Callable[[], Progress] | None = None
    ) -> None:
        self._progress = progress
        self.name = place.resolve().name.removesuffix("-judged")
        self._folder = photos
        self.pictures = place / "pictures"
        self._report, self._decisions = place / REPORT, place / DECISIONS
        self._lock = threading.RLock()
        self._read: tuple[int, list[PhotoReport], list[Group]] = (0, [], [])

    @property
    def still_judged(self) -> Progress | None:
        """How far the run is, while photos wait for their answer."""
        now = None if self._progress is None else self._progress()
        return now if now is not None and (now.done < now.known or now.growing) else None

    @property
    def photos(self) -> list[PhotoReport]:
        """As last written by the run, which may still go on."""
        return self._as_written()[1]

    @property
    def groups(self) -> list[Group]:
        return self._as_written()[2]

    def _as_written(self) -> tuple[int, list[PhotoReport], list[Group]]:
        with self._lock:
            try:
                changed = self._report.stat().st_mtime_ns
                if changed != self._read[0]:
                    report = Report.model_validate_json(self._report.read_bytes())
                    self._read = changed, list(report.photos), groups_of(report.photos, report.merged or ())
            except (OSError, ValueError):  # none was written yet
                pass
            return self._read

    def standing(self) -> dict[str, Decision]:
        """The decision on each disc that has one, by its key."""
        return {one.key: one for one in self._standing()}

    def decide(self, group: Group, action: Action, *, title: str = "") -> Decision:
        """Agree with what the program said, or say otherwise; the last word counts."""
        plain = " ".join(title.split())
        called = f"{plain} (disc)" if plain.isdecimal() else plain  # a ledger takes a bare number for an item's own
        made = Decision(group.key, action, action == group.action, called)
        self._append({"disc": made.key, "action": action, "agreed": made.agreed, "title": made.title})
        return made

    def undo(self) -> Decision | None:
        """Take back the last decision that stands; None where there is none."""
        with self._lock:
            standing = self._standing()
            if not standing:
                return None
            self._append({"undo": True})
            return standing[-1]

    def _standing(self) -> list[Decision]:
        with self._lock:
            try:
                lines = self._decisions.read_text(encoding="utf-8").splitlines()
            except OSError:
                return []
        standing: list[Decision] = []
        for line in lines:
            told = _told(line)
            if "undo" in told:
                standing = standing[:-1]
            elif told.get("action") in get_args(Action):
                standing.append(Decision(told["disc"], told["action"], told["agreed"], told.get("title", "")))
        return standing

    def _append(self, told: dict[str, Any]) -> None:
        """On disk before this returns."""
        try:
            with self._lock, self._decisions.open("ab") as file:
                # begins a line of its own, also behind one that was cut short
                file.write(b"\n" + json.dumps(told, ensure_ascii=False).encode() + b"\n")
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise CannotWrite(
                f"It cannot be written: {error.strerror}.", file=str(self._decisions), remedy="Make room there."
            ) from error

    def events(
        self, known: Sequence[Event], *, day: date, source: str, cost: Decimal | None, named: str
    ) -> list[Event]:
        """What the decided discs are in a ledger: found, or bought where a cost is told, and scanned.

        Those to retake stay out, and so does what is in it already: a disc's events are known by its photo's hash.

        Args:
            named: what discs without a title of their own are called, with their number.
        """
        have = {event.key for event in known}
        items = items_of(known)
        documents = self._documents()
        standing = self.standing()
        new: list[Event] = []
        for group in self.groups:
            one, key = standing.get(group.key), f"stack-{group.key}"
            if one is None or one.action == "retake" or key in have:
                continue
            title = _free_title(one.title or f"{named} {group.number}", [*items, *items_of(new)])
            note = decision(one.action, agreed=one.agreed)
            begun = next_event(
                "found" if cost is None else "bought", what=title, day=day, items=items, key=key, item=key, amount=cost,
                source=source, note=note,
            )  # fmt: skip
            scan = Event(
                key=f"{key}-scan",
                item=key,
                kind="scanned",
                day=day,
                title=begun.title,
                document=documents[group.key],
            )
            new += [begun, scan]
        return new

    def originals(self, events: Sequence[Event]) -> Iterator[bytes]:
        """The photos behind such events, as far as they are still in the folder as they were judged."""
        added = {event.key for event in events}
        spots = [spot for group in self.groups if f"stack-{group.key}" in added for spot in group.spots]
        for file, known in {spot.report.file: spot.report.sha256 for spot in spots}.items():
            if self._folder is not None:
                with suppress(UnreadablePhoto):
                    data = contents(self._folder / file, name=file)
                    if sha256(data).hexdigest() == known:
                        yield data

    def _documents(self) -> dict[str, str]:
        """Of each disc, by its key: what its photos say as one, or what the best of them says."""
        told = iter(read_discs(self._report).values())
        spots = sorted(spots_of(self.photos), key=lambda spot: (spot.photo, spot.disc))
        alone = {spot.key: next(told) for spot in spots}
        return {group.key: next(told) if group.merged is not None else alone[group.spot.key] for group in self.groups}


def _free_title(title: str, items: Sequence[Any]) -> str:
    """The title, with a number behind it where an open item has it already."""
    free, number = title, 1
    while any(not item.ended for item in named_items(free, items)):
        number += 1
        free = f"{title} ({number})"
    return free


def _told(line: str) -> dict[str, Any]:
    """One line; {} for one that was cut short when the power failed."""
    try:
        told = json.loads(line)
    except ValueError:
        return {}
    return told if isinstance(told, dict) else {}
