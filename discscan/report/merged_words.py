"""Words about several photographs of one disc taken as one."""

from __future__ import annotations

from discscan.report.schema import DiscReport


def merged_name(disc: DiscReport) -> str:
    """ "a.jpg and b.jpg taken as one"."""
    names = [one.file for one in disc.merged_from or () if one.joined]
    if len(names) == 1:
        return f"{names[0]}, by itself"
    return f"{', '.join(names[:-1])} and {names[-1]} taken as one"


def merged_lines(disc: DiscReport) -> list[str]:
    """How its photos came together, and which did not."""
    told = []
    for one in disc.merged_from or ():
        name = one.file if one.disc == 1 else f"{one.file}, disc {one.disc}"
        if one.side == "label":
            damage = "its damage is taken in" if one.joined else "no damage of it is taken in"
            told.append(f"{name} shows the label: {damage}.")
        elif not one.joined:
            told.append(f"{name} could not be laid over the others and is judged apart.")
        elif one.turn_deg:
            told.append(f"{name}: the disc lies turned by {one.turn_deg:.0f} degrees clockwise in it.")
    if disc.lamp is not None and disc.lamp.used:
        told.append(f"{disc.lamp.file} shows it against a lamp: {_pinholes(disc.lamp.pinholes)}.")
    return told


def _pinholes(count: int) -> str:
    if count == 0:
        return "no light comes through the mirror"
    return f"light comes through the mirror in {'one place' if count == 1 else f'{count} places'}"


def turned_alike_alt(disc: DiscReport) -> str:
    """What the picture of a merged disc shows, for those who cannot see it."""
    return f"The disc from straight above, turned alike: {merged_name(disc)}. Damage of all of them is marked in each."


def shortened(text: str, most: int) -> str:
    """The text, its middle left out where it is longer than `most` letters."""
    if len(text) <= most:
        return text
    half = (most - 1) // 2
    return f"{text[:half]}…{text[-half:]}"
