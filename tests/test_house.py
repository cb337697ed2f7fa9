"""The floors of the house: which room may import which, and what every error, doubt and file owes."""

from __future__ import annotations

import ast
import inspect
import re
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from discscan import errors
from discscan.doubts import Doubt

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "discscan"
MODULES = sorted(PACKAGE.rglob("*.py"))

GROUND_FLOOR = {
    "records",
    "judged",
    "money",
    "barcodes",
    "rows",
    "dates",
    "deals",
    "events",
    "places",
    "matches",
    "lessons",
    "formats",
    "calibration",
    "grids",
    "polylines",
    "errors",
    "doubts",
    "weights",
}
"""Frozen values, money, tables as people keep them, sourced numbers, and the one way to load weights."""

ROOMS = {"photo", "locate", "flatten", "damage", "match", "playback", "verdict", "worth", "report", "ledger", "learn"}

MAY_IMPORT = {
    **dict.fromkeys(ROOMS | GROUND_FLOOR, GROUND_FLOOR),
    "together": GROUND_FLOOR | ROOMS,
    "scan": GROUND_FLOOR | ROOMS | {"together"},
    "compare": GROUND_FLOOR | ROOMS | {"scan", "together"},
    "bench": GROUND_FLOOR | {"scan", "together", "photo", "report"},
    "stack": GROUND_FLOOR | {"bench", "photo", "report", "ledger"},
    "web": GROUND_FLOOR | {"bench", "photo", "report", "worth", "ledger", "learn", "stack"},
    "cli": GROUND_FLOOR | {"", "scan", "photo", "report", "worth", "ledger", "learn", "stack", "web"},
    "": {"scan", "compare"},
    "__main__": {"cli"},
}
""""" is the package's own __init__."""

MODULE_OF_WHEEL = {"opencv-python-headless": "cv2", "pillow": "PIL"}


def room_of(module: Path) -> str:
    first = module.relative_to(PACKAGE).parts[0]
    return "" if first == "__init__.py" else first.removesuffix(".py")


def imported(module: Path) -> Iterator[str]:
    """Full names of all that a module imports, at any depth of its code."""
    for node in ast.walk(ast.parse(module.read_text())):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: relative import"
            for alias in node.names:
                yield f"{node.module}.{alias.name}"


def rooms_imported(module: Path) -> set[str]:
    """ "discscan.report.words.VERDICT" is of the room "report"; a name of the package itself is of the room ""."""
    rooms = set()
    for name in imported(module):
        if name.split(".")[0] == "discscan":
            first = [*name.split("."), ""][1]
            is_room = (PACKAGE / first).is_dir() or (PACKAGE / f"{first}.py").is_file()
            rooms.add(first if is_room else "")
    return rooms


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_a_room_imports_only_what_its_floor_allows(module: Path) -> None:
    room = room_of(module)
    assert room in MAY_IMPORT, f"{room} has no place in the house: give it one here and in DEVELOPERS.md"
    assert rooms_imported(module) - {room} <= MAY_IMPORT[room]


def test_the_floor_test_sees_imports_wherever_they_stand(tmp_path: Path) -> None:
    module = tmp_path / "module.py"
    module.write_text(
        "import discscan.locate\ndef late():\n    from discscan.report import words\n    import discscan\n"
    )
    assert rooms_imported(module) == {"locate", "report", ""}


def test_the_package_imports_only_what_it_depends_on() -> None:
    """So neither what trains the models, nor what only the tests have, is ever needed to judge a disc."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    needs = project["dependencies"] + project["optional-dependencies"]["cluster"]
    wheels = [re.split(r"[^\w-]", need)[0] for need in needs]
    allowed = {MODULE_OF_WHEEL.get(wheel, wheel.replace("-", "_")) for wheel in wheels}
    needed = {name.split(".")[0] for module in MODULES for name in imported(module)}
    assert needed - set(sys.stdlib_module_names) - {"discscan"} <= allowed


def test_no_image_enters_the_forecast_or_the_verdict() -> None:
    for room in ("playback", "verdict"):
        for module in (PACKAGE / room).rglob("*.py"):
            assert not {name.split(".")[0] for name in imported(module)} & {"cv2", "PIL", "onnxruntime"}, module


ERRORS = {
    name: error for name, error in vars(errors).items() if inspect.isclass(error) and issubclass(error, Exception)
}


def errors_made(module: Path) -> Iterator[tuple[str, ast.Call]]:
    for node in ast.walk(ast.parse(module.read_text())):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ERRORS:
            yield node.func.id, node


def is_blank(argument: ast.expr) -> bool:
    return isinstance(argument, ast.Constant) and not argument.value


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_every_error_says_what_happened_and_what_to_do(module: Path) -> None:
    for name, call in errors_made(module):
        keywords = {keyword.arg: keyword.value for keyword in call.keywords}
        place = f"{module.name}:{call.lineno} {name}"
        assert len(call.args) == 1 and not is_blank(call.args[0]), place
        assert "remedy" in keywords and not is_blank(keywords["remedy"]), place
        if issubclass(ERRORS[name], errors.UnreadablePhoto):
            assert "file" in keywords, place


def test_every_error_has_a_code_of_its_own_and_an_exit_status() -> None:
    codes = [error.code for error in ERRORS.values()]
    assert len(codes) == len(set(codes))
    for error in ERRORS.values():
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", error.code)
        assert error.exit_code == 1 if issubclass(error, errors.UnreadablePhoto) else error.exit_code in (2, 3)


def test_every_error_is_used() -> None:
    made = {name for module in MODULES for name, _ in errors_made(module)}
    assert set(ERRORS) - {"DiscscanError"} <= made


@pytest.mark.parametrize("doubt", Doubt, ids=lambda doubt: doubt.name)
def test_every_doubt_says_what_is_wrong_and_what_to_do(doubt: Doubt) -> None:
    for sentence in (doubt.value.wrong, doubt.value.remedy):
        assert re.fullmatch(r"[A-Z].{15,}\.", sentence)
    assert doubt.value.effect in ("widen", "hide", "forbid play", "retake", "ask")


def test_no_two_doubts_say_the_same() -> None:
    assert len({doubt.value.wrong for doubt in Doubt}) == len(Doubt)


def test_no_file_is_longer_than_350_lines() -> None:
    folders = ("discscan", "models", "calibration", "tests", "demo_images")
    endings = (".py", ".toml", ".html", ".css", ".js", ".md")
    files = [file for folder in folders for file in (ROOT / folder).rglob("*") if file.suffix in endings]
    long = {str(file.relative_to(ROOT)): lines for file in files if (lines := len(file.read_text().splitlines())) > 350}
    assert not long
