"""What lamps are made of and where a track sends it, against spectral tables and the grating equation.

Tried only where torch happens to be.
"""

from __future__ import annotations

import importlib.util
from typing import get_args

import numpy as np
import pytest

if importlib.util.find_spec("torch"):
    from models.training.render.geometry import PITCH_NM
    from models.training.render.grating import TABLE, emitted, grating_table, lit
    from models.training.render.room import Source

    MERCURY_NM = (435.83, 546.07)
    """Its strong lines in the blue and the green: NIST Atomic Spectra Database, air."""
    STEPS_NM = np.arange(380.0, 781.0)

    @pytest.mark.parametrize(("line_nm", "channel"), list(zip(MERCURY_NM, (2, 1), strict=True)))
    def test_a_tube_sends_mercurys_lines_where_the_grating_equation_has_them(line_nm: float, channel: int) -> None:
        """d q = m lambda with a CD's pitch and m = 1, to two steps of the table."""
        colours = grating_table(PITCH_NM["cd"], 0.0, (1.0,), source="tube")
        q = line_nm / PITCH_NM["cd"]
        near = np.abs(np.linspace(0, 2, TABLE) - q) < 0.03
        strongest = np.linspace(0, 2, TABLE)[near][colours[channel, near].argmax()]
        assert strongest == pytest.approx(q, abs=2 * 2 / TABLE)

    @pytest.mark.parametrize("source", get_args(Source))
    def test_all_lamps_are_as_white_on_the_whole(source: Source) -> None:
        assert lit(source, STEPS_NM).sum(1) == pytest.approx(lit("daylight", STEPS_NM).sum(1))

    def test_a_bulb_shines_as_a_black_body() -> None:
        """Planck's law at 2800 K with h, c and k of the SI (2019): the power at 700 nm over that at 450 nm."""
        h, c, k = 6.62607015e-34, 299792458.0, 1.380649e-23

        def planck(length_m: float) -> float:
            return float(length_m**-5 / np.expm1(h * c / (length_m * k * 2800)))

        red, blue = emitted("bulb", np.array([700.0, 450.0]))
        assert red / blue == pytest.approx(planck(700e-9) / planck(450e-9), rel=1e-3)
