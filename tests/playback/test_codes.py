"""The codes of the formats: encoding, damaging, decoding; and the counting that must tell the same."""

from __future__ import annotations

import hashlib
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from discscan.playback.codes import cdrom, circ, ldc, rspc

REFERENCE = tomllib.loads((Path(__file__).parents[1] / "reference" / "codes.toml").read_text())
Random = np.random.Generator


def stretches(rng: Random, size: int, *, total: int) -> np.ndarray:
    """Damage of many makes: one long stretch, a few, or dozens of short ones; about `total` symbols in all."""
    lost = np.zeros(size, dtype=bool)
    count = int(np.exp(rng.uniform(0, np.log(60))))
    for share in rng.dirichlet(np.ones(count)):
        begin = int(rng.integers(0, size))
        lost[begin : begin + max(1, round(share * total))] = True
    return lost


def spoilt(rng: Random, symbols: np.ndarray, lost: np.ndarray) -> np.ndarray:
    return np.where(lost, rng.integers(0, 256, symbols.shape, dtype=np.uint8), symbols)


def some(rng: Random, *shape: int) -> np.ndarray:
    return rng.integers(0, 256, shape, dtype=np.uint8)


# ---------------------------------------------------------------- CIRC


def test_circ_gives_back_what_went_in_and_is_linear() -> None:
    rng = np.random.default_rng(0)
    frames = some(rng, 300, 24)
    symbols = circ.encode(frames)
    back, bad = circ.decode(symbols, illegal=np.zeros(symbols.shape, bool))
    assert symbols.shape == (300 + 111, 32) and not bad.any() and (back == frames).all()
    other = some(rng, 300, 24)
    zero = circ.encode(np.zeros((300, 24), np.uint8))
    assert (circ.encode(frames ^ other) == symbols ^ circ.encode(other) ^ zero).all()


def test_circ_spreads_a_frame_over_109_frames_and_inverts_its_parity() -> None:
    """IEC 60908, as quoted in public decoder sources: 108 + 1 + 2 frames of delay; parity symbols 12-15 and 28-31."""
    frames = np.zeros((1, 24), np.uint8)
    silent = circ.encode(frames)
    assert [int(place) for place in np.flatnonzero(silent[0])] == [12, 13, 14, 15, 28, 29, 30, 31]
    assert (silent[:, silent[0] != 0] == 0xFF).all()
    for byte, place in ((0, 0), (1, 1), (2, 6), (4, 16), (8, 2), (23, 27)):  # where a byte of a frame stands in C2
        frames = np.zeros((1, 24), np.uint8)
        frames[0, byte] = 1
        frame = (0 if byte // 4 % 2 else 2) + 4 * place + (1 if place % 2 == 0 else 0)
        assert (circ.encode(frames) ^ silent)[frame, place] == 1


def test_circ_counts_as_it_decodes_over_a_thousand_patterns() -> None:
    rng = np.random.default_rng(1)
    frames = some(rng, 140, 24)
    symbols = circ.encode(frames)
    outcomes = []
    for _ in range(1000):
        lost = stretches(rng, symbols.size, total=int(rng.integers(50, 900))).reshape(symbols.shape)
        back, bad = circ.decode(spoilt(rng, symbols, lost), illegal=lost)
        assert (bad == circ.unmended(lost)).all()
        assert (back == frames)[~bad].all()
        outcomes.append(bad.any())
    assert 0.2 < np.mean(outcomes) < 0.8


def lost_from(start: int, length: int) -> np.ndarray:
    lost = np.zeros((300, 32), dtype=bool)
    lost.reshape(-1)[150 * 32 + start :][:length] = True
    return circ.unmended(lost)


def test_the_bursts_that_circ_mends_are_the_known_ones() -> None:
    row = next(row for row in REFERENCE["burst"] if row["format"] == "cd" and row["flagged"])
    worst, best = row["bytes"]["worst"], row["bytes"]["best"]
    assert not any(lost_from(start, worst).any() for start in range(32))
    assert any(lost_from(start, worst + 1).any() for start in range(32))
    assert any(not lost_from(start, best).any() for start in range(32))
    assert all(lost_from(start, best + 1).any() for start in range(32))


def test_music_can_be_filled_in_over_the_known_length() -> None:
    """No two neighbouring samples of one channel lost (Hoeve, Timmermans and Vries, 1982, abstract: 12 000 bits)."""

    def fillable(start: int, length: int) -> bool:
        samples = lost_from(start, length).reshape(-1, 2, 2).any(axis=2)
        return not (samples[1:] & samples[:-1]).any()

    worst, best = REFERENCE["interpolation"]["symbols"]["worst"], REFERENCE["interpolation"]["symbols"]["best"]
    assert all(fillable(start, worst) for start in range(32))
    assert not all(fillable(start, worst + 1) for start in range(32))
    assert any(fillable(start, best) for start in range(32))
    assert not any(fillable(start, best + 1) for start in range(32))
    assert 8 * worst == pytest.approx(12_000, rel=0.04)


# ---------------------------------------------------------------- CD-ROM


@pytest.mark.parametrize("row", REFERENCE["sector"], ids=lambda row: row["header"])
def test_a_sector_is_the_published_one(row: dict[str, Any]) -> None:
    header = np.frombuffer(bytes.fromhex(row["header"]), np.uint8)[None]
    data = np.zeros(2048) if row["data"] == "zeros" else np.arange(2048) + 16
    sector = cdrom.encode(header, (data.astype(int) % 256).astype(np.uint8)[None])[0]
    assert sector[2064:2068].tobytes() == bytes.fromhex(row["edc"])
    if "sha256" in row:
        assert hashlib.sha256(sector[2076:].tobytes()).hexdigest() == row["parity_sha256"]
        assert hashlib.sha256(sector.tobytes()).hexdigest() == row["sha256"]


def test_sectors_count_as_they_decode_over_a_thousand_patterns() -> None:
    rng = np.random.default_rng(2)
    sectors = cdrom.encode(some(rng, 1000, 4), some(rng, 1000, 2048))
    flagged = np.array([stretches(rng, 2352, total=int(rng.integers(20, 450))) for _ in range(1000)])
    flagged[::2] = rng.random((500, 2352)) < rng.uniform(0.02, 0.12, (500, 1))
    back, whole = cdrom.decode(spoilt(rng, sectors, flagged), flagged=flagged)
    assert (whole == cdrom.readable(flagged)).all()
    assert (back == sectors)[whole].all()
    assert 0.2 < whole.mean() < 0.8


@pytest.mark.parametrize("start", [12, 300, 1500, 1904])
def test_p_alone_mends_172_bytes_in_a_row(start: int) -> None:
    """ECMA-130 annex A: 43 columns of two planes, each bears 2 erasures: 2 x 86 bytes."""
    flagged = np.zeros((1, 2352), dtype=bool)
    flagged[0, start : start + 172] = True
    assert cdrom.readable(flagged)[0]


def test_a_wrong_byte_that_nobody_flagged_is_caught_by_the_check() -> None:
    rng = np.random.default_rng(3)
    sector = cdrom.encode(some(rng, 1, 4), some(rng, 1, 2048))
    sector[0, 1000] ^= 1
    assert not cdrom.decode(sector, flagged=np.zeros((1, 2352), bool))[1][0]


# ---------------------------------------------------------------- DVD


def test_a_dvd_block_has_a_row_of_outer_parity_after_every_twelve() -> None:
    """ECMA-267, 3rd edition, 18 and 19."""
    data = np.zeros((192, 172), np.uint8)
    data[100] = 1
    rows = rspc.encode(data)
    assert rows.shape == (208, 182)
    assert [int(row) for row in np.flatnonzero(rows.any(axis=1))] == sorted([100 + 100 // 12, *range(12, 208, 13)])


def test_dvd_blocks_count_as_they_decode_over_hundreds_of_patterns() -> None:
    rng = np.random.default_rng(4)
    data = some(rng, 192, 172)
    rows = rspc.encode(data)
    outcomes = []
    for _ in range(400):
        lost = stretches(rng, rows.size, total=int(rng.integers(500, 3300))).reshape(rows.shape)
        back, whole = rspc.decode(spoilt(rng, rows, lost), illegal=lost)
        assert whole == rspc.readable(lost[None])[0]
        assert (back == data).all() or not whole
        outcomes.append(whole)
    assert 0.2 < np.mean(outcomes) < 0.8


@pytest.mark.parametrize("flagged", [True, False])
def test_a_dvd_row_bears_five_bytes_and_a_block_sixteen_rows(flagged: bool) -> None:
    """ECMA-267, 3rd edition, 18; without the demodulator's word as well, but for one lost row in 700."""
    rng = np.random.default_rng(5)
    data = some(rng, 192, 172)
    rows = rspc.encode(data)
    for lost_rows, bytes_each, whole in ((208, 5, True), (16, 182, True), (17, 6, False)):
        lost = np.zeros(rows.shape, dtype=bool)
        lost[:lost_rows, :bytes_each] = True
        read = rows ^ lost.astype(np.uint8) * rng.integers(1, 256, rows.shape, dtype=np.uint8)
        back, sound = rspc.decode(read, illegal=lost & flagged)
        assert sound == whole and (back == data).all() == whole


# ---------------------------------------------------------------- BD


@pytest.fixture(scope="module")
def block() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(6)
    data, pickets = some(rng, 304, 216), some(rng, 24, 30)
    return data, pickets, ldc.encode(data, pickets)


def with_syncs(lost: np.ndarray) -> np.ndarray:
    """A sync is lost with the byte behind it, here."""
    return np.column_stack([lost, lost[:, 0]])


def test_bd_words_have_a_byte_in_every_second_row(block: Any) -> None:
    """BDA white paper for BD-R, 5th edition, 4.2: 304 words of 248 in 496 rows, pickets after every 38 bytes."""
    data, pickets, rows = block
    assert rows.shape == (496, 155)
    back, bis, whole = ldc.decode(rows, illegal=np.zeros((496, 156), bool))
    assert whole and (back == data).all() and (bis == pickets).all()
    one = data.copy()
    one[7] ^= 1
    touched = ldc.encode(one, pickets) != rows
    assert (touched.sum(axis=1) == np.resize([0, 1], 496)).mean() > 0.9  # parity symbols may stay as they were
    assert not touched[:, [38, 77, 116]].any()


def test_bd_blocks_count_as_they_decode(block: Any) -> None:
    data, pickets, rows = block
    rng = np.random.default_rng(7)
    outcomes = []
    for _ in range(80):
        lost = stretches(rng, rows.size, total=int(rng.integers(6000, 12500))).reshape(rows.shape)
        back, bis, whole = ldc.decode(spoilt(rng, rows, lost), illegal=with_syncs(lost))
        assert whole == ldc.readable(with_syncs(lost)[None])[0]
        assert ((back == data).all() and (bis == pickets).all()) or not whole
        outcomes.append(whole)
    assert 0.2 < np.mean(outcomes) < 0.8


def test_bd_words_count_as_they_decode_over_thousands_of_patterns() -> None:
    """Each LDC word alone: 32 lost bytes are mended, 33 are not."""
    rng = np.random.default_rng(8)
    words = ldc.LDC.encode(some(rng, 3000, 216))
    lost = rng.random(words.shape).argsort(axis=1) < rng.integers(20, 45, (3000, 1))
    back, sound = ldc.LDC.decode(spoilt(rng, words, lost), erased=lost)
    assert (sound == (lost.sum(axis=1) <= 32)).all()
    assert (back == words)[sound].all()


@pytest.mark.parametrize(("length", "mended"), [(4800, True), (8900, True), (9950, False)])
def test_pickets_alone_nearly_double_the_burst_that_a_bd_mends(block: Any, length: int, mended: bool) -> None:
    """A demodulator that marks nothing but lost syncs: 4910 bytes would be all that 16 errors a word allow."""
    data, _, rows = block
    lost = np.zeros(rows.size, dtype=bool)
    lost[20_011 : 20_011 + length] = True
    lost = lost.reshape(rows.shape)
    illegal = np.zeros((496, 156), dtype=bool)
    illegal[1:, 155] = lost[1:, 0] & lost[:-1, -1]
    back, _, whole = ldc.decode(spoilt(np.random.default_rng(9), rows, lost), illegal=illegal)
    assert (whole and (back == data).all()) == mended


def test_a_burst_of_64_rows_takes_eight_symbols_of_each_bis_word(block: Any) -> None:
    """3 pickets a row over 24 words: 64 x 3 / 24 = 8."""
    _, pickets, rows = block
    lost = rows.copy()
    lost[100:164] ^= 0xFF
    back, _ = ldc.BIS.decode(lost.reshape(-1)[ldc._BIS_GATHER])
    assert (back != lost.reshape(-1)[ldc._BIS_GATHER]).sum(axis=1).tolist() == [8] * 24
    assert (back[:, :30] == pickets).all()
