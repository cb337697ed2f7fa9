"""Two of OpenCV's wheels in one environment break each other."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

import discscan


@pytest.mark.parametrize("other", ["opencv_python", "opencv_contrib_python_headless"])
def test_two_wheels_of_opencv_are_refused_at_start_with_a_remedy(other: str, tmp_path: Path) -> None:
    metadata = tmp_path / f"{other}-4.13.0.dist-info" / "METADATA"
    metadata.parent.mkdir()
    metadata.write_text(f"Metadata-Version: 2.1\nName: {other.replace('_', '-')}\nVersion: 4.13.0\n")
    path = os.pathsep.join([str(tmp_path), str(Path(discscan.__file__).parents[1])])
    run = subprocess.run(
        [sys.executable, "-m", "discscan", "scan", "photo.jpg"],
        env={**os.environ, "PYTHONPATH": path},
        capture_output=True,
        text=True,
        check=False,
    )
    assert run.returncode == 3
    assert run.stdout == ""
    assert other.replace("_", "-") in run.stderr and "pip uninstall" in run.stderr
    assert "Traceback" not in run.stderr
