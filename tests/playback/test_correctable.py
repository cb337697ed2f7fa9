"""From lost track to whether it reads: against the burst limits, and against real coding and decoding."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from discscan.formats import FORMATS
from discscan.playback import correctable, longest_burst_mm
from discscan.playback.codes import cdrom, circ, ldc, rspc
from discscan.playback.codes.channel import bd_channel, cd_channel, dvd_channel
from discscan.playback.correctable import CODES

REFERENCE = tomllib.loads((Path(__file__).parents[1] / "reference" / "codes.toml").read_text())
STEP_MM = 0.002
by_code = pytest.mark.parametrize("code", CODES)


def burst(begin_mm: float, length_mm: float) -> np.ndarray:
    lost = np.zeros(round((begin_mm + length_mm) / STEP_MM), dtype=bool)
    lost[round(begin_mm / STEP_MM) :] = True
    return lost


# ---------------------------------------------------------------- the channel


def test_a_cd_frame_is_588_bits_of_sync_and_33_symbols() -> None:
    """IEC 60908, as quoted: 24 + 33 x 14 + 34 x 3."""
    channel = cd_channel()
    assert channel.bits == 24 + 33 * 14 + 34 * 3
    assert (channel.begin[0], channel.end[-1]) == (24 + 3 + 14 + 3, 588 - 3)
    assert (channel.end - channel.begin == 14).all()


def test_a_dvd_row_is_two_sync_frames_of_1488_bits() -> None:
    """ECMA-267, 3rd edition, 21: a sync of 32 bits and 91 words of 16."""
    channel = dvd_channel()
    assert channel.bits == 2 * (32 + 91 * 16)
    assert (channel.begin[0], channel.begin[91], channel.end[-1]) == (32, 1488 + 32, 2976)


def test_a_bd_row_is_a_sync_and_28_control_blocks() -> None:
    """From memory, confirmed by the row of 1932 bits: 30 + 1.5 (155 x 8 + 28)."""
    channel = bd_channel()
    assert channel.bits == 30 + 1.5 * (155 * 8 + 28)
    assert (channel.begin[155], channel.end[155], channel.begin[0]) == (0, 30, 30)
    assert (np.diff(channel.begin[:155]) >= 12).all() and channel.end[154] <= 1932


@pytest.mark.parametrize("channel", [cd_channel(), dvd_channel(), bd_channel()], ids=["cd", "dvd", "bd"])
def test_what_lies_in_no_symbol_costs_none_and_a_touched_symbol_is_lost(channel: Any) -> None:
    def lost(begin: float, end: float) -> list[int]:
        runs = np.array([[begin, end]]) * 1e-4
        return [int(x) for x in np.flatnonzero(channel.lost(run_mm=runs, bit_mm=1e-4, first=0, frames=3))]

    symbols = len(channel.begin)
    at = channel.bits + channel.begin[7]
    assert lost(at + 1, at + 2) == [symbols + 7]
    assert lost(at, channel.bits + channel.end[8]) == [symbols + 7, symbols + 8]
    assert lost(at, at) == []


# ---------------------------------------------------------------- bursts


@pytest.mark.parametrize("code", ["cd-da", "dvd", "bd"])
def test_without_flags_half_is_mended(code: Any) -> None:
    """Bursts without erasures: 203 symbols of a CD, 1285 bytes of a DVD, 4910 of a BD (tests/reference)."""
    disc = FORMATS["cd" if code == "cd-da" else code]
    limit = disc.longest_burst_mm(alignment="worst", flagged=False)
    starts = np.linspace(20, 20 + disc.mm_per_byte * 400, 40)
    reads = [
        [correctable(code, burst(at, limit + more), step_mm=STEP_MM, flagged=False) for at in starts]
        for more in (-0.02, 0.08)
    ]
    assert all(reads[0]) and not all(reads[1])


@by_code
def test_nothing_lost_reads_and_everything_lost_does_not(code: Any) -> None:
    assert correctable(code, [], step_mm=0.1)
    assert correctable(code, np.zeros(2000, bool), step_mm=0.1)
    assert not correctable(code, np.ones(2000, bool), step_mm=0.1)


@by_code
def test_the_guaranteed_burst_is_mended_wherever_it_begins(code: Any) -> None:
    """Counted limits are in whole symbols, one of which is at most 0.2 % of them."""
    guaranteed = 0.995 * longest_burst_mm(code, alignment="worst")
    places = np.linspace(30, 30 + (16.1 if code == "cd" else 0.4), 40)
    assert all(correctable(code, burst(begin, guaranteed), step_mm=STEP_MM) for begin in places)


@by_code
def test_a_burst_above_the_best_is_mended_nowhere(code: Any) -> None:
    too_long = 1.01 * longest_burst_mm(code, alignment="best")
    places = np.linspace(20, 20 + (16.1 if code == "cd" else 0.4), 40)
    assert not any(correctable(code, burst(begin, too_long), step_mm=STEP_MM) for begin in places)


@pytest.mark.parametrize("code", ["cd-da", "dvd", "dvd-dl", "bd"])
@pytest.mark.parametrize("alignment", ["worst", "best"])
def test_both_limits_are_reached_within_a_percent(code: Any, alignment: Any) -> None:
    disc = FORMATS["cd" if code == "cd-da" else code[:3].rstrip("-")]
    limit = longest_burst_mm(code, alignment=alignment)
    places = np.linspace(20, 20 + 2 * disc.mm_per_byte * 182, 60)
    mended = [correctable(code, burst(begin, 1.01 * limit), step_mm=STEP_MM) for begin in places]
    assert not all(mended) if alignment == "worst" else not any(mended)
    mended = [correctable(code, burst(begin, 0.99 * limit), step_mm=STEP_MM) for begin in places]
    assert all(mended) if alignment == "worst" else any(mended)


@pytest.mark.parametrize("row", [row for row in REFERENCE["burst"] if row["flagged"]], ids=lambda row: row["format"])
@pytest.mark.parametrize("alignment", ["worst", "best"])
def test_the_limits_are_the_reference_ones(row: dict[str, Any], alignment: Any) -> None:
    code = {"cd": "cd-da"}.get(row["format"], row["format"])
    assert longest_burst_mm(code, alignment=alignment) == pytest.approx(row["mm"][alignment], abs=0.006)


def test_a_dual_layer_dvd_mends_a_tenth_more() -> None:
    """ECMA-267, 3rd edition, 10.6.4: bits of 146.7 nm instead of 133.3."""
    assert longest_burst_mm("dvd-dl", alignment="worst") == pytest.approx(6.57, abs=0.01)
    assert longest_burst_mm("dvd-dl", alignment="best") == pytest.approx(7.01, abs=0.01)


def test_a_data_cd_bears_more_than_a_music_cd_and_a_faster_one_more_than_a_slower() -> None:
    assert longest_burst_mm("cd", alignment="worst") > longest_burst_mm("cd-da", alignment="worst")
    between = burst(30, 2.6)
    assert correctable("cd", between, step_mm=STEP_MM)
    assert not correctable("cd-da", between, step_mm=STEP_MM)
    assert correctable("cd-da", between, step_mm=STEP_MM, scanning_velocity_m_s=1.4)


# ---------------------------------------------------------------- for real


RECORDED_MM = 90.0


def read_for_real(code: Any, lost: np.ndarray, step_mm: float, rng: np.random.Generator) -> bool:
    """Record random bytes from the array's start on, spoil every symbol that any lost step touches, decode, compare."""
    if code in ("cd-da", "cd"):
        bit_mm, channel, frames = 1.2 / 4.3218 / 1000, cd_channel(), 7 * 98 + circ.DELAY
    elif code == "bd":
        bit_mm, channel, frames = 74.5e-6, bd_channel(), 2 * 498
    else:
        bit_mm, channel, frames = (133.3e-6 if code == "dvd" else 146.7e-6), dvd_channel(), 2 * 208
    begin = np.arange(frames)[:, None] * channel.bits + channel.begin
    end = begin + (channel.end - channel.begin)
    first, last = np.floor(begin * bit_mm / step_mm + 1e-6), np.ceil(end * bit_mm / step_mm - 1e-6)
    total = np.concatenate([[0], np.cumsum(lost)])
    first, last = (np.minimum(x, len(lost)).astype(int) for x in (first, last))
    gone = total[last] > total[first]
    if code in ("cd-da", "cd"):
        sectors = cdrom.encode(*(rng.integers(0, 256, (7, n), dtype=np.uint8) for n in (4, 2048)))
        symbols = circ.encode(sectors.reshape(-1, 24))
        back, bad = circ.decode(
            np.where(gone, rng.integers(0, 256, symbols.shape, dtype=np.uint8), symbols), illegal=gone
        )
        if code == "cd-da":
            return bool((back == sectors.reshape(-1, 24)).all())
        mended, whole = cdrom.decode(back.reshape(-1, 2352), flagged=bad.reshape(-1, 2352))
        return bool(whole.all() and (mended == sectors).all())
    for part in (gone[: frames // 2], gone[frames // 2 :]):
        if code == "bd":
            data = rng.integers(0, 256, (304, 216), dtype=np.uint8)
            rows = ldc.encode(data, rng.integers(0, 256, (24, 30), dtype=np.uint8))
            spoilt = np.where(part[:496, :155], rng.integers(0, 256, rows.shape, dtype=np.uint8), rows)
            back, _, _ = ldc.decode(spoilt, illegal=part[:496])
        else:
            data = rng.integers(0, 256, (192, 172), dtype=np.uint8)
            rows = rspc.encode(data)
            spoilt = np.where(part, rng.integers(0, 256, rows.shape, dtype=np.uint8), rows)
            back, _ = rspc.decode(spoilt, illegal=part)
        if not (back == data).all():
            return False
    return True


def random_damage(rng: np.random.Generator, limit_mm: float, step_mm: float) -> np.ndarray:
    """One to sixty stretches within some 90 mm of track, together 0.2 to 1.6 of the limit for one.

    They begin where a CD's first frame is wholly on the track: what was recorded before it is not drawn.
    """
    lost = np.zeros(round(RECORDED_MM / step_mm), dtype=bool)
    count = int(np.exp(rng.uniform(0, np.log(60))))
    total_mm = rng.uniform(0.2, 1.6) * limit_mm
    spread = rng.uniform(0.1, 1) * (len(lost) - round(35 / step_mm))
    for share in rng.dirichlet(np.ones(count)):
        begin = round(20 / step_mm) + int(rng.random() * spread)
        lost[begin : begin + max(1, round(share * total_mm / step_mm))] = True
    return lost


@pytest.mark.parametrize(("code", "count"), [("cd-da", 300), ("cd", 200), ("dvd", 150), ("dvd-dl", 100), ("bd", 60)])
def test_it_says_what_encoding_damaging_and_decoding_says(code: Any, count: int) -> None:
    rng = np.random.default_rng(11)
    said, real = [], []
    for _ in range(count):
        step_mm = float(rng.choice([0.005, 0.02, 0.05]))
        lost = random_damage(rng, longest_burst_mm(code, alignment="worst"), step_mm)
        said.append(correctable(code, lost, step_mm=step_mm))
        real.append(read_for_real(code, lost, step_mm, rng))
    assert said == real
    assert 0.15 < np.mean(real) < 0.85


# ---------------------------------------------------------------- order and bounds


@given(seed=st.integers(0, 2**32 - 1), code=st.sampled_from(CODES))
@settings(max_examples=40, deadline=None)
def test_to_lose_more_never_helps(seed: int, code: Any) -> None:
    rng = np.random.default_rng(seed)
    lost = random_damage(rng, longest_burst_mm(code, alignment="worst"), 0.02)
    more = lost | random_damage(rng, 0.2, 0.02)
    assert correctable(code, lost, step_mm=0.02) or not correctable(code, more, step_mm=0.02)


@given(seed=st.integers(0, 2**32 - 1), code=st.sampled_from(CODES))
@settings(max_examples=25, deadline=None)
def test_finer_steps_and_sound_track_behind_change_nothing(seed: int, code: Any) -> None:
    lost = random_damage(np.random.default_rng(seed), longest_burst_mm(code, alignment="worst"), 0.02)
    as_it_is = correctable(code, lost, step_mm=0.02)
    assert correctable(code, np.repeat(lost, 4), step_mm=0.005) == as_it_is
    assert correctable(code, np.append(lost, np.zeros(9999, bool)), step_mm=0.02) == as_it_is


@given(seed=st.integers(0, 2**32 - 1), blocks=st.integers(1, 3))
@settings(max_examples=20, deadline=None)
def test_blocks_of_a_dvd_stand_each_for_itself(seed: int, blocks: int) -> None:
    """ECMA-267, 3rd edition, 18 to 21: 208 rows of 2976 bits of 133.3 nm, 82.5 mm."""
    block_mm = 208 * 2976 * 133.3e-6
    lost = random_damage(np.random.default_rng(seed), 6.0, block_mm / 5000)[:5000]
    later = np.concatenate([np.zeros(5000 * blocks, bool), lost])
    twice = np.concatenate([lost, lost])
    alone = correctable("dvd", lost, step_mm=block_mm / 5000)
    assert correctable("dvd", later, step_mm=block_mm / 5000) == alone
    assert correctable("dvd", twice, step_mm=block_mm / 5000) == alone


@pytest.mark.parametrize(
    ("code", "lost", "step_mm", "velocity"),
    [("tape", [True], 0.1, 1.2), ("cd", [True], 0.0, 1.2), ("cd", [True], 0.1, 0.0), ("cd", [[True]], 0.1, 1.2)],
)
def test_what_makes_no_sense_is_refused(code: Any, lost: Any, step_mm: float, velocity: float) -> None:
    with pytest.raises(ValueError, match=r"no such format|positive|dimension"):
        correctable(code, lost, step_mm=step_mm, scanning_velocity_m_s=velocity)
