"""What a stack leaves to look at: one page, a table and the report, in the work folder."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined

from discscan.lessons import Learned
from discscan.records import Action
from discscan.report import DiscReport, PhotoReport, report, stack_words, styles, words
from discscan.stack.groups import Group, groups_of
from discscan.stack.work import write_whole

PAGE, TABLE, REPORT = "stack.html", "stack.csv", "report.json"


class Outputs:
    """Writes `report.json`, `stack.csv` and `stack.html`; each is there whole or not at all.

    Args:
        title: what the page is called; the folder's name.
        learned: what the answers were recalibrated by.
    """

    def __init__(self, place: Path, *, title: str, learned: Learned | None = None) -> None:
        self._place, self._title, self._learned = place, title, learned
        environment = Environment(
            loader=ChoiceLoader([PackageLoader("discscan.stack"), PackageLoader("discscan.report")]),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        environment.globals.update(
            words=words, stack=stack_words, styles=styles, where=spot_words, link=_marks, thumb=_thumb
        )
        self._template = environment.get_template(PAGE)

    def write(self, photos: Sequence[PhotoReport], merged: Sequence[DiscReport] = ()) -> None:
        """Raises CannotWrite when one of them cannot be written."""
        groups = groups_of(photos, merged)
        write_whole(self._place / TABLE, stack_words.table(_rows(groups, photos)).encode())
        write_whole(self._place / PAGE, self._page(groups, photos).encode())
        write_whole(
            self._place / REPORT, report(photos, merged=merged or None, learned=self._learned).to_json().encode()
        )  # last: the review reads it

    def _page(self, groups: Sequence[Group], photos: Sequence[PhotoReport]) -> str:
        return self._template.render(
            title=self._title, photos=photos, sorts=by_todo(groups), groups=groups, without=without_disc(photos)
        )


def by_todo(groups: Sequence[Group]) -> dict[Action, list[Group]]:
    """The discs by what to do with them; what there is none of is left out."""
    sorts = {action: [group for group in groups if group.action == action] for action in stack_words.TODO}
    return {action: those for action, those in sorts.items() if those}


def without_disc(photos: Sequence[PhotoReport]) -> list[tuple[int, PhotoReport]]:
    """Photos that could not be read or show no disc, with their numbers."""
    return [(number, photo) for number, photo in enumerate(photos, start=1) if not photo.discs]


def _rows(groups: Sequence[Group], photos: Sequence[PhotoReport]) -> list[tuple[str, ...]]:
    rows = [stack_words.table_row(group.judged, group.number, group.spot.report, spot_words(group)) for group in groups]
    return rows + [stack_words.table_row(None, None, photo, "") for _, photo in without_disc(photos)]


def _marks(group: Group) -> str:
    return f"pictures/{group.picture('marks')}"


def _thumb(group: Group) -> str:
    return f"pictures/{group.picture('thumb')}"


def spot_words(group: Group) -> str:
    spot = group.spot
    return stack_words.where(photo=spot.photo, row=spot.row, place=spot.place, of=spot.of)
