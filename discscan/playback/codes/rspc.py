"""The product code of a DVD: rows with inner parity (PI), columns with outer parity (PO).

A block is 192 rows of 172 bytes; PO adds 16 rows, PI 10 bytes to each row; on the track a PO row follows every 12 rows
[1]. Both layers of a dual-layer disc have the same code; their bits are longer.

The strategy: PI mends up to five errors a row and marks the whole row beyond that; PO takes marked rows as erasures and
mends up to sixteen. That is one pass; a drive that goes round again between rows and columns gains where many short
stretches are lost, nothing where one long one is. As on a CD, light that is lost gives words that the modulation does
not know [2]: a row with more of them than PI mends is marked whatever PI finds (which would else be a wrong answer in
one lost row of 700), so counting tells the same as decoding.

References:
    [1] ECMA-267, 3rd edition, 18 and 19.
    [2] ECMA-267, 3rd edition, 20 and annex G: code words of 16 bits with 2 to 10 zeros between ones.
"""

from __future__ import annotations

import numpy as np

from discscan.formats import FORMATS
from discscan.playback.codes.reed_solomon import Bytes, Mask, ReedSolomon

_fact = FORMATS["dvd"].fact
ROWS, ROW = int(_fact("block_rows")), int(_fact("row_bytes"))
PI_ERRORS, PO_ERASURES = int(_fact("pi_corrects_bytes")), int(_fact("po_corrects_erasures"))
PI = ReedSolomon(ROW, ROW - int(_fact("pi_parity_bytes")))
PO = ReedSolomon(ROWS, ROWS - int(_fact("po_parity_rows")))

_TRACK = np.insert(np.arange(PO.message), np.arange(1, PO.parity + 1) * int(_fact("rows_per_sector")), PO.parity_places)
"""(208,) which row of the code lies where on the track."""


def encode(data: Bytes) -> Bytes:
    """(192, 172) bytes of one block -> (208, 182), its rows in the order of the track."""
    return PI.encode(PO.encode(data.T).T)[_TRACK]


def decode(rows: Bytes, *, illegal: Mask) -> tuple[Bytes, bool]:
    """Undo `encode`.

    Args:
        rows: (208, 182) as read.
        illegal: same shape, which bytes the demodulator could not read.
    Returns:
        (192, 172) bytes, and whether PO could vouch for all of them.
    """
    in_code = np.argsort(_TRACK)
    mended, sound = PI.decode(rows)
    marked = (~sound | (illegal.sum(axis=1) > PI_ERRORS))[in_code]
    columns = mended[in_code, : PI.message].T
    columns, sound = PO.decode(columns, erased=np.broadcast_to(marked, columns.shape))
    return columns[:, : PO.message].T, bool(sound.all())


def readable(lost: Mask, *, flagged: bool = True) -> Mask:
    """Which blocks `decode` makes whole, by counting: (b, 208, 182) lost bytes -> (b,).

    Not `flagged`: PO takes the bad rows as errors, of which it mends half as many.
    """
    marked = lost.sum(axis=-1) > PI_ERRORS
    return np.asarray(marked.sum(axis=-1) <= PO_ERASURES // (1 if flagged else 2))
