"""Judging on a cluster leaves byte for byte what this machine alone leaves, also when a worker is lost."""

from __future__ import annotations

import os
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from discscan.errors import BrokenInstallation, NoCluster
from discscan.photo import DEFAULT
from discscan.records import NOTHING_SAID
from discscan.stack.workers import ClusterWorkers, judge_anywhere

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def cluster() -> Iterator[Any]:
    from distributed import LocalCluster

    with LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None, host="127.0.0.1"
    ) as started:
        yield started


def test_a_killed_worker_costs_a_retry_and_changes_no_byte(
    cluster: Any, whole_run: tuple[Path, Path], tmp_path: Path, stack_command: Any, until: Any, results: Any
) -> None:
    photos, whole = whole_run
    out = tmp_path / "cluster"
    command = [*stack_command(photos, out), "--cluster", cluster.scheduler_address]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as run:
        until(lambda: len(list(out.rglob("answers/*/*.json"))) >= 1)
        assert len(list(out.rglob("answers/*/*.json"))) < 6
        lost = cluster.workers[0].process.process
        os.kill(lost.pid, signal.SIGKILL)
        _, errors = run.communicate(timeout=300)
    assert run.returncode == 0, errors
    assert results(out) == results(whole)


def test_a_photo_that_was_judged_is_not_handed_over_again(
    cluster: Any, whole_run: tuple[Path, Path], tmp_path: Path, stack_command: Any, results: Any
) -> None:
    import shutil

    photos, whole = whole_run
    out = Path(shutil.copytree(whole, tmp_path / "again"))
    command = [*stack_command(photos, out), "--cluster", cluster.scheduler_address]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    assert results(out) == results(whole)


def test_an_address_where_nothing_answers_is_told() -> None:
    with pytest.raises(NoCluster, match="No scheduler answers"):
        ClusterWorkers("tcp://127.0.0.1:9", given=NOTHING_SAID)


def test_a_worker_of_another_version_is_refused() -> None:
    with pytest.raises(BrokenInstallation, match="another version"):
        judge_anywhere((b"photo",), None, None, DEFAULT, "the stamp of another version")
