"""The code of a BD: a long-distance code (LDC) between the pickets of a second, stronger one (BIS).

A block is 304 LDC words of 248 bytes and 24 BIS words of 62. On the track it is 496 rows: a sync, then 155 bytes, of
which every 39th is a picket, a byte of BIS [1]. Two LDC words share a column, one in even and one in odd rows, and each
pair of rows is turned by 3 columns against the one before [2]. Where in the pickets the BIS words lie is not published;
here they take turns, which spreads a burst evenly over them, and so does theirs.

The strategy: erasures. The modulation allows runs of 2 to 8 bits only, so bytes that are lost with the light are known
to be; an LDC word mends up to 32 of them. Where the demodulator's own marks do not suffice (bytes misread without
breaking that rule), all bytes between two hurt pickets or syncs are marked too, which is what pickets are for [1].
Light that is lost needs the first marks only, so counting tells the same as decoding. A block reads when all its words
do.

References:
    [1] BDA white paper for BD-R, 5th edition, 4.2.
    [2] From memory; columns and rows as in [1].
"""

from __future__ import annotations

import numpy as np

from discscan.formats import FORMATS
from discscan.playback.codes.reed_solomon import Bytes, Mask, ReedSolomon

_fact = FORMATS["bd"].fact
ROWS, ROW = int(_fact("block_rows")), int(_fact("row_bytes"))
SPACING, PICKETS = int(_fact("picket_spacing_bytes")), int(_fact("picket_columns"))
PER_COLUMN = int(_fact("rows_per_word_symbol"))
WORDS, BIS_WORDS = int(_fact("ldc_words")), int(_fact("bis_words"))
_COLUMNS = ROW - PICKETS
_LENGTH = ROWS // PER_COLUMN
LDC = ReedSolomon(_LENGTH, _LENGTH - int(_fact("ldc_parity_symbols")))
_BIS_LENGTH = ROWS * PICKETS // BIS_WORDS
BIS = ReedSolomon(_BIS_LENGTH, _BIS_LENGTH - int(_fact("bis_parity_symbols")))

PICKET_AT = SPACING + (SPACING + 1) * np.arange(PICKETS)
_LDC_AT = np.setdiff1d(np.arange(ROW), PICKET_AT)

_row = np.arange(ROWS)[:, None]
_SYMBOL = np.broadcast_to(_row // PER_COLUMN, (ROWS, _COLUMNS))
_WORD = (
    np.arange(_COLUMNS) + int(_fact("shift_per_row_pair_bytes")) * _SYMBOL
) % _COLUMNS * PER_COLUMN + _row % PER_COLUMN
_GATHER = np.empty((WORDS, _LENGTH), dtype=np.intp)
_GATHER[_WORD, _SYMBOL] = _row * ROW + _LDC_AT
"""(304, 248) where in a block each symbol of each LDC word lies."""
_BIS_GATHER = (_row * ROW + PICKET_AT).reshape(_BIS_LENGTH, BIS_WORDS).T
"""(24, 62) the same for BIS."""


def encode(data: Bytes, pickets: Bytes) -> Bytes:
    """(304, 216) bytes for LDC and (24, 30) for BIS -> (496, 155), the rows of one block."""
    rows = np.empty(ROWS * ROW, dtype=np.uint8)
    rows[_GATHER] = LDC.encode(data)
    rows[_BIS_GATHER] = BIS.encode(pickets)
    return rows.reshape(ROWS, ROW)


def decode(rows: Bytes, *, illegal: Mask) -> tuple[Bytes, Bytes, bool]:
    """Undo `encode`.

    Args:
        rows: (496, 155) as read.
        illegal: (496, 156) which bytes the demodulator could not read; the last column is the sync before each row.
    Returns:
        (304, 216) and (24, 30) bytes, and whether both codes could vouch for all of them.
    """
    flat, marked = rows.reshape(-1), illegal[:, :ROW].reshape(-1)
    pickets, bis_sound = BIS.decode(flat[_BIS_GATHER], erased=marked[_BIS_GATHER])
    hurt = np.empty(ROWS * ROW, dtype=bool)
    hurt[_BIS_GATHER] = (pickets != flat[_BIS_GATHER]) | marked[_BIS_GATHER] | ~bis_sound[:, None]
    between = _between(hurt.reshape(ROWS, ROW)[:, PICKET_AT], illegal[:, ROW])

    words, sound = LDC.decode(flat[_GATHER], erased=marked[_GATHER])
    again = np.flatnonzero(~sound)
    words[again], sound[again] = LDC.decode(words[again], erased=(marked | between.reshape(-1))[_GATHER[again]])
    return words[:, : LDC.message], pickets[:, : BIS.message], bool(sound.all() and bis_sound.all())


def readable(lost: Mask, *, flagged: bool = True) -> Mask:
    """Which blocks `decode` makes whole, by counting: (b, 496, 156) lost bytes and syncs -> (b,).

    Not `flagged`: both codes take what is lost as errors, of which they mend half as many.
    """
    each = 1 if flagged else 2
    flat = lost[:, :, :ROW].reshape(len(lost), -1)
    ldc, bis = flat[:, _GATHER].sum(axis=-1), flat[:, _BIS_GATHER].sum(axis=-1)
    return np.asarray((ldc <= LDC.parity // each).all(axis=1) & (bis <= BIS.parity // each).all(axis=1))


def _between(pickets: Mask, sync: Mask) -> Mask:
    """(496, 155) which bytes lie between two hurt neighbours among sync and pickets."""
    posts = np.column_stack([sync, pickets, np.append(sync[1:], False)])
    stretches = posts[:, :-1] & posts[:, 1:]
    return np.asarray(stretches[:, np.searchsorted(PICKET_AT, np.arange(ROW))])
