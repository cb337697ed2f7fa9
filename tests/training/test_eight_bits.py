"""Nets with most of their layers in eight bits. Tried only where torch and onnx happen to be."""

from __future__ import annotations

import hashlib
import importlib.util
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

if importlib.util.find_spec("torch") and importlib.util.find_spec("onnx"):
    import onnx
    import torch

    from models.training.eight_bits import PARTS, between, make, running
    from models.training.learn import write
    from models.training.nets import DAMAGE_CHANNELS, PLACE_CHANNELS, DamageNet, Probabilities

    CELLS = 64
    SCORE = dict.fromkeys(DAMAGE_CHANNELS, 0.5)

    def shard(folder: Path, number: int) -> None:
        rng = np.random.default_rng(number)
        np.savez(
            folder / f"1_{number}_damage.npz",
            owner=np.arange(10),
            crop=rng.integers(0, 256, (10, CELLS, CELLS, 3), dtype=np.uint8),
            truth=rng.integers(0, 4, (10, CELLS // 2, CELLS // 2), dtype=np.uint8),
            corner=np.column_stack([rng.uniform(20, 40, (10, 2)), np.full(10, 120.0)]).astype(np.float32),
            data_side=np.ones(10, np.uint8),
            blur=np.ones(10, np.float32),
        )

    @pytest.fixture(scope="module")
    def folders(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Path]:
        """A tiny net in floating point, its shards, and the same net in eight bits."""
        given, shards, out = (tmp_path_factory.mktemp(name) for name in ("float", "shards", "out"))
        torch.manual_seed(1)
        net = type("Tiny", (DamageNet,), {"WIDTHS": (4, 8, 8, 8, 8)})()
        for parameter in net.parameters():
            if parameter.ndim == 1:  # of norms and biases: no two alike, for alike ones are exported once
                torch.nn.init.uniform_(parameter, 0.2, 1.0)
        example = {
            "image": torch.zeros(1, 3, CELLS, CELLS),
            "place": torch.zeros(1, PLACE_CHANNELS, CELLS // 4, CELLS // 4),
        }
        extra: dict[str, dict[str, Any]] = {"preprocessing": {"colour": "bgr 0..1"}, "platt": {"line": [1.0, 0.5]}}
        write(Probabilities(net).eval(), example, given, "damage", SCORE, rows=20, extra=extra)
        for number in range(2):
            shard(shards, number)
        make("damage", given, shards, out)
        return given, shards, out

    def types_of_weights(path: Path) -> dict[str, np.dtype[Any]]:
        """By a convolution's name, the type in which the file keeps its weights."""
        graph = onnx.load(path).graph
        kept = {tensor.name: onnx.numpy_helper.to_array(tensor).dtype for tensor in graph.initializer}
        whole = {node.output[0]: node.input[0] for node in graph.node if node.op_type == "DequantizeLinear"}
        convolutions = [node for node in graph.node if node.op_type == "Conv"]
        return {node.name.split("/")[2]: kept[whole.get(node.input[1], node.input[1])] for node in convolutions}

    def test_only_the_coarse_part_is_in_eight_bits(folders: tuple[Path, Path, Path]) -> None:
        given, _, out = folders
        assert {str(kind) for kind in types_of_weights(given / "damage.onnx").values()} == {"float32"}
        types = types_of_weights(out / "damage.onnx")
        assert {name for name, kind in types.items() if kind == np.float32} == {
            "stem",
            "down.0",
            "place",
            "lift.0",
            "merge.0",
            "head",
        }
        assert {str(kind) for kind in types.values()} == {"float32", "int8"}

    def test_weights_have_seven_bits(folders: tuple[Path, Path, Path]) -> None:
        """255 * 64 * 2 fits in 16 bits with a sign, which the products of two pairs are added in without VNNI: Intel's
        description of VPMADDUBSW, from memory."""
        tensors = [onnx.numpy_helper.to_array(t) for t in onnx.load(folders[2] / "damage.onnx").graph.initializer]
        weights = [tensor for tensor in tensors if tensor.dtype == np.int8 and tensor.ndim == 4]
        assert weights
        assert max(int(np.abs(tensor.astype(int)).max()) for tensor in weights) == 64

    def test_it_says_nearly_the_same(folders: tuple[Path, Path, Path]) -> None:
        given, shards, out = folders
        with np.load(shards / "1_0_damage.npz") as pieces:
            image = torch.from_numpy(pieces["crop"]).permute(0, 3, 1, 2).float() / 255
        place = torch.zeros(len(image), PLACE_CHANNELS, CELLS // 4, CELLS // 4)
        before, after = (running(folder / "damage.onnx")(image, place) for folder in (given, out))
        apart = (before - after).abs()
        assert before.std() > 10 * apart.mean() > 0

    def test_its_manifest_names_what_it_is_and_what_it_was_made_of(folders: tuple[Path, Path, Path]) -> None:
        given, _, out = folders
        was, made = (tomllib.loads((folder / "damage.toml").read_text(encoding="utf-8")) for folder in (given, out))
        assert made["sha256"] == hashlib.sha256((out / "damage.onnx").read_bytes()).hexdigest()
        assert made["eight_bits"]["made_of"] == was["sha256"]
        assert made["onnx_differs_by"] > was["onnx_differs_by"]
        assert set(made["score"]) == set(SCORE)
        assert made["score"] != SCORE
        assert set(made["eight_bits"]["score_before"]) == set(SCORE)
        assert all(made[table] == was[table] for table in ("preprocessing", "recipe"))

    def test_the_order_in_which_shards_came_changes_nothing(folders: tuple[Path, Path, Path], tmp_path: Path) -> None:
        given, _, out = folders
        other = tmp_path / "shards"
        other.mkdir()
        for number in (1, 0):
            shard(other, number)
        make("damage", given, other, tmp_path / "out")
        assert (tmp_path / "out/damage.onnx").read_bytes() == (out / "damage.onnx").read_bytes()

    def test_the_coarse_part_begins_behind_the_place_and_ends_before_the_last_lift(
        folders: tuple[Path, Path, Path],
    ) -> None:
        graph = onnx.load(folders[0] / "damage.onnx").graph
        names = between(graph, PARTS["damage"])
        sums = [node.name for node in graph.node if node.op_type == "Add" and node.name.startswith("/net/Add")]
        assert [name for name in sums if name not in names] == [sums[0], sums[-1]]
        assert names[0].startswith("/net/body.0")
        assert "/net/merge.1/merge.1.2/Relu" in names

    def test_doubling_by_rows_says_the_same_to_the_last_bit(folders: tuple[Path, Path, Path], tmp_path: Path) -> None:
        """Against ONNX Runtime's own Resize, which `quantise` replaces."""
        made = onnx.load(folders[2] / "damage.onnx")
        doublings = [node.name.split("/")[2] for node in made.graph.node if node.name.endswith("/Concat_1")]
        assert doublings == ["Resize", "Resize_1", "Resize_2"]
        assert [node.name for node in made.graph.node if node.op_type == "Resize"] == ["/net/Resize_3"]
        scales = onnx.helper.make_tensor("scales", onnx.TensorProto.FLOAT, [4], [1, 1, 2, 2])
        made.graph.initializer.append(scales)
        for last in [node for node in made.graph.node if node.name.endswith("/Transpose_7")]:
            first = next(node for node in made.graph.node if node.name == last.name.replace("_7", "_0"))
            last.CopyFrom(resize(first.input[0], last.output[0], name=last.name))
        onnx.save(made, tmp_path / "resized.onnx")
        image = torch.rand(2, 3, CELLS, CELLS, generator=torch.Generator().manual_seed(2))
        place = torch.zeros(2, PLACE_CHANNELS, CELLS // 4, CELLS // 4)
        ways = (running(path)(image, place) for path in (folders[2] / "damage.onnx", tmp_path / "resized.onnx"))
        assert torch.equal(*ways)

    def resize(given: str, doubled: str, *, name: str) -> onnx.NodeProto:
        """By nearest neighbours, twice as high and wide."""
        how = {"mode": "nearest", "coordinate_transformation_mode": "asymmetric", "nearest_mode": "floor"}
        return onnx.helper.make_node("Resize", [given, "", "scales"], [doubled], name, **how)

    @pytest.mark.parametrize(
        ("name", "in_floating_point"),
        [
            ("locator", {"stem", "down4.0", "flat8", "merge8", "head"}),
            ("rings", {"stem.0", "head"}),
        ],
    )
    def test_the_other_nets_keep_their_finest_layers(name: str, in_floating_point: set[str]) -> None:
        """The names are those of models/training/nets.py."""
        graph = onnx.load(Path(__file__).parents[2] / f"models/training/float/{name}.onnx").graph
        inside = set(between(graph, PARTS[name]))
        outside = {node.name.lstrip("/") for node in graph.node if node.op_type == "Conv" and node.name not in inside}
        assert {next(layer for layer in in_floating_point if layer in name) for name in outside} == in_floating_point

    def test_rows_that_do_not_fill_a_run_are_answered_all() -> None:
        rings = running(Path(__file__).parents[2] / "models/rings.onnx", at_once=2)
        bands = torch.rand(3, 4, 192, 64, generator=torch.Generator().manual_seed(1))
        assert torch.equal(rings(bands)[:2], rings(bands[:2]))
        assert len(rings(bands)) == 3
