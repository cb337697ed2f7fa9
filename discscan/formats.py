"""The disc formats, and what follows from their constants. Nothing here is typed that can be computed.

References:
    [1] Beam at the entry surface: geometry and Snell's law; the formula is printed in US patent 7,484,400.
    [2] Spherical aberration of a layer that is too thin: path difference between the ray in the layer and in air, best
        refocus taken out. Exact in the aperture; the usual NA^4 term is too kind (by half and more for BD).
    [3] Bursts: counted from the codes and their interleave, derivation beside each function. Tests of `playback` hold
        them against the decoders themselves; published round figures lie at or between the two.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import asin, ceil, degrees, pi, sin, tan
from typing import Literal

import numpy as np

from discscan.calibration import constant
from discscan.records import FormatGuess, FormatName

Alignment = Literal["worst", "best"]


@dataclass(frozen=True)
class DiscFormat:
    """One format, read from its calibration file. Lengths along the track are for the slowest allowed speed."""

    name: FormatName

    def fact(self, name: str) -> float:
        """The nominal value of a constant of this format."""
        return constant(self.name, name).value

    @property
    def track_pitch_um(self) -> float:
        return self.fact("track_pitch_um")

    @property
    def lead_in_radius_mm(self) -> float:
        """Where the lead-in starts: inside it there is nothing to read."""
        return self.fact("lead_in_radius_mm")

    def data_area_mm(self, diameter_mm: int) -> tuple[float, float]:
        """Inner and outer radius of the data area of a disc of 120 or 80 mm."""
        outer = "data_outer_radius_mm" if diameter_mm == 120 else "small_data_outer_radius_mm"
        return self.fact("data_inner_radius_mm"), self.fact(outer)

    @cached_property
    def beam_mm(self) -> float:
        """Diameter of the beam where it enters the clear layer, D = 2 t tan(asin(NA / n)) [1]."""
        return self.beam_at_mm(refractive_index=self.fact("refractive_index"))

    def beam_at_mm(self, *, refractive_index: float) -> float:
        """The same for a layer of another refractive index [1]."""
        return 2 * self.fact("layer_mm") * tan(asin(self.fact("numerical_aperture") / refractive_index))

    def image_shift_mm(self, tilt_sine: float) -> float:
        """How much nearer to the camera a mark's image in the mirror lies than the mark, as seen on the surface.

        The mirror lies one clear layer below the mark and its image two: 2 t tan(asin(sin(tilt) / n)), by Snell's law.
        """
        return 2 * self.fact("layer_mm") * tan(asin(tilt_sine / self.fact("refractive_index")))

    @property
    def spot_um(self) -> float:
        """Full width at half maximum of the spot on the track, 0.515 lambda / NA (Born & Wolf, from memory)."""
        return 0.515 * self.fact("wavelength_nm") / self.fact("numerical_aperture") / 1000

    @cached_property
    def channel_bit_nm(self) -> float:
        """Length of a channel bit on the track; for a CD, speed / bit rate."""
        if self.name == "cd":
            return 1000 * self.fact("scanning_velocity_m_s") / self.fact("channel_bit_rate_mbit_s")
        return self.fact("channel_bit_nm")

    @property
    def mm_per_byte(self) -> float:
        """Track length that one byte takes, parity counted, sync and modulation shared out evenly."""
        if self.name == "cd":
            return self.fact("frame_bits") / self.fact("frame_symbols") * self.channel_bit_nm * 1e-6
        return self.fact("row_bits") / self.fact("row_bytes") * self.channel_bit_nm * 1e-6

    def longest_burst_bytes(self, *, alignment: Alignment, flagged: bool = True) -> int:
        """Longest single burst that is mended, in bytes [3].

        Args:
            alignment: "worst" holds for any start of the burst, "best" for the luckiest.
            flagged: whether the decoder uses erasures; without flags it mends half as many.
        """
        count = {"cd": _cd_burst, "dvd": _dvd_burst, "bd": _bd_burst}[self.name]
        return count(self, alignment, 1 if flagged else 2)

    def longest_burst_mm(self, *, alignment: Alignment, flagged: bool = True) -> float:
        """`longest_burst_bytes` along the track."""
        return self.longest_burst_bytes(alignment=alignment, flagged=flagged) * self.mm_per_byte

    @property
    def guaranteed_burst_mm(self) -> float:
        """Longest burst mended at any alignment, by a drive that uses erasures."""
        return self.longest_burst_mm(alignment="worst")

    @property
    def best_burst_mm(self) -> float:
        """Longest burst mended at the best alignment, by a drive that uses erasures."""
        return self.longest_burst_mm(alignment="best")

    def first_order_deg(self, *, wavelength_nm: float, incidence_deg: float = 0.0) -> float | None:
        """Angle of the first diffraction order in air, in the plane that holds the radius; None where there is none.

        d (sin i + sin r) = lambda; the plane-parallel clear layer drops out.
        """
        sine = wavelength_nm / (1000 * self.track_pitch_um) - sin(incidence_deg * pi / 180)
        return degrees(asin(sine)) if abs(sine) <= 1 else None

    @cached_property
    def aberration_waves_per_um(self) -> float:
        """Wavefront error, rms in wavelengths, for each um that the clear layer is too thin, after best refocus [2]."""
        aperture, index = self.fact("numerical_aperture"), self.fact("refractive_index")
        nodes, weights = np.polynomial.legendre.leggauss(64)
        u, weights = (nodes + 1) / 2, weights / 2  # u = (pupil radius)^2 is uniform over the pupil
        in_layer, in_air = np.sqrt(index**2 - aperture**2 * u), np.sqrt(1 - aperture**2 * u)
        modes = np.stack([np.ones_like(u), in_air], axis=1)
        root = np.sqrt(weights)
        fit, *_ = np.linalg.lstsq(modes * root[:, None], (in_layer - in_air) * root, rcond=None)
        error = in_layer - in_air - modes @ fit
        return float(np.sqrt(weights @ error**2)) * 1000 / self.fact("wavelength_nm")

    @property
    def blurring_removal_um(self) -> float:
        """Loss of clear layer at which the spot is no longer sharp: rms lambda / 14 (Marechal; Born & Wolf, memory)."""
        return 1 / 14 / self.aberration_waves_per_um

    @cached_property
    def polish_limit_um(self) -> float:
        """What polishing may take off a disc of nominal thickness, all passes added, before it leaves its standard."""
        layer = constant(self.name, "layer_mm")
        assert layer.low is not None, "every format states how thin its layer may be"
        return (layer.value - layer.low) * 1000


def _cd_burst(disc: DiscFormat, alignment: Alignment, errors_per_flag: int) -> int:
    """A C1 word lies in two neighbouring frames, every other byte in each, and is lost above `c1` bad bytes.

    C2 takes bytes from C1 words 4 frames apart, so E erasures bear 4 E lost words in a row. The worst burst ends the
    run of 4 E + 1 words with just c1 + 1 bytes in the first and last; the best leaves c1 in the words beside 4 E.
    """
    frame, c1 = int(disc.fact("frame_symbols")), int(disc.fact("c1_corrects_symbols"))
    words = int(disc.fact("interleave_frames") * disc.fact("c2_corrects_erasures")) // errors_per_flag
    if alignment == "worst":
        return (words - 2) * frame + 2 * (2 * (c1 + 1)) - 1
    return (words - 1) * frame + 2 * (2 * (c1 + 1) - 1)


def _dvd_burst(disc: DiscFormat, alignment: Alignment, errors_per_flag: int) -> int:
    """A row is lost above `pi` bad bytes; PO bears E lost rows. Worst: pi + 1 bytes in both end rows of E + 1."""
    row, pi_bytes = int(disc.fact("row_bytes")), int(disc.fact("pi_corrects_bytes"))
    rows = int(disc.fact("po_corrects_erasures")) // errors_per_flag
    if alignment == "worst":
        return (rows - 1) * row + 2 * (pi_bytes + 1) - 1
    return rows * row + 2 * pi_bytes


def _bd_burst(disc: DiscFormat, alignment: Alignment, errors_per_flag: int) -> int:
    """A word has one byte in every second row; E erasures bear 2 E rows. Rows are shifted in pairs, which lets a burst
    meet the same word again sooner: 3 bytes for each pair, and the picket columns that this shift steps over.
    """
    symbols = int(disc.fact("ldc_corrects_erasures")) // errors_per_flag
    whole = symbols * int(disc.fact("rows_per_word_symbol")) * int(disc.fact("row_bytes"))
    if alignment == "best":
        return whole
    shift = symbols * int(disc.fact("shift_per_row_pair_bytes"))
    return whole - shift - ceil(shift / disc.fact("picket_spacing_bytes"))


FORMATS: Mapping[FormatName, DiscFormat] = {"cd": DiscFormat("cd"), "dvd": DiscFormat("dvd"), "bd": DiscFormat("bd")}


def data_area_mm(format_name: FormatGuess, diameter_mm: int) -> tuple[float, float]:
    """Inner and outer radius of the data area; of an unknown format, the widest of all."""
    if format_name != "unknown":
        return FORMATS[format_name].data_area_mm(diameter_mm)
    areas = [disc.data_area_mm(diameter_mm) for disc in FORMATS.values()]
    return min(inner for inner, _ in areas), max(outer for _, outer in areas)
