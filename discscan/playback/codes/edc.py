"""The check over a sector that stands above all parity: a cyclic code of 32 bits.

References:
    [1] CD-ROM: ECMA-130, 14.3, as quoted in public sources: (x^16 + x^15 + x^2 + 1)(x^16 + x^2 + x + 1), each byte
        lowest bit first.
    [2] DVD: ECMA-267, 3rd edition, 16.4: x^32 + x^31 + x^4 + 1, each byte highest bit first.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from discscan.playback.codes.reed_solomon import Bytes

_CD_REFLECTED = 0xD8018001
_DVD = 0x80000011


def cd_edc(data: Bytes) -> Bytes:
    """(b, n) bytes -> (b, 4), as they are written, lowest byte first [1]."""
    table = _table(_CD_REFLECTED, reflected=True)
    register = np.zeros(len(data), dtype=np.uint32)
    for byte in data.T:
        register = (register >> 8) ^ table[(register ^ byte) & 0xFF]
    return register.astype("<u4").view(np.uint8).reshape(-1, 4)


def dvd_edc(data: Bytes) -> Bytes:
    """(b, n) bytes -> (b, 4), as they are written, highest byte first [2]."""
    table = _table(_DVD, reflected=False)
    register = np.zeros(len(data), dtype=np.uint32)
    for byte in data.T:
        register = (register << 8) ^ table[(register >> 24) ^ byte]
    return register.astype(">u4").view(np.uint8).reshape(-1, 4)


def _table(polynomial: int, *, reflected: bool) -> NDArray[np.uint32]:
    value: NDArray[np.uint32] = np.arange(256, dtype=np.uint32)
    value = value if reflected else value << np.uint32(24)
    taps, one, top = (np.uint32(number) for number in (polynomial, 1, 31))
    for _ in range(8):
        value = (value >> one) ^ taps * (value & one) if reflected else (value << one) ^ taps * (value >> top)
    return value
