"""What follows from the constants, against standards and worked figures in tests/reference."""

from __future__ import annotations

import tomllib
from bisect import bisect_left
from math import asin, degrees, pi, radians, sin
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from discscan.formats import FORMATS, data_area_mm

REFERENCE = Path(__file__).parents[1] / "reference"


def rows(file: str, table: str) -> list[dict[str, Any]]:
    return list(tomllib.loads((REFERENCE / file).read_text())[table])


def name_of(row: dict[str, Any]) -> str:
    return str(row["format"])


@pytest.mark.parametrize("row", rows("optics.toml", "beam_um"), ids=name_of)
def test_the_beam_on_the_surface_is_as_wide_as_published(row: dict[str, Any]) -> None:
    disc = FORMATS[row["format"]]
    assert disc.beam_at_mm(refractive_index=row["refractive_index"]) * 1000 == pytest.approx(
        row["value"], abs=row["within"]
    )


def test_the_spot_of_a_bd_has_a_fifth_of_a_dvds_area() -> None:
    """BDA white paper 1.C, figure 2-2: 19 %."""
    assert (FORMATS["bd"].spot_um / FORMATS["dvd"].spot_um) ** 2 == pytest.approx(0.19, abs=0.005)


@pytest.mark.parametrize("tilt_deg", [0, 10, 30, 50])
@pytest.mark.parametrize("name", ["cd", "dvd", "bd"])
def test_a_marks_image_in_the_mirror_lies_where_light_takes_the_shortest_way(name: str, tilt_deg: float) -> None:
    """Fermat's principle: from the mark down to the mirror, up to the surface and on to a camera far away."""
    disc, sine = FORMATS[name], sin(radians(tilt_deg))  # type: ignore[index]
    across = np.linspace(0, 3, 300_001)
    layer, index = disc.fact("layer_mm"), disc.fact("refractive_index")
    way = 2 * index * np.hypot(across / 2, layer) - across * sine
    assert disc.image_shift_mm(sine) == pytest.approx(across[way.argmin()], abs=0.001)


@pytest.mark.parametrize("row", rows("optics.toml", "first_order_deg"), ids=name_of)
def test_the_first_rainbow_stands_where_the_grating_equation_puts_it(row: dict[str, Any]) -> None:
    for wavelength, angle in zip(row["wavelength_nm"], row["angle_deg"], strict=True):
        assert FORMATS[row["format"]].first_order_deg(wavelength_nm=wavelength) == pytest.approx(angle, abs=0.01)


def test_a_bd_shows_no_colour_at_normal_incidence_but_blue_at_a_grazing_one() -> None:
    """sin i + sin r must reach 1.406 for 450 nm, and cannot reach 2.031 for 650 nm (grating equation)."""
    bd = FORMATS["bd"]
    assert bd.first_order_deg(wavelength_nm=450) is None
    assert bd.first_order_deg(wavelength_nm=450, incidence_deg=degrees(asin(0.41))) is not None
    assert bd.first_order_deg(wavelength_nm=650, incidence_deg=89.9) is None


@pytest.mark.parametrize("row", rows("codes.toml", "burst"), ids=lambda row: f"{row['format']}-{row['flagged']}")
@pytest.mark.parametrize("alignment", ["worst", "best"])
def test_the_longest_burst_counted_from_the_code_is_the_simulated_one(row: dict[str, Any], alignment: Any) -> None:
    disc = FORMATS[row["format"]]
    assert disc.longest_burst_bytes(alignment=alignment, flagged=row["flagged"]) == row["bytes"][alignment]
    assert disc.longest_burst_mm(alignment=alignment, flagged=row["flagged"]) == pytest.approx(
        row["mm"][alignment], abs=0.006
    )


def lost_c1_words(start: int, length: int) -> list[bool]:
    """Which C1 words a burst in transmitted bytes takes (ECMA-130 annex C, as quoted: even bytes wait one frame)."""
    bad = [0] * 64
    for byte in range(start, start + length):
        frame, place = divmod(byte, 32)
        bad[frame - 1 if place % 2 == 0 else frame] += 1  # index -1 is the word before the first
    return [count > 2 for count in bad]


def is_mended(words: list[bool]) -> bool:
    """C2 bears 4 erasures; its 28 bytes come from C1 words 4 apart."""
    return all(sum(words[residue::4]) <= 4 for residue in range(4))


def test_sixteen_lost_frames_are_mended_and_seventeen_are_not() -> None:
    assert is_mended([True] * 16 + [False] * 48)
    assert not is_mended([True] * 17 + [False] * 47)


def test_the_bursts_of_a_cd_hold_for_every_start_of_the_burst() -> None:
    """A plain count of flags for each of the 32 starts, against the formula of the package."""
    longest = [max(n for n in range(400, 600) if is_mended(lost_c1_words(start, n))) for start in range(32)]
    cd = FORMATS["cd"]
    assert min(longest) == cd.longest_burst_bytes(alignment="worst")
    assert max(longest) == cd.longest_burst_bytes(alignment="best")


def test_the_bursts_of_a_dvd_hold_for_every_start_of_the_burst() -> None:
    """ECMA-267, 3rd edition, 18: a row of 182 bytes is lost above 5 bad ones, and 16 lost rows are mended."""

    def rows_lost(start: int, length: int) -> int:
        last = start + length
        return sum(min(last, 182 * (row + 1)) - max(start, 182 * row) > 5 for row in range(20))

    longest = [max(n for n in range(2600, 3000) if rows_lost(start, n) <= 16) for start in range(182)]
    dvd = FORMATS["dvd"]
    assert min(longest) == dvd.longest_burst_bytes(alignment="worst")
    assert max(longest) == dvd.longest_burst_bytes(alignment="best")


def test_the_bursts_of_a_bd_hold_for_every_start_of_the_burst() -> None:
    """BDA white paper for BD-R, 5th edition, 4.2: rows of 4 x 38 bytes between 3 pickets, two words in each column.

    The shift of 3 columns per pair of rows is from memory. 32 bad bytes of a word are mended.
    """
    pickets = (38, 77, 116)
    places: dict[tuple[int, int], list[int]] = {}
    for row in range(80):
        columns = [column for column in range(155) if column not in pickets]
        for index, column in enumerate(columns):
            places.setdefault(((index + 3 * (row // 2)) % 152, row % 2), []).append(155 * row + column)

    def longest(start: int) -> int:
        return min(word[bisect_left(word, start) + 32] for word in places.values()) - start

    bursts = [longest(start) for start in range(310)]
    bd = FORMATS["bd"]
    assert min(bursts) == bd.longest_burst_bytes(alignment="worst")
    assert max(bursts) == bd.longest_burst_bytes(alignment="best")


def area_cm2(format_name: Any, diameter_mm: int) -> float:
    inner, outer = data_area_mm(format_name, diameter_mm)
    return pi * (outer**2 - inner**2) / 100


def track_m(format_name: Any, diameter_mm: int) -> float:
    return area_cm2(format_name, diameter_mm) * 100 / FORMATS[format_name].track_pitch_um


@pytest.mark.parametrize("row", rows("discs.toml", "data_area_cm2"), ids=name_of)
def test_the_data_area(row: dict[str, Any]) -> None:
    assert area_cm2(row["format"], row["diameter_mm"]) == pytest.approx(row["value"], abs=row["within"])


@pytest.mark.parametrize("row", rows("discs.toml", "track_km"), ids=name_of)
def test_the_length_of_the_track(row: dict[str, Any]) -> None:
    assert track_m(row["format"], row["diameter_mm"]) / 1000 == pytest.approx(row["value"], abs=row["within"])


@pytest.mark.parametrize(
    "row", rows("discs.toml", "capacity_gb"), ids=lambda row: f"{row['format']}-{row['diameter_mm']}"
)
def test_the_capacity_comes_out_of_pitch_bit_length_and_block(row: dict[str, Any]) -> None:
    disc = FORMATS[row["format"]]
    if disc.name == "dvd":
        bits, user = disc.fact("sector_bits"), disc.fact("user_bytes_per_sector")
    else:
        bits = (disc.fact("block_rows") + disc.fact("link_rows")) * disc.fact("row_bits")
        user = disc.fact("user_bytes_per_block")
    capacity = track_m(disc.name, row["diameter_mm"]) * 1e9 / (bits * disc.channel_bit_nm) * user / 1e9
    assert capacity == pytest.approx(row["value"], rel=row["within"])


@pytest.mark.parametrize("row", rows("discs.toml", "minutes"), ids=lambda row: str(row["diameter_mm"]))
def test_the_playing_time_of_a_cd(row: dict[str, Any]) -> None:
    minutes = track_m("cd", row["diameter_mm"]) / FORMATS["cd"].fact("scanning_velocity_m_s") / 60
    assert minutes == pytest.approx(row["value"], abs=row["within"])


@pytest.mark.parametrize("row", rows("discs.toml", "rpm"), ids=name_of)
def test_the_turning_speed(row: dict[str, Any]) -> None:
    velocity = FORMATS[row["format"]].fact("scanning_velocity_m_s")
    for radius, rpm in zip(row["radius_mm"], row["value"], strict=True):
        assert 60 * velocity * 1000 / (2 * pi * radius) == pytest.approx(rpm, abs=1)


@pytest.mark.parametrize("row", rows("discs.toml", "aberration"), ids=name_of)
def test_what_polishing_may_take_off(row: dict[str, Any]) -> None:
    disc = FORMATS[row["format"]]
    assert disc.aberration_waves_per_um * 1000 == pytest.approx(row["milliwaves_per_um"], rel=0.003)
    assert disc.blurring_removal_um == pytest.approx(row["blurring_um"], rel=0.005)
    assert disc.polish_limit_um == pytest.approx(row["removable_um"], abs=0.1)
    assert disc.polish_limit_um < disc.blurring_removal_um


def test_the_published_layer_tolerances_all_mean_one_aberration() -> None:
    """BDA white paper 1.A (BD-RE), table 1.1: DVD +-30 um and BD +-3.0 um; both are 0.030 wavelengths rms."""
    for name in ("dvd", "bd"):
        disc = FORMATS[name]  # type: ignore[index]
        assert disc.aberration_waves_per_um * disc.polish_limit_um == pytest.approx(0.030, abs=0.001)


def test_bits_per_second_of_a_cd_come_out_of_its_frames() -> None:
    """IEC 60908, as quoted in public decoder sources: 588 x 98 x 75 = 4 321 800."""
    cd = FORMATS["cd"]
    rate = cd.fact("frame_bits") * cd.fact("frames_per_sector") * cd.fact("sectors_per_second")
    assert rate == 4_321_800 == round(cd.fact("channel_bit_rate_mbit_s") * 1e6)


@pytest.mark.parametrize(
    ("speed", "bit"),
    [("scanning_velocity_m_s", "channel_bit_nm"), ("dual_scanning_velocity_m_s", "dual_channel_bit_nm")],
)
def test_the_bit_of_a_dvd_is_its_speed_over_its_rate(speed: str, bit: str) -> None:
    """ECMA-267, 3rd edition, 9.2 and 10.6.4: within the stated tolerance."""
    dvd = FORMATS["dvd"]
    assert 1000 * dvd.fact(speed) / dvd.fact("channel_bit_rate_mbit_s") == pytest.approx(dvd.fact(bit), abs=1.4)


def test_the_user_rate_of_a_bd_comes_out_of_its_block() -> None:
    """BDA white paper 1.C, 13: 35.965 Mbit/s. It confirms the remembered row of 1932 bits."""
    bd = FORMATS["bd"]
    block_bits = (bd.fact("block_rows") + bd.fact("link_rows")) * bd.fact("row_bits")
    rate = bd.fact("channel_bit_rate_mbit_s") / block_bits * bd.fact("user_bytes_per_block") * 8
    assert rate == pytest.approx(35.965, abs=0.001)


def test_an_unknown_format_takes_the_widest_data_area() -> None:
    assert data_area_mm("unknown", 120) == (24.0, 58.0)
    assert data_area_mm("unknown", 80) == (24.0, 38.0)


@pytest.mark.parametrize("name", FORMATS)
@pytest.mark.parametrize("diameter", ["diameter_mm", "small_diameter_mm"])
def test_hole_clamp_lead_in_data_and_rim_lie_in_order(name: Any, diameter: str) -> None:
    disc = FORMATS[name]
    inner, outer = disc.data_area_mm(round(disc.fact(diameter)))
    clamp = (disc.fact("clamp_inner_radius_mm"), disc.fact("clamp_outer_radius_mm"))
    order = [disc.fact("hole_mm") / 2, *clamp, disc.lead_in_radius_mm, inner, outer, disc.fact(diameter) / 2]
    assert order == sorted(order)


@given(index=st.floats(1.4, 1.7), more=st.floats(0.001, 0.1))
def test_a_denser_layer_narrows_the_beam(index: float, more: float) -> None:
    for disc in FORMATS.values():
        assert disc.beam_at_mm(refractive_index=index + more) < disc.beam_at_mm(refractive_index=index)
