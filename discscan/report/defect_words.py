"""The table of a disc's defects, in words."""

from __future__ import annotations

from collections import Counter
from math import atan2, degrees, radians

from discscan.report.schema import DefectReport, DiscReport
from discscan.report.styles import NUMBERED
from discscan.report.words import KIND, count_of, few_digits, sure

TABLE_HEAD = ("No.", "What", "Size", "Where", "How sure")


def disc_table_rows(disc: DiscReport) -> list[tuple[str, str, str, str, str]]:
    """The most important defects under `TABLE_HEAD`, numbered as in the pictures."""
    return [
        (str(number), *defect_row(one, hour_known=disc.side == "label" or one.kind != "label_damage"))
        for number, one in enumerate(disc.defects[:NUMBERED], start=1)
    ]


def defect_row(defect: DefectReport, *, hour_known: bool = True) -> tuple[str, str, str, str]:
    """One defect under `TABLE_HEAD`, without its number.

    Args:
        hour_known: of what another side or a lamp shows, only the distance from the centre is.
    """
    return _what(defect), _size(defect), _where(defect, hour_known=hour_known), sure(defect.confidence)


def rest_line(disc: DiscReport) -> str:
    """What the table leaves out: "And 14 more: 12 scratches, 2 specks of dust."; "" when nothing."""
    rest = Counter(one.kind for one in disc.defects[NUMBERED:])
    if not rest:
        return ""
    named = ", ".join(count_of(kind, rest[kind]) for kind in KIND if rest[kind])
    return f"And {rest.total()} more: {named}."


def _what(defect: DefectReport) -> str:
    name = KIND[defect.kind][0]
    if defect.see_through:
        return "hole in the mirror"
    if defect.kind == "label_damage":
        return "damaged spot of the label"
    if defect.kind != "scratch":
        return name
    along_mm = radians(defect.arc_deg) * (defect.radius_min_mm + defect.radius_max_mm) / 2
    across_mm = defect.radius_max_mm - defect.radius_min_mm
    if along_mm > 2 * across_mm:
        return f"{name}, round the disc"
    return f"{name}, outwards" if across_mm > 2 * along_mm else f"{name}, at a slant"


def _size(defect: DefectReport) -> str:
    if defect.area_mm2 is not None:
        return f"{few_digits(defect.area_mm2)} mm²"
    if defect.length_mm is None:
        return ""
    long = f"{few_digits(defect.length_mm)} mm long"
    if defect.width_um is None:
        return long
    width_mm = defect.width_um / 1000
    if defect.width_is_bound or width_mm < 0.1:
        return f"{long}, finer than {max(0.1, _ceil_tenth(width_mm)):.1f} mm"
    return f"{long}, {width_mm:.1f} mm wide"


def _where(defect: DefectReport, *, hour_known: bool) -> str:
    inner, outer = round(defect.radius_min_mm), round(defect.radius_max_mm)
    radius = f"{inner} mm" if inner == outer else f"{inner} to {outer} mm"
    return f"{radius} from centre{f', {_clock(defect)}' if hour_known else ''}"


def _clock(defect: DefectReport) -> str:
    """Where on the disc, as on a clock face that lies as the photograph does."""
    if defect.arc_deg > 300:
        return "all the way round"
    angles = [_hours(*defect.outline_mm[0])]
    for x, y in defect.outline_mm[1:]:
        step = (_hours(x, y) - angles[-1] + 6) % 12 - 6
        angles.append(angles[-1] + step)
    first, last = min(angles), max(angles)
    if last - first < 1.5:
        return f"{_hour((first + last) / 2)} o'clock"
    return f"{_hour(first)} to {_hour(last)} o'clock"


def _hours(x_mm: float, y_mm: float) -> float:
    return (degrees(atan2(x_mm, -y_mm)) / 30) % 12


def _hour(hours: float) -> int:
    return (round(hours) - 1) % 12 + 1


def _ceil_tenth(value: float) -> float:
    return -(-round(value * 1000) // 100) / 10
