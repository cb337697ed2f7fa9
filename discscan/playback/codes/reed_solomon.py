"""Reed-Solomon codes over GF(256), a batch of words at a time.

All codes of CD, DVD and BD share one field, p(x) = x^8 + x^4 + x^3 + x^2 + 1 with alpha = 2, and roots alpha^0 onwards
[1]. A word is a polynomial whose first symbol has the highest power.

References:
    [1] ECMA-267, 3rd edition, 18; ECMA-130 annex A and C, as quoted in public sources; for BD from memory.
    [2] Berlekamp-Massey with erasures, Chien search, Forney: R. E. Blahut, Algebraic Codes for Data Transmission, 7
        (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Mask = NDArray[np.bool_]

ORDER = 255
_POLYNOMIAL = 0x11D


def _tables() -> tuple[Bytes, NDArray[np.intp], Bytes]:
    power = np.zeros(2 * ORDER, dtype=np.uint8)
    value = 1
    for exponent in range(ORDER):
        power[exponent] = power[exponent + ORDER] = value
        value <<= 1
        value ^= _POLYNOMIAL if value & 0x100 else 0
    log = np.zeros(256, dtype=np.intp)
    log[power[:ORDER]] = np.arange(ORDER)
    product = power[log[:, None] + log[None, :]]
    product[0, :] = product[:, 0] = 0
    return power, log, product


POWER, LOG, PRODUCT = _tables()
"""alpha to the power of the index; its inverse; and the products of all pairs."""

_INVERSE = POWER[(ORDER - LOG) % ORDER]


def times(left: Bytes, right: Bytes) -> Bytes:
    """(..., n, m) x (..., m, p) -> (..., n, p), a product of matrices over GF(256)."""
    out = PRODUCT[left[..., :, 0, None], right[..., 0, None, :]]
    for inner in range(1, left.shape[-1]):
        out ^= PRODUCT[left[..., :, inner, None], right[..., inner, None, :]]
    return out


def solved(matrix: Bytes, right: Bytes) -> Bytes:
    """x of matrix x = right, for a regular (n, n) matrix, by elimination."""
    rows = np.concatenate([matrix, right], axis=1)
    for column in range(len(rows)):
        pivot = column + int(np.flatnonzero(rows[column:, column])[0])
        rows[[column, pivot]] = rows[[pivot, column]]
        rows[column] = PRODUCT[rows[column], _INVERSE[rows[column, column]]]
        others = np.arange(len(rows)) != column
        rows[others] ^= PRODUCT[rows[others, column, None], rows[None, column]]
    return rows[:, len(rows) :]


@dataclass(frozen=True)
class ReedSolomon:
    """An (n, k) code: k symbols of message and n - k of parity, which mend e erasures and v errors while
    e + 2 v <= n - k.

    Attributes:
        length: n, at most 255.
        message: k.
        parity_from: where in the word its parity stands; None for its end.
    """

    length: int
    message: int
    parity_from: int | None = None

    @property
    def parity(self) -> int:
        return self.length - self.message

    @cached_property
    def parity_places(self) -> NDArray[np.intp]:
        first = self.message if self.parity_from is None else self.parity_from
        return np.arange(first, first + self.parity)

    @cached_property
    def message_places(self) -> NDArray[np.intp]:
        return np.setdiff1d(np.arange(self.length), self.parity_places)

    @cached_property
    def _checks(self) -> Bytes:
        """(n, n - k): each place's power in each syndrome."""
        return POWER[np.outer(np.arange(self.length)[::-1], np.arange(self.parity)) % ORDER]

    @cached_property
    def _generator(self) -> Bytes:
        """(k, n - k): the parity that makes all syndromes of a unit message zero."""
        at, rest = self.parity_places, self.message_places
        return solved(self._checks[at].T, self._checks[rest].T).T

    def encode(self, messages: Bytes) -> Bytes:
        """(b, k) messages -> (b, n) words."""
        words = np.empty((len(messages), self.length), dtype=np.uint8)
        words[:, self.message_places] = messages
        words[:, self.parity_places] = times(messages, self._generator)
        return words

    def decode(self, words: Bytes, *, erased: Mask | None = None) -> tuple[Bytes, Mask]:
        """Mend a batch of words.

        Args:
            words: (b, n).
            erased: (b, n) places known to be doubtful, whatever their value; None for none.
        Returns:
            (b, n) words, mended where that was possible and else as they were, and (b,) whether they are sound. A word
            with more erasures than parity is not, whatever its symbols; one with more wrong symbols than the code bears
            may, as with every decoder, be mended into another valid word.
        """
        erased = np.zeros(words.shape, dtype=bool) if erased is None else erased
        words, sound = words.copy(), erased.sum(axis=1) <= self.parity
        syndromes = times(words, self._checks)
        hurt = np.flatnonzero(syndromes.any(axis=1) & sound)
        if len(hurt):
            error, found = self._errors(syndromes[hurt], erased[hurt])
            words[hurt[found]] ^= error[found]
            sound[hurt] = found
        return words, sound

    def _errors(self, syndromes: Bytes, erased: Mask) -> tuple[Bytes, Mask]:
        """(b, n) what to add to words with these syndromes, and (b,) whether there is such an answer [2]."""
        locator, degree, erasures = self._locators(syndromes, erased)
        inverse = POWER[-np.arange(self.length)[::-1] % ORDER]  # of each place's X
        root = _values(locator, inverse) == 0
        sound = (root.sum(axis=1) == degree) & (2 * degree - erasures <= self.parity)
        evaluator = np.zeros_like(syndromes)
        for power in range(self.parity):  # syndromes times locator, up to x^(n - k - 1)
            evaluator[:, power:] ^= PRODUCT[locator[:, power, None], syndromes[:, : self.parity - power]]
        slope = locator[:, 1:].copy()
        slope[:, 1::2] = 0  # the derivative over a field of characteristic 2
        word, place = np.nonzero(root & sound[:, None])
        at = inverse[place]
        error = np.zeros(erased.shape, dtype=np.uint8)
        above, below = _values_at(evaluator[word], at), _values_at(slope[word], at)
        error[word, place] = PRODUCT[_INVERSE[at], PRODUCT[above, _INVERSE[below]]]
        return error, sound

    def _locators(self, syndromes: Bytes, erased: Mask) -> tuple[Bytes, NDArray[np.intp], NDArray[np.intp]]:
        """(b, n - k + 1) the polynomial whose roots are the wrong places, its degree, and the erasures among them."""
        batch = len(syndromes)
        erasures = erased.sum(axis=1)
        locator = np.zeros((batch, self.parity + 1), dtype=np.uint8)
        locator[:, 0] = 1
        first = np.argsort(~erased, axis=1, kind="stable")
        for index in range(int(erasures.max(initial=0))):
            x = np.where(index < erasures, POWER[self.length - 1 - first[:, index]], 0).astype(np.uint8)
            locator[:, 1:] ^= PRODUCT[x[:, None], locator[:, :-1]]
        earlier, degree = locator.copy(), erasures.copy()
        for step in range(1, self.parity + 1):
            active = step > erasures
            discrepancy = np.zeros(batch, dtype=np.uint8)
            for power in range(step):
                discrepancy ^= PRODUCT[locator[:, power], syndromes[:, step - 1 - power]]
            shifted = np.zeros_like(earlier)
            shifted[:, 1:] = earlier[:, :-1]
            grown = locator ^ PRODUCT[discrepancy[:, None], shifted]
            longer = active & (discrepancy != 0) & (2 * degree <= step + erasures - 1)
            scaled = PRODUCT[_INVERSE[discrepancy][:, None], locator]
            earlier = np.where(longer[:, None], scaled, np.where(active[:, None], shifted, earlier))
            locator = np.where(active[:, None], grown, locator)
            degree = np.where(longer, step + erasures - degree, degree)
        return locator, degree, erasures


def _values(polynomials: Bytes, at: Bytes) -> Bytes:
    """(b, d) polynomials, lowest power first, at (n,) places -> (b, n)."""
    powers = POWER[np.outer(np.arange(polynomials.shape[1]), LOG[at]) % ORDER]
    return times(polynomials, powers)


def _values_at(polynomials: Bytes, at: Bytes) -> Bytes:
    """(b, d) polynomials, each at its own of (b,) places -> (b,)."""
    value = np.zeros(len(polynomials), dtype=np.uint8)
    for power in range(polynomials.shape[1] - 1, -1, -1):
        value = PRODUCT[value, at] ^ polynomials[:, power]
    return value
