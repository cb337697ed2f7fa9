"""Every sentence about a result, for somebody who holds a disc at a stall. Nowhere else does the package phrase one."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from discscan.records import Action, FormatGuess, Kind, Side, Sight
from discscan.report.money_words import ACT
from discscan.report.reasons import CAUTIONS, FORMAT, chance, tenths
from discscan.report.schema import DiscReport, PhotoReport, ReasonReport, Report

VERDICT: dict[Action, str] = {"play": "Play", "resurface": "Resurface", "pass": "Pass up", "retake": "Retake"}
MEANING: dict[Action, str] = {
    "play": "Plays as it is.",
    "resurface": "Have it polished first.",
    "pass": "Leave it.",
    "retake": "Take another photo.",
}
OTHER_SIDE = "Photograph the data side."
ASKS = {"format-decides": "Say which format it is.", "label-wound": "Hold it against a lamp first, never the sun."}
"""What is asked for, where the rule that decided asks for more than its action says."""

KIND: dict[Kind, tuple[str, str]] = {
    "scratch": ("scratch", "scratches"),
    "ring_arc": ("ring scratch", "ring scratches"),
    "crack": ("crack", "cracks"),
    "delamination": ("spot of failing mirror", "spots of failing mirror"),
    "label_damage": ("damaged spot of label or mirror", "damaged spots of label or mirror"),
    "smudge": ("smudge", "smudges"),
    "dust": ("speck of dust", "specks of dust"),
}
UNSEEN: dict[Sight, str] = {
    Sight.GLARE: "glare: not seen",
    Sight.COVERED: "covered: not seen",
    Sight.DARK: "too dark: not seen",
    Sight.BLURRED: "blurred: not seen",
    Sight.OUTSIDE_PHOTO: "outside the photo",
}
SIDE: dict[Side, str] = {"data": "data side", "label": "label side", "unknown": "side unclear"}

NO_DISC = "No disc found."
NO_DISC_REMEDY = "Lay one disc flat on plain ground, data side up, whole in the picture, and come close."
NO_DAMAGE = "No damage seen."
SCALE = "10 mm"
BY_RADIUS = "Where it may fail to read"
BY_RADIUS_ACROSS = "mm from the centre"
PERHAPS = "perhaps"


def count_of(kind: Kind, count: int) -> str:
    """ "3 scratches"."""
    return f"{count} {KIND[kind][count != 1]}"


def data_area(inner_mm: float, outer_mm: float) -> str:
    return f"data area, {inner_mm:g} to {outer_mm:g} mm from the centre"


def what_it_is(diameter_mm: int, format_name: FormatGuess, side: Side) -> str:
    """ "120 mm DVD, data side"."""
    return f"{diameter_mm} mm {FORMAT[format_name]}, {SIDE[side]}"


# -- chances ----------------------------------------------------------------------------------------------------------


def chance_range(low: float, high: float) -> str:
    """The interval in the same words; "" where both ends would be the same words."""
    if chance(low) == chance(high):
        return ""
    first = "less than 1 in 20" if low < 0.05 else f"{tenths(low)} in 10"
    last = "more than 19 in 20" if high > 0.95 else f"{tenths(high)} in 10"
    return f"likely from {first} to {last}"


@dataclass(frozen=True)
class Odds:
    """A chance to show, and what it is the chance of."""

    of: str
    probability: float
    low: float
    high: float

    @property
    def halves(self) -> int:
        """How many of twenty half discs are filled in its picture: as coarse as the words."""
        if not 0.05 <= self.probability <= 0.95:
            return 19 if self.probability > 0.5 else 1
        return 2 * tenths(self.probability)


def odds(disc: DiscReport) -> list[Odds]:
    """The chances that matter for the verdict; none where no answer is given or the disc must not be spun."""
    if disc.verdict.action == "retake" or is_cracked(disc):
        return []
    shown = []
    if disc.playback is not None:
        one = disc.playback
        shown.append(Odds("all of it plays as it is", one.probability, one.low, one.high))
    if disc.verdict.action == "resurface" and disc.resurfacing is not None:
        two = disc.resurfacing
        shown.insert(0, Odds("all of it plays after a polish", two.probability, two.low, two.high))
    return shown


def is_cracked(disc: DiscReport) -> bool:
    """Whether the caution not to spin it is among the cautions."""
    return CAUTIONS["do-not-spin"] in disc.verdict.cautions


def by_radius_line(disc: DiscReport) -> str:
    """Where tracks are expected not to read, and how much of them at the worst; "" where all of them read."""
    if disc.playback is None:
        return ""
    failing = [band for band in disc.playback.unreadable_by_radius if band.unreadable_fraction > 0]
    if not failing:
        return ""
    inner, outer = failing[0].radius_min_mm, failing[-1].radius_max_mm
    worst = max(failing, key=lambda band: band.unreadable_fraction)
    return (
        f"Tracks that may not read lie {inner:.0f} to {outer:.0f} mm from the centre; most at "
        f"{worst.radius_min_mm:.0f} to {worst.radius_max_mm:.0f} mm: "
        f"{_per_cent(worst.unreadable_fraction)} of what lies there."
    )


# -- verdicts ---------------------------------------------------------------------------------------------------------


def meaning(disc: DiscReport) -> str:
    """What the verdict asks for, in short."""
    if disc.side == "label" and disc.verdict.action == "retake":
        return OTHER_SIDE
    asked = [ASKS[reason.rule] for reason in disc.verdict.reasons[:1] if reason.rule in ASKS]
    return asked[0] if asked else MEANING[disc.verdict.action]


def deciding_reason(disc: DiscReport) -> str:
    return disc.verdict.reasons[0].text if disc.verdict.reasons else MEANING[disc.verdict.action]


def verdict_line(disc: DiscReport) -> str:
    """One line: the verdict, its chance, the reason that decided."""
    action = disc.verdict.action
    parts = [f"{VERDICT[action].upper()}: {deciding_reason(disc)}"]
    for one in odds(disc)[:1]:
        between = chance_range(one.low, one.high)
        parts.append(f"Chance that {one.of}: {chance(one.probability)}{f' ({between})' if between else ''}.")
    return " ".join(parts)


def further_reasons(disc: DiscReport) -> list[str]:
    """What else asks for the same action; rules that were overruled stay in the document."""
    action = disc.verdict.action
    return [reason.text for reason in disc.verdict.reasons[1:] if reason.action == action]


def explained(reason: ReasonReport) -> str:
    """A rule that spoke, all told: "dead (pass up), saw 0.08, limit 0.5: The chance that it plays is ..." """
    said = [("saw", reason.value), ("limit", reason.limit)]
    numbers = "".join(f", {word} {value}" for word, value in said if value is not None)
    return f"{reason.rule} ({VERDICT[reason.action].lower()}){numbers}: {reason.text}"


def polish_line(disc: DiscReport) -> str:
    """What a polish would do, where that is a question; else ""."""
    asked = disc.verdict.action in ("resurface", "pass") and disc.resurfacing is not None
    return disc.resurfacing.why if asked and disc.resurfacing else ""


def disc_line(disc: DiscReport) -> str:
    """What it is, as a heading: "120 mm DVD (guessed), data side, pressed"."""
    guessed = disc.format != "unknown" and disc.format_source == "guessed"
    named = f"{disc.diameter_mm} mm {FORMAT[disc.format]}{' (guessed)' if guessed else ''}, {SIDE[disc.side]}"
    return named if disc.recording == "unknown" else f"{named}, {disc.recording}"


def seen_line(disc: DiscReport) -> str:
    """How much of the data area could be judged, or of the print over it."""
    area = "print over the data" if disc.side == "label" else "data area"
    return f"{share(disc.measured_fraction)} of the {area} was seen well enough to judge."


def worst_format_line(disc: DiscReport) -> str:
    """For which format the forecast was made, where that is not plain; else ""."""
    if disc.playback is None or disc.format != "unknown":
        return ""
    return f"Judged as a {FORMAT[disc.playback.format]}, the worst of what it may be."


def learned_line(disc: DiscReport) -> str:
    """What the user's own ledger has done to the chance; else ""."""
    if disc.playback is None or disc.playback.before_learning is None:
        return ""
    before = chance(disc.playback.before_learning.probability)
    return f"The chance is recalibrated by your own ledger; the forecast without it: {before}."


def worth_line(disc: DiscReport) -> str:
    """What to do with a disc that was scanned with a price, and the most to pay for it; else ""."""
    if disc.worth is None:
        return ""
    most = disc.worth["most_to_pay"]
    return f"Worth: {ACT[disc.worth['best']]}, expected gain {disc.worth['acts'][0]['gain']}; the most to pay: {most}."


def next_photo_line(disc: DiscReport) -> str:
    """Whether another photo is worth taking, and how; else ""."""
    return "" if disc.next_photo is None else disc.next_photo.text


def summary(report: Report) -> str:
    """One line over all photographs: "3 discs in 2 photos: 2 play, 1 pass up."; and what gave no answer."""
    counts = Counter(disc.verdict.action for photo in report.photos for disc in photo.discs)
    verdicts = ", ".join(f"{counts[action]} {VERDICT[action].lower()}" for action in VERDICT if counts[action])
    line = headline(report.photos)
    return " ".join([f"{line}: {verdicts}." if verdicts else f"{line}.", *missing(report.photos)])


def headline(photos: Sequence[PhotoReport]) -> str:
    """ "3 discs in 2 photos"."""
    return f"{_counted(sum(len(photo.discs) for photo in photos), 'disc')} in {_counted(len(photos), 'photo')}"


def missing(photos: Sequence[PhotoReport]) -> list[str]:
    """Sentences on the photos that gave no disc, and on those that could not be read."""
    empty = sum(photo.error is None and not photo.discs for photo in photos)
    unread = sum(photo.error is not None for photo in photos)
    sentences = [f"No disc found in {_counted(empty, 'photo')}."] if empty else []
    return sentences + ([f"{_counted(unread, 'photo')} could not be read."] if unread else [])


def sure(confidence: float) -> str:
    return "sure" if confidence >= 0.9 else "likely" if confidence >= 0.6 else PERHAPS


# -- numbers ----------------------------------------------------------------------------------------------------------


def _counted(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"


def share(fraction: float) -> str:
    if fraction >= 0.995:
        return "All"
    if fraction < 0.01:
        return "Next to nothing"
    return f"About {round(100 * fraction)} %"


def _per_cent(fraction: float) -> str:
    return f"about {round(100 * fraction)} %" if fraction >= 0.01 else "less than 1 %"


def few_digits(value: float) -> str:
    return f"{value:.0f}" if value >= 10 else f"{value:.1f}"


# -- the page ---------------------------------------------------------------------------------------------------------

CANNOT_SEE = (
    "How deep a scratch is, and how fine: it is taken to be as such scratches usually are, and no wider than it looks.",
    "How often it was polished before, and so how much of its plastic a polish may still take: say it, if you know.",
    "Pinholes and fading under the mirror, and a recordable disc whose dye has faded: they may look sound.",
    "The other side of the disc. On a CD, look at the label too: the data lies right under it.",
    "What your player can do: players differ, and the chances here are for a usual one in good order.",
    "Whether the right disc is in the case, or anything at all is on it.",
)
SEALED = "A chance is an estimate from a photo. Play a disc, unless it is cracked, before you rely on it."


def marks_alt(photo: PhotoReport) -> str:
    """What the marked photograph shows, for those who cannot see it."""
    if not photo.discs:
        return f"The photo {photo.file}. {NO_DISC}"
    discs = [f"disc {n}: {VERDICT[disc.verdict.action]}" for n, disc in enumerate(photo.discs, start=1)]
    return f"The photo {photo.file} with its discs outlined and damage marked. {'; '.join(discs)}."


def top_alt(disc: DiscReport) -> str:
    """What the top view shows, for those who cannot see it."""
    counts = Counter(one.kind for one in disc.defects)
    named = ", ".join(count_of(kind, counts[kind]) for kind in KIND if counts[kind])
    return f"The disc from straight above with rings every 10 mm. {f'Marked: {named}.' if named else NO_DAMAGE}"
