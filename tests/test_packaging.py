"""The wheel carries all that judging needs, and nothing that only training or testing does."""

from __future__ import annotations

import os
import subprocess
import sys
import tomllib
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built and unpacked."""
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = folder.glob("*.whl")
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(folder / "site")
    return folder / "site"


def files_under(folder: Path) -> set[str]:
    return {str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()}


def test_the_wheel_holds_the_package_and_its_data_and_no_more(site: Path) -> None:
    package = {name for name in files_under(ROOT / "discscan") if not name.endswith(".pyc")}
    calibration = {f"_data/calibration/{path.name}" for path in (ROOT / "calibration").glob("*.toml")}
    models = {
        f"_data/models/{path.name}"
        for path in (ROOT / "models").glob("*")
        if path.suffix in (".onnx", ".toml") or path.name == "CARD.md"
    }
    assert files_under(site / "discscan") == package | calibration | models
    assert {path.name for path in site.iterdir() if not path.name.endswith(".dist-info")} == {"discscan"}


def test_every_net_is_in_the_wheel_beside_its_manifest(site: Path) -> None:
    manifests = {path.stem for path in (site / "discscan/_data/models").glob("*.toml")}
    assert manifests
    assert manifests == {path.stem for path in (site / "discscan/_data/models").glob("*.onnx")}


def test_the_damage_nets_manifest_tells_how_each_kind_is_calibrated_and_scored() -> None:
    manifest = tomllib.loads((ROOT / "models/damage.toml").read_text(encoding="utf-8"))
    kinds = manifest["preprocessing"]["channels"]
    assert [len(manifest["platt"][kind]) for kind in kinds] == [2] * len(kinds)
    assert all(0 < manifest["score"][kind] < 1 for kind in kinds)


def test_the_unpacked_wheel_finds_its_data_and_its_templates(site: Path, tmp_path: Path) -> None:
    code = (
        "from discscan import calibration; from discscan.report import render_page\n"
        "print(calibration.models_folder()); print(len(render_page([])), len(calibration.book('cd')))"
    )
    environment = {**os.environ, "PYTHONPATH": str(site)}
    run = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, env=environment, capture_output=True, text=True, check=True
    )
    assert run.stdout.splitlines()[0] == str(site / "discscan/_data/models")
