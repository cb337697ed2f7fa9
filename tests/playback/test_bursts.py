"""Budgets of the error correction."""

from __future__ import annotations

import numpy as np
import pytest

from discscan.formats import FORMATS
from discscan.playback import correctable, longest_burst_mm
from discscan.playback.bursts import budget, window_ends
from discscan.playback.track import Runs


@pytest.mark.parametrize("name", FORMATS)
def test_one_run_alone_fails_just_above_the_burst_limit(name: str) -> None:
    """A CD is taken for a data CD, whose own parity lies above CIRC."""
    code = budget(FORMATS[name])  # type: ignore[index]
    assert code.flagged_mm - code.pad_worst_mm == pytest.approx(longest_burst_mm(name, alignment="worst"))  # type: ignore[arg-type]
    assert code.flagged_mm - code.pad_best_mm <= longest_burst_mm(name, alignment="best") + 1e-9  # type: ignore[arg-type]


@pytest.mark.parametrize("name", FORMATS)
def test_without_flags_one_run_fails_just_above_the_burst_limit(name: str) -> None:
    disc = FORMATS[name]  # type: ignore[index]
    code = budget(disc)
    limit = disc.longest_burst_mm(alignment="worst", flagged=False)
    assert code.unflagged_mm - code.pad_worst_mm == pytest.approx(limit)


def test_seventeen_cut_rows_of_one_dvd_block_are_too_many_and_sixteen_are_not() -> None:
    """ECMA-267, 3rd edition, 18: PO mends 16 rows; a row is lost above 5 bad bytes (11 um)."""
    code = budget(FORMATS["dvd"])
    short = 6 * FORMATS["dvd"].mm_per_byte
    assert 15 * (short + code.pad_worst_mm) < code.flagged_mm < 17 * (short + code.pad_worst_mm)


def test_a_code_word_is_spread_as_far_as_the_standards_say() -> None:
    """CD: 108 frames of delay and the frame itself (ECMA-130 annex C, quoted); DVD: 208 rows; BD: 496 rows."""
    assert budget(FORMATS["cd"]).span_mm == pytest.approx(109 * 588 * 277.66e-6, rel=1e-4)
    assert budget(FORMATS["dvd"]).span_mm == pytest.approx(82.5, abs=0.05)
    assert budget(FORMATS["bd"]).span_mm == pytest.approx(71.4, abs=0.05)


def runs_at(places_mm: list[float], *, radius_mm: float) -> Runs:
    n = len(places_mm)
    theta = np.array(places_mm) / radius_mm
    return Runs(np.zeros(n, int), np.arange(n), theta, np.ones((n, 3)), np.ones(n))


def test_runs_share_a_word_within_its_span_and_across_the_end_of_the_turn() -> None:
    radius = 40.0
    around = 2 * np.pi * radius
    places = [1.0, 5.0, 30.0, around - 2.0]
    order, end = window_ends(runs_at(places, radius_mm=radius), turns=np.array([radius]), span_mm=10.0)
    windows = {int(order[i]): {int(k) for k in order[i : end[i]]} for i in reversed(range(len(order)))}
    assert windows[0] == {0, 1}
    assert windows[2] == {2}
    assert windows[3] == {3, 0, 1}


def test_no_run_counts_twice_where_a_word_is_longer_than_the_turn() -> None:
    order, end = window_ends(runs_at([1.0, 50.0], radius_mm=24.0), turns=np.array([24.0]), span_mm=500.0)
    for first, last in zip(range(len(order)), end, strict=True):
        assert len(set(order[first:last])) == last - first


@pytest.mark.parametrize("flagged", [True, False])
@pytest.mark.parametrize("name", FORMATS)
def test_the_sum_over_runs_agrees_with_counting_nine_times_in_ten_and_errs_to_the_dark_side(
    name: str, flagged: bool
) -> None:
    """Random stretches, together 0.2 to 1.8 of the limit of one, against the exact count wherever a block begins
    (n = 200): hundreds of neighbouring turns meet the same damage, each from another place of a block.
    """
    disc, step, rng = FORMATS[name], 0.01, np.random.default_rng(5)  # type: ignore[index]
    means = budget(disc)
    bears = means.flagged_mm if flagged else means.unflagged_mm
    exact, summed = [], []
    for _ in range(200):
        lost = np.zeros(10_000, dtype=bool)
        total = rng.uniform(0.2, 1.8) * (bears - means.pad_worst_mm) / step
        spread = rng.uniform(700, 7000)
        for share in rng.dirichlet(np.ones(int(np.exp(rng.uniform(0, np.log(40)))))):
            begin = 2000 + int(rng.random() * spread)
            lost[begin : begin + max(1, round(share * total))] = True
        begin, end = np.flatnonzero(np.diff(lost, prepend=False, append=False)).reshape(-1, 2).T * step
        cost = end - begin + means.pad_worst_mm
        load = max(cost[(begin >= first) & (begin < first + means.span_mm)].sum() for first in begin)
        moved = (np.concatenate([np.zeros(int(ahead / step), dtype=bool), lost]) for ahead in 2.9 * np.arange(6))
        exact.append(all(correctable(name, one, step_mm=step, flagged=flagged) for one in moved))  # type: ignore[arg-type]
        summed.append(load <= bears)
    assert 0.2 < np.mean(exact) < 0.8
    assert np.mean(np.equal(exact, summed)) >= 0.9
    assert np.mean(np.array(summed) & ~np.array(exact)) < 0.04
