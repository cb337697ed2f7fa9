"""README.md and DEVELOPERS.md cannot drift from what is there."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import typer.main

from discscan import errors
from discscan.cli.app import app

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text()
MAP = (ROOT / "DEVELOPERS.md").read_text()
PACKAGE = ROOT / "discscan"


def command(marker: str) -> str:
    (found,) = re.findall(rf"<!-- {marker} -->\n```\n(.+)\n```", README)
    return found


def test_the_first_paragraph_says_what_the_tool_does_and_what_it_does_not() -> None:
    paragraph = README.split("\n\n")[1]
    for word in ("yard sales", "thrift shops", "polish", "most to pay", "stack", "honestly", "learned", "does not yet"):
        assert word in " ".join(paragraph.split())


def test_both_commands_are_one_line_and_start_from_nothing() -> None:
    for marker in ("the main job", "the tests"):
        assert command(marker).startswith("sh .ci/venv")
    assert "demo_images" in command("the main job")


def test_ci_runs_exactly_the_command_for_the_tests(tmp_path: Path) -> None:
    (tmp_path / ".ci").mkdir()
    shutil.copy(ROOT / ".ci/run", tmp_path / ".ci/run")
    (tmp_path / "README.md").write_text(
        README.replace(command("the tests"), 'echo "nothing skipped: $DISCSCAN_CI"; exit 7')
    )
    named = {**os.environ, "DISCSCAN_TEST_POSTGRESQL": "none"}  # else it would install a server and start it
    run = subprocess.run([tmp_path / ".ci/run"], capture_output=True, text=True, check=False, env=named)
    assert run.returncode == 7
    assert run.stdout.splitlines()[-1] == "nothing skipped: 1"


def commands() -> Iterator[tuple[str, Any]]:
    """Every command under its name, those of a group too: the group's first, then its own."""
    for name, one in typer.main.get_command(app).commands.items():
        yield name, one
        yield from getattr(one, "commands", {}).items()


def test_every_command_and_option_is_in_the_readme() -> None:
    for name, one in commands():
        assert f"discscan {name}" in README or f"discscan ledger {name}" in README or f"`{name}`" in README, name
        for parameter in one.params:
            if parameter.param_type_name == "option":
                shown = (f"{before}{option}" in README for option in parameter.opts for before in "` ")
                assert any(shown), parameter.opts


def test_every_option_in_the_readme_exists() -> None:
    known = {
        option
        for _, one in commands()
        for parameter in one.params
        for option in (*parameter.opts, *parameter.secondary_opts)
    }
    ours = re.sub(r"```.*?```", "", README, flags=re.DOTALL)
    assert set(re.findall(r"`(--[a-z-]+)", ours)) <= known


def test_the_code_of_every_photo_error_is_in_the_readme() -> None:
    for error in vars(errors).values():
        if isinstance(error, type) and issubclass(error, errors.UnreadablePhoto):
            assert f"`{error.code}`" in README


@pytest.mark.parametrize("text", [README, MAP], ids=["README", "DEVELOPERS"])
def test_every_link_and_picture_is_there(text: str) -> None:
    for target in re.findall(r"\]\(([^)#]+)\)", text):
        assert (ROOT / target).is_file(), target


def test_every_room_is_on_the_map() -> None:
    for place in PACKAGE.iterdir():
        if place.is_dir() and (place / "__init__.py").exists():
            assert f"`{place.name}/`" in MAP, place.name
        elif place.suffix == ".py" and not place.name.startswith("__"):
            assert f"`{place.name}`" in MAP, place.name
