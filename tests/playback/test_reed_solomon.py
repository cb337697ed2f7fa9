"""The codes' arithmetic, against two general libraries and printed parity."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import reedsolo
from hypothesis import given, settings
from hypothesis import strategies as st

from discscan.playback.codes.cdrom import P, Q
from discscan.playback.codes.circ import C1, C2
from discscan.playback.codes.edc import cd_edc, dvd_edc
from discscan.playback.codes.ldc import BIS, LDC
from discscan.playback.codes.reed_solomon import PRODUCT, ReedSolomon
from discscan.playback.codes.rspc import PI, PO

CODES = {"C1": C1, "C2": C2, "P": P, "Q": Q, "PI": PI, "PO": PO, "LDC": LDC, "BIS": BIS}
REFERENCE = tomllib.loads((Path(__file__).parents[1] / "reference" / "codes.toml").read_text())
by_name = pytest.mark.parametrize("code", CODES.values(), ids=CODES)


def parity_last(code: ReedSolomon) -> ReedSolomon:
    return ReedSolomon(code.length, code.message)


def messages(code: ReedSolomon, count: int, seed: int = 0) -> np.ndarray:
    return np.random.default_rng(seed).integers(0, 256, (count, code.message), dtype=np.uint8)


def damaged(code: ReedSolomon, words: np.ndarray, *, erasures: np.ndarray, errors: np.ndarray, seed: int = 1) -> Any:
    """Words with so many erased places, of any value, and so many wrong ones beside them."""
    rng = np.random.default_rng(seed)
    order = rng.permuted(np.tile(np.arange(code.length), (len(words), 1)), axis=1).argsort(axis=1)
    erased = order < erasures[:, None]
    wrong = ~erased & (order < (erasures + errors)[:, None])
    garbage = rng.integers(0, 256, words.shape, dtype=np.uint8)
    change = rng.integers(1, 256, words.shape, dtype=np.uint8)
    return np.where(erased, garbage, words ^ change * wrong), erased


def test_the_field_is_that_of_galois() -> None:
    """All products of the field x^8 + x^4 + x^3 + x^2 + 1 (ECMA-267, 3rd edition, 18), and that words are orthogonal to
    the powers of alpha from 0 on, in the general library `galois`."""
    galois = pytest.importorskip("galois")
    field = galois.GF(2**8, irreducible_poly=0x11D, primitive_element=2)
    every = field(np.arange(256, dtype=np.uint8))
    assert (np.asarray(every[:, None] * every[None, :]) == PRODUCT).all()
    for code in (C1, PO):
        checks = field(2) ** np.outer(np.arange(code.length)[::-1], np.arange(code.parity))
        assert not np.asarray(field(code.encode(messages(code, 20))) @ checks).any()


@pytest.mark.parametrize("row", REFERENCE["parity"], ids=lambda row: f"{row['length']},{row['message']}")
def test_parity_of_the_message_0_1_2(row: dict[str, Any]) -> None:
    word = ReedSolomon(row["length"], row["message"]).encode(np.arange(row["message"], dtype=np.uint8)[None])[0]
    assert word[row["message"] :].tobytes() == bytes.fromhex(row["parity"])


@by_name
def test_words_are_those_of_reedsolo(code: ReedSolomon) -> None:
    """The general library `reedsolo`, field 0x11d, first root alpha^0."""
    library = reedsolo.RSCodec(code.parity, prim=0x11D, fcr=0)
    for message, word in zip(messages(code, 5), parity_last(code).encode(messages(code, 5)), strict=True):
        assert bytes(library.encode(message.tobytes())) == word.tobytes()


@by_name
def test_damaged_words_are_mended_as_by_reedsolo(code: ReedSolomon) -> None:
    code = parity_last(code)
    library = reedsolo.RSCodec(code.parity, prim=0x11D, fcr=0)
    rng = np.random.default_rng(3)
    erasures = rng.integers(0, code.parity + 2, 12)
    errors = rng.integers(0, code.parity // 2 + 2, 12)
    words = code.encode(messages(code, 12))
    read, erased = damaged(code, words, erasures=erasures, errors=errors)
    mended, sound = code.decode(read, erased=erased)
    for word, doubt, ours, is_sound in zip(read, erased, mended, sound, strict=True):
        try:
            theirs = library.decode(word.tobytes(), erase_pos=[int(place) for place in np.flatnonzero(doubt)])[1]
        except reedsolo.ReedSolomonError:
            assert not is_sound
        else:
            changed = (np.frombuffer(bytes(theirs), np.uint8) != word) & ~doubt
            if doubt.sum() + 2 * changed.sum() <= code.parity:
                assert is_sound and bytes(theirs) == ours.tobytes()
            else:  # one beyond the bound, where an answer proves nothing: the library gives it, we refuse
                assert not is_sound


@by_name
def test_every_word_with_two_errors_and_an_erasure_for_each_pair_of_parity_is_mended(code: ReedSolomon) -> None:
    """e + 2 v <= n - k, any mixture: the bound of Singleton."""
    rng = np.random.default_rng(4)
    erasures = rng.integers(0, code.parity + 1, 500)
    errors = (code.parity - erasures) // 2
    words = code.encode(messages(code, 500))
    read, erased = damaged(code, words, erasures=erasures, errors=errors)
    mended, sound = code.decode(read, erased=erased)
    assert sound.all() and (mended == words).all()


@by_name
def test_one_erasure_more_than_parity_is_never_vouched_for(code: ReedSolomon) -> None:
    words = code.encode(messages(code, 100))
    read, erased = damaged(code, words, erasures=np.full(100, code.parity + 1), errors=np.zeros(100, int))
    mended, sound = code.decode(read, erased=erased)
    assert not sound.any() and (mended == read).all()


def test_a_word_with_three_errors_fools_c1_once_in_130_times() -> None:
    """n (n - 1) / 2 places for two errors, 255^2 values, of 256^4 syndromes: 0.0075. Hence the demodulator's say."""
    words = C1.encode(messages(C1, 20_000))
    read, _ = damaged(C1, words, erasures=np.zeros(20_000, int), errors=np.full(20_000, 3))
    _, sound = C1.decode(read)
    assert sound.mean() == pytest.approx(0.0075, abs=0.002)


@given(st.integers(0, 2**32 - 1), st.sampled_from(list(CODES)))
@settings(max_examples=40, deadline=None)
def test_the_sum_of_two_words_is_a_word_and_sound_words_stay(seed: int, name: str) -> None:
    code = CODES[name]
    words = code.encode(messages(code, 2, seed))
    assert (code.encode(messages(code, 2, seed)[:1] ^ messages(code, 2, seed)[1:]) == words[:1] ^ words[1:]).all()
    mended, sound = code.decode(words)
    assert sound.all() and (mended == words).all()


def test_no_word_at_all_is_nothing_to_do() -> None:
    mended, sound = C1.decode(np.zeros((0, 32), np.uint8))
    assert mended.shape == (0, 32) and sound.shape == (0,)


def test_the_checks_over_123456789() -> None:
    """CRC catalogues: CD-ROM EDC 0x6EC2EDC4, written lowest byte first; the DVD's 0xB27CE117 (poly ECMA-267, 16.4)."""
    text = np.frombuffer(b"123456789", dtype=np.uint8)[None]
    assert cd_edc(text).tobytes() == (0x6EC2EDC4).to_bytes(4, "little")
    assert dvd_edc(text).tobytes() == (0xB27CE117).to_bytes(4, "big")
