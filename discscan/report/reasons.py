"""The sentences behind the names that the rooms hand on: rules, cautions, what polishing can do.

A template may hold {value_…} and {limit_…}; the ending says how the number is said aloud (`_SAID`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from discscan.doubts import Doubt
from discscan.records import FormatGuess, Polish, Spoken

FORMAT: Mapping[FormatGuess, str] = {"cd": "CD", "dvd": "DVD", "bd": "BD", "unknown": "disc of unknown format"}

IN_SHORT: Mapping[str, str] = {
    "play": "it plays as it is",
    "resurface": "have it polished first",
    "pass": "leave it",
    "retake": "take another photo",
}

REASONS: Mapping[str, str] = {
    "crack": "It is {value_sure} cracked.",
    "delamination": "Over the data its layers have {value_sure} parted or its mirror is gone, and such damage spreads.",
    "label-side-damage": (
        "Its mirror is gone over {value_mm} at a stretch: a lamp shines through. A player mends {limit_mm} at most."
    ),
    "ring-arc": (
        "A scratch runs round the disc through {value_degrees} of its turn. "
        "Such a scratch stops a player, and polishing rarely saves it."
    ),
    "label-wound": (
        "Its label is scratched through or flaked off over {value_mm} of the track at a stretch. On a CD the data lies "
        "right under it: if that is gone, a player mends {limit_mm} at most, and nothing repairs it."
    ),
    "label-side-up": "The printed side is up. What counts is on the other side.",
    "side-unknown": "It is not clear which side is up.",
    "photo-too-poor": "{value_doubts}",
    "little-seen": "Only {value_percent} of the data area could be judged; {limit_percent} is the least.",
    "polish-helps": "It may fail as it is. After a polish, the chance that it plays is {value_chance}.",
    "format-decides": "What to do depends on the format. {value_actions} Find out which it is.",
    "undecided": "It may play or fail: too much of it was not seen to tell.",
    "dead": "The chance that it plays is {value_chance}: more likely than not it fails.",
    "part-unseen": (
        "Nothing seen rules it out, but only {value_percent} of the data area could be judged; "
        "a promise needs {limit_percent}."
    ),
    "play-forbidden": "Nothing seen rules it out, but this photo is no ground for a promise. {value_doubts}",
    "gamble": "A gamble: the chance that it plays is {value_chance}, and a disc worth taking has {limit_chance}.",
    "plays": "Nothing was seen that should keep it from playing.",
    "not-judged": "No forecast could be made from this photo.",
}

CAUTIONS: Mapping[str, str] = {
    "do-not-spin": (
        "A crack is seen or suspected: do not play this disc or spin it in any machine. "
        "It can burst at speed and throw splinters."
    ),
    "polish-cautions": (
        "Polishing uses abrasives and solvents and raises fine dust: follow the maker's instructions and your local "
        "rules, air the room, keep flames away, protect eyes and lungs. Or leave it to a shop."
    ),
    "cleaning": "Wipe it first: a soft clean cloth, from the centre straight to the rim, never in circles.",
    "dust-first": (
        "It is dusty, and dust hides scratches and makes new ones. "
        "Blow it off before you wipe, then take another photo."
    ),
    "test-by-playing": (
        "Look for cracks with your own eyes first, against a lamp, never the sun: thin ones are easily missed here, "
        "and a cracked disc can burst in a drive. "
        "If there is none, play the disc through before you rely on it or sell it."
    ),
}

POLISH_WHYS: Mapping[str, str] = {
    "scratches-within-reach": "The scratches are shallow enough for a polish to level.",
    "ring-arcs-mostly-lost": "What stops it are ring scratches, and about nine in ten of those stay after a polish.",
    "scratches-too-deep": "What stops it are scratches deeper than a polish may safely go.",
    "deeper-than-is-left": "What stops it are scratches deeper than what earlier polishes have left to be taken off.",
    "no-layer-left": "Earlier polishes have taken all of the clear layer that may go: another one would spoil it.",
    "nothing-to-polish": "There is no scratch whose polishing would raise the chance.",
    "crack-never": "A crack cannot be repaired, and polishing would spin and warm the disc.",
    "delamination-never": "Parted layers and a lost mirror cannot be repaired.",
    "label-side-never": "What stops it is damage of the label or the mirror, which no polish reaches.",
    "bd-never": "The clear layer of a BD is far too thin to be polished.",
}


def reason(spoken: Spoken) -> str:
    """The sentence of a rule that spoke, its value and limit said aloud."""
    return REASONS[spoken.rule].format_map(_Said(value=spoken.value, limit=spoken.limit))


def caution(name: str) -> str:
    return CAUTIONS[name]


def polish_why(polish: Polish) -> str:
    """Why a polish helps or not, and what earlier ones have left for it where that matters."""
    why = POLISH_WHYS[polish.why]
    if polish.polished == 0 or polish.why not in ("scratches-within-reach", "deeper-than-is-left"):
        return why
    before = "once" if polish.polished == 1 else f"{polish.polished} times"
    return f"{why} It was polished {before} before: of the clear layer some {polish.may_go_um:.0f} µm may still go."


def chance(probability: float) -> str:
    """A chance as people say it: tenths, and no finer. "about 9 in 10"."""
    if probability > 0.95:
        return "more than 19 in 20"
    if probability < 0.05:
        return "less than 1 in 20"
    return f"about {tenths(probability)} in 10"


def tenths(probability: float) -> int:
    return min(9, max(1, int(10 * probability + 0.5)))


def either(names: list[str]) -> str:
    """ "CD", "CD or DVD", "CD, DVD or BD"."""
    return " or ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _doubts(names: str) -> str:
    return " ".join(Doubt[name.upper()].value.wrong for name in names.split(", "))


def _actions(pairs: str) -> str:
    """ "cd play, dvd play, bd pass" -> "As a CD or DVD: it plays as it is. As a BD: leave it." """
    formats: dict[str, list[str]] = {}
    for pair in pairs.split(", "):
        name, action = pair.split()
        formats.setdefault(action, []).append(next(said for key, said in FORMAT.items() if key == name))
    return " ".join(f"As a {either(names)}: {IN_SHORT[action]}." for action, names in formats.items())


_SAID: Mapping[str, Callable[..., str]] = {
    "chance": chance,
    "percent": lambda share: f"{100 * share:.0f} %",
    "degrees": lambda angle: f"{angle:.0f} degrees",
    "mm": lambda length: f"{length:.1f} mm",
    "sure": lambda confidence: "plainly" if confidence >= 0.9 else "probably",
    "doubts": _doubts,
    "actions": _actions,
}


class _Said(dict[str, float | str | None]):
    """Looks up "value_mm" as the value, said as a length; what falls short of the limit is not said to be as much."""

    def __missing__(self, key: str) -> str:
        name, _, how = key.partition("_")
        said = _SAID[how](self[name])
        value, limit = self["value"], self["limit"]
        short = name == "value" and isinstance(value, float) and isinstance(limit, float) and value < limit
        return f"just under {said.removeprefix('about ')}" if short and said == _SAID[how](limit) else said
