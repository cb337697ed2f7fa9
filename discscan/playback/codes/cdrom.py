"""Sectors of a data CD, mode 1: a product code of its own above CIRC.

A sector is sync, header, 2048 bytes, EDC, zeros and parity. From the header on, its 16-bit words form 43 columns, each
with two words of P parity; Q parity stands on 26 diagonals over those and the P words; low and high bytes are coded
apart [1].

The strategy: the bytes that C2 flags are erasures; P mends every vector with at most two, then Q, then P again, until
nothing changes. A symbol that reaches the sector wrong is flagged (see `circ`), so counting tells the same as decoding.
A sector reads when its header, data and EDC are whole; the sync pattern is known.

References:
    [1] ECMA-130, 14.3 to 14.6 and annex A, as quoted in public sources.
"""

from __future__ import annotations

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from discscan.formats import FORMATS
from discscan.playback.codes.edc import cd_edc
from discscan.playback.codes.reed_solomon import Bytes, Mask, ReedSolomon

_Scalar = TypeVar("_Scalar", np.uint8, np.bool_)

_fact = FORMATS["cd"].fact
FRAMES = int(_fact("frames_per_sector"))
SECTOR = int(_fact("sector_bytes"))
SYNC = np.array([0, *[0xFF] * 10, 0], dtype=np.uint8)
USER = int(_fact("user_bytes_per_sector"))
HEADER = int(_fact("sector_header_bytes"))
_START = int(_fact("sector_sync_bytes"))
_EDC_AT = _START + HEADER + USER
_NEEDED = slice(_START, _EDC_AT + int(_fact("sector_edc_bytes")))
_P_WORDS, _Q_WORDS, _PARITY = (int(_fact(name)) for name in ("p_words", "q_words", "rspc_parity_symbols"))
_P_AT = (_NEEDED.stop + int(_fact("sector_zero_bytes")) - _START) // 2  # in 16-bit words from the header on
_Q_AT = _P_AT + _PARITY * _P_WORDS

P = ReedSolomon(_P_AT // _P_WORDS + _PARITY, _P_AT // _P_WORDS)
Q = ReedSolomon(_Q_AT // _Q_WORDS + _PARITY, _Q_AT // _Q_WORDS)

_P_PLACES = np.arange(_P_WORDS)[:, None] + _P_WORDS * np.arange(P.length)
_Q_PLACES = np.concatenate(
    [
        (_P_WORDS * np.arange(_Q_WORDS)[:, None] + (_P_WORDS + 1) * np.arange(Q.message)) % _Q_AT,
        _Q_AT + np.arange(_Q_WORDS)[:, None] + _Q_WORDS * np.arange(_PARITY),
    ],
    axis=1,
)
_CODES = ((P, _P_PLACES), (Q, _Q_PLACES))


def encode(headers: Bytes, data: Bytes) -> Bytes:
    """(b, 4) headers and (b, 2048) bytes -> (b, 2352) sectors, not scrambled."""
    sectors = np.zeros((len(data), SECTOR), dtype=np.uint8)
    sectors[:, :_START] = SYNC
    sectors[:, _START : _START + HEADER] = headers
    sectors[:, _START + HEADER : _EDC_AT] = data
    sectors[:, _EDC_AT : _NEEDED.stop] = cd_edc(sectors[:, :_EDC_AT])
    for code, places in _CODES:
        words = _planes(sectors)[..., places]
        _planes(sectors)[..., places] = code.encode(words[..., : code.message].reshape(-1, code.message)).reshape(
            words.shape
        )
    return sectors


def decode(sectors: Bytes, *, flagged: Mask) -> tuple[Bytes, Mask]:
    """Mend sectors in place of the drive.

    Args:
        sectors: (b, 2352) as CIRC hands them over.
        flagged: same shape, which bytes C2 could not vouch for.
    Returns:
        (b, 2352) sectors, and (b,) whether their header, data and EDC are whole, the EDC agreeing.
    """
    sectors, flagged = sectors.copy(), flagged.copy()
    sectors[:, :_START] = SYNC
    words, flags = _planes(sectors), _planes(flagged)
    left = -1
    while left != (left := int(flags.sum())):
        for code, places in _CODES:
            vector, doubt = words[..., places], flags[..., places]
            mendable = doubt.any(axis=-1) & (doubt.sum(axis=-1) <= code.parity)
            mended, sound = code.decode(vector[mendable], erased=doubt[mendable])
            vector[mendable] = mended
            doubt[mendable] &= ~sound[:, None]
            words[..., places], flags[..., places] = vector, doubt
    agrees = (cd_edc(sectors[:, :_EDC_AT]) == sectors[:, _EDC_AT : _NEEDED.stop]).all(axis=1)
    return sectors, agrees & ~flagged[:, _NEEDED].any(axis=1)


def readable(bad: Mask, *, flagged: bool = True) -> Mask:
    """Which sectors `decode` makes whole, by counting: (b, 2352) bytes that C2 could not mend -> (b,).

    Not `flagged`: they are taken as errors, of which half as many are mended.
    """
    bad = bad.copy()
    flags, each = _planes(bad), 1 if flagged else 2
    left = -1
    while left != (left := int(flags.sum())):
        for code, places in _CODES:
            doubt = flags[..., places]
            flags[..., places] = doubt & (doubt.sum(axis=-1, keepdims=True) > code.parity // each)
    return np.asarray(~bad[:, _NEEDED].any(axis=1))


def _planes(sectors: NDArray[_Scalar]) -> NDArray[_Scalar]:
    """(b, 2, words), a view: of each sector's 16-bit words from the header on, the low bytes, then the high ones."""
    return sectors[:, _START:].reshape(len(sectors), -1, 2).transpose(0, 2, 1)
