"""The library call: `import discscan; discscan.scan(...)`."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def python(code: str) -> str:
    run = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    return run.stdout.strip()


@pytest.mark.parametrize(
    "first", ["", "import discscan.scan", "from discscan.scan import judge_photo", "from discscan import scan"]
)
def test_scan_is_the_function_whatever_was_imported_first(first: str) -> None:
    told = python(f"{first}\nimport discscan\nfor _ in 'ab':\n    print(callable(discscan.scan), end=' ')")
    assert told == "True True"


def test_importing_the_package_costs_no_opencv() -> None:
    assert python("import sys, discscan; print('cv2' in sys.modules, 'numpy' in sys.modules)") == "False False"


def test_what_is_not_there_is_an_attribute_error() -> None:
    assert python("import discscan; print(hasattr(discscan, 'grade'))") == "False"
