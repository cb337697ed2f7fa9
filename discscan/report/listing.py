"""Words for selling a disc: its condition as it was measured, nothing hidden, nothing claimed that was not seen."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date

from discscan.doubts import Doubt
from discscan.events import Event, Item
from discscan.records import FormatGuess, Kind, Side
from discscan.report.checks import answer_lines
from discscan.report.kept import KeptDefect, KeptDisc, kept_discs
from discscan.report.reasons import FORMAT
from discscan.report.words import KIND, NO_DAMAGE, PERHAPS, count_of, few_digits, share, sure

DIRT: tuple[Kind, ...] = ("smudge", "dust")
AFTER: Mapping[Kind, str] = {
    "crack": "; do not spin a cracked disc",
    **dict.fromkeys(DIRT, "; this may wipe off"),
}
LABEL: Mapping[FormatGuess, str] = {
    **dict.fromkeys(("cd", "unknown"), "; on a CD the data lies right under the label"),
    "dvd": "; on a DVD the data lies deeper, so that this spoils its looks alone",
    "bd": "; on a BD the data lies on the other side, so that this spoils its looks alone",
}
AREA: Mapping[Side, str] = {"data": "the area that holds data", "label": "the print over the data"}
SEEN_ON: dict[Side, str] = {
    "data": "Data side",
    "label": "Label side",
    "unknown": "One side, the photo does not tell which",
}
BOTH = "Both sides"


def listing(item: Item) -> str:
    """A description of an item's condition, plain text to be edited by whoever sells it.

    Raises:
        UnreadableTable: a report that the ledger keeps of it makes no sense.
    """
    scans = kept_discs(item)
    parts = [_heading(item, [disc for _, disc in scans])]
    parts += ["\n".join(_side_lines(item, scan, disc)) for scan, disc in scans]
    parts.append("\n".join(_history(item)))
    parts.append("\n".join([*answer_lines(item), *_missing({side for _, disc in scans for side in disc.sides})]))
    return "\n\n".join(parts) + "\n"


def _heading(item: Item, discs: Sequence[KeptDisc]) -> str:
    """ "The Last Ferry (120 mm DVD, recordable)": as the last photograph tells that shows it."""
    if not discs:
        return item.title
    named = next((disc for disc in reversed(discs) if disc.format != "unknown"), None)
    what = f"{discs[-1].diameter_mm} mm {FORMAT[named.format] if named else 'disc'}"
    if named is not None and named.format_source == "guessed":
        what += " by the look of it"
    recordable = ", recordable" if any(disc.recording == "recordable" for disc in discs) else ""
    return f"{item.title} ({what}{recordable})"


def _side_lines(item: Item, scan: Event, disc: KeptDisc) -> Iterator[str]:
    seen_on = BOTH if {"data", "label"} <= disc.sides else SEEN_ON[disc.side]
    yield f"{seen_on}, photographed {_day(scan.day)}:"
    kinds = [kind for kind in KIND if any(one.kind == kind for one in disc.defects)]
    for kind in sorted(kinds, key=lambda one: one in DIRT):
        yield f"- {_damage(kind, [one for one in disc.defects if one.kind == kind], disc)}"
    if not disc.defects:
        yield f"- {NO_DAMAGE}"
    if disc.side in AREA:
        yield f"- {share(disc.measured_fraction)} of {AREA[disc.side]} was seen well enough to judge."
    yield from (f"- {doubt.wrong}" for doubt in disc.doubts)
    if any(event.kind == "polished" for event in item.events[item.events.index(scan) :]):
        yield "- Polished since: this is how it looked before."


def _damage(kind: Kind, those: Sequence[KeptDefect], disc: KeptDisc) -> str:
    largest = max(those, key=lambda one: one.size)
    inner, outer = min(one.radius_min_mm for one in those), max(one.radius_max_mm for one in those)
    size = ""
    if largest.length_mm is not None:
        size = f"{few_digits(largest.length_mm)} mm long"
    elif largest.area_mm2 is not None:
        size = f"{few_digits(largest.area_mm2)} mm² in size"
    extent = "" if not size else f", {size}" if len(those) == 1 else f", the largest {size}"
    unsure = sum(sure(one.confidence) == PERHAPS for one in those)
    perhaps = f"; {_unsure(unsure, of=len(those))}" if unsure else ""
    near, far = round(inner), round(outer)
    where = f"{near} mm" if near == far else f"{near} to {far} mm"
    return f"{count_of(kind, len(those))}{extent}, {where} from the centre{perhaps}{_after(kind, those, disc)}."


def _after(kind: Kind, those: Sequence[KeptDefect], disc: KeptDisc) -> str:
    """What damage of this kind means to whoever buys the disc, where no doubt among the lines below says the same."""
    if kind != "label_damage":
        return AFTER.get(kind, "")
    holes = sum(one.see_through for one in those)
    if not holes:
        told = any(doubt.code == Doubt.LABEL_DEPTH_UNKNOWN.name.lower() for doubt in disc.doubts)
        return "" if told else LABEL[disc.format]
    return f"; a lamp shines through {'it' if len(those) == 1 else f'{holes} of them'}, and nothing there can be read"


def _unsure(count: int, *, of: int) -> str:
    if count == of:
        return "not sure" if of == 1 else "none of them sure"
    return f"{count} of them not sure"


def _history(item: Item) -> Iterator[str]:
    """Polishes and the last test, in their order."""
    tested = item.last("tested")
    for event in item.events:
        if event.kind == "polished":
            yield f"Polished {_day(event.day)}."
        elif event is tested:
            yield _test(event)
    if tested is None:
        yield "Not tested: nobody has played it."
    elif any(event.kind == "polished" for event in item.events[item.events.index(tested) :]):
        yield "Not tested since the polish."


def _test(event: Event) -> str:
    if event.good is None:
        return f"Tested {_day(event.day)}; the outcome was not kept."
    if event.document:
        outcome = "all of it was read" if event.good else "not all of it could be read"
        return f"Read by a drive {_day(event.day)}: {outcome}."
    return f"Tested by playing {_day(event.day)}: {'it played' if event.good else 'it did not play all through'}."


def _missing(sides: Collection[Side]) -> Iterator[str]:
    if not sides:
        yield "Not photographed: nothing is said of its condition."
    elif "data" not in sides:
        yield "Data side: not photographed."
    if sides and "label" not in sides:
        yield "Label side: not photographed."
    if sides:
        yield "A photo shows how wide a scratch is, not how deep, and the finest do not show in it."


def _day(day: date) -> str:
    return f"on {day.isoformat()}"
