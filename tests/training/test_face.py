"""The face net's inputs: as a disc is turned or mirrored, so are they. Tried only where torch happens to be."""

from __future__ import annotations

import importlib.util
import tomllib
from pathlib import Path

import cv2
import numpy as np
import pytest

from discscan.locate.conics import towards_camera
from discscan.locate.reading import ANGLES, RADII, polar_view
from discscan.records import ByteImage, FloatArray

STEP_RAD = 2 * np.pi / ANGLES


def photo() -> ByteImage:
    rng = np.random.default_rng(1)
    return np.asarray(cv2.resize(rng.integers(0, 256, (15, 20, 3), np.uint8), (400, 300)), np.uint8)


def pose() -> FloatArray:
    """Some view of a disc 200 px across, foreshortened and larger on one side."""
    to_px = np.array([[100.0, 6.0, 200.0], [-4.0, 85.0, 150.0], [0.02, -0.03, 1.0]])
    return np.asarray(np.linalg.inv(to_px))


def turned(steps: int) -> FloatArray:
    c, s = np.cos(steps * STEP_RAD), np.sin(steps * STEP_RAD)
    return np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])


if importlib.util.find_spec("torch"):
    import torch

    from models.training import known_by
    from models.training.augment import with_another_hub
    from models.training.known_by import PARTS
    from models.training.learn import LEAST_WRONG, Training, fit_temperature
    from models.training.nets import FaceReader, as_one
    from models.training.train_face import QUESTIONS, average, choose, temperatures, train
    from models.training.train_face import turned as turned_batch
    from models.training.unfold import fill

    def inputs(px_to_unit: FloatArray) -> tuple[torch.Tensor, torch.Tensor]:
        view = torch.from_numpy(polar_view(photo(), px_to_unit).astype(np.float32) / 255)
        return view.permute(2, 0, 1)[None], torch.from_numpy(towards_camera(px_to_unit).astype(np.float32))[None]

    @pytest.mark.parametrize("steps", [1, 48, 150])
    @pytest.mark.parametrize("mirrored", [False, True])
    def test_training_turns_picture_and_eye_as_a_turned_disc_does(steps: int, mirrored: bool) -> None:
        view, eye = inputs(pose())
        made, made_eye = turned_batch(view, eye, steps=steps, mirrored=mirrored)
        flip = np.diag([1.0, -1.0 if mirrored else 1.0, 1.0])
        true, true_eye = inputs(flip @ turned(steps) @ pose())
        assert torch.allclose(made_eye, true_eye, atol=1e-5)
        assert float((made - true).abs().mean()) < 0.003

    def test_a_turn_by_a_multiple_of_its_cells_changes_nothing_that_the_net_says() -> None:
        torch.manual_seed(0)
        net = FaceReader().eval()
        with torch.no_grad():
            said, said_turned = net(*inputs(pose())), net(*inputs(turned(64) @ pose()))
            elsewhere = net(inputs(pose())[0], -inputs(pose())[1])
        apart = float((said - elsewhere).abs().max())
        assert float((said - said_turned).abs().max()) < 0.05 * apart

    def test_readers_are_calibrated_and_so_is_what_all_say() -> None:
        """Guo et al. 2017, section 4.2: logits that were multiplied by a number have it as their temperature."""
        torch.manual_seed(1)
        true = torch.randn(4000, 7)
        chance = torch.sigmoid(true[:, :4])
        label = torch.cat(
            [(torch.rand_like(chance) < chance).long(), torch.softmax(true[:, 4:], 1).multinomial(1)], dim=1
        )
        of_readers, of_all, told = temperatures(torch.stack([3 * true, 0.5 * true, true], dim=1), label)
        for question in QUESTIONS:
            assert told[question] == pytest.approx([3.0, 0.5, 1.0, 1.0], rel=0.1)
        assert of_readers[:, 0].tolist() == told["disc"][:3]
        assert of_all[4:].tolist() == [told["format"][3]] * 3

    def test_readers_that_are_chosen_stay_calibrated_as_they_were_and_what_all_say_is_calibrated() -> None:
        torch.manual_seed(2)
        true = torch.randn(4000, 7)
        label = torch.cat([(true[:, :4] > 0).long(), true[:, 4:].argmax(1, keepdim=True)], 1)
        label = torch.where(torch.rand(label.shape) < 0.2, label.roll(1, 0), label)  # wrong often enough to be fitted
        were = [dict.fromkeys(QUESTIONS, 0.5 * k) for k in (1, 2, 3)]
        of_readers, of_all, told = temperatures(true[:, None].expand(-1, 3, -1), label, were, anew=False)
        assert [column.tolist() for column in of_readers] == [[0.5] * 7, [1.0] * 7, [1.5] * 7]
        assert all(told[question][:3] == [0.5, 1.0, 1.5] for question in QUESTIONS)
        assert float((of_all - 1).abs().min()) > 0.05

    def test_all_readers_are_heard_and_two_of_them_know_a_disc_and_a_data_side() -> None:
        said = [[1.0, 2.0, -3.0, 4.0, 5.0, 6.0, 7.0], [3.0, 0.0, 2.0, 0.0, 1.0, 0.0, 1.0], [2.0, 1, -5, 2, 3, 3, 4]]
        assert as_one(torch.tensor([said])).tolist() == [[2.5, 1.0, -0.5, 2.0, 3.0, 3.0, 4.0]]

    def test_logits_that_are_hardly_ever_wrong_keep_the_temperature_that_they_had() -> None:
        for wrong, kept in ((0, True), (LEAST_WRONG - 1, True), (LEAST_WRONG, False)):
            label = torch.arange(1000).remainder(2)
            logits = torch.stack([1.0 - label, label], 1) * 4
            label[:wrong] = 1 - label[:wrong]
            assert (fit_temperature(logits, label, otherwise=1.0) == 1.0) == kept
        assert fit_temperature(torch.zeros(0, 2), torch.zeros(0, dtype=torch.long), otherwise=1.7) == 1.7

    def test_a_rehearsal_on_the_processor_writes_a_net_and_what_it_says_of_itself(tmp_path: Path) -> None:
        _views(tmp_path, 40)
        train(Training(tmp_path, tmp_path, device="cpu", seconds=0.5, batch=4))
        manifest = tomllib.loads((tmp_path / "face.toml").read_text())
        assert list(manifest["temperature"]) == list(QUESTIONS)
        assert manifest["onnx_differs_by"] < 1e-3
        assert manifest["recipe"]["rows"] == 40

    def test_a_net_is_made_of_readers_of_several(tmp_path: Path) -> None:
        view, exports = _views(tmp_path, 6), _trained(tmp_path, 3)
        choose(tmp_path, exports, tmp_path)
        image = torch.from_numpy(view[:2]).permute(0, 3, 1, 2).float() / 255
        said = [_filled(path, image)(image, torch.zeros(2, 2)) for path in [*exports, tmp_path / "face.onnx"]]
        for reader in range(3):
            assert torch.allclose(said[3][:, reader], said[reader][:, reader], atol=1e-4)
            assert not torch.allclose(said[3][:, reader], said[(reader + 1) % 3][:, reader], atol=1e-3)

    def test_a_net_is_made_of_the_mean_of_several_each_as_often_as_it_is_named(tmp_path: Path) -> None:
        view, exports = _views(tmp_path, 6), _trained(tmp_path, 2)
        average(tmp_path, [exports[0], exports[1], exports[1]], tmp_path)
        image = torch.from_numpy(view[:2]).permute(0, 3, 1, 2).float() / 255
        first, second, mean = (_filled(path, image).state_dict() for path in [*exports, tmp_path / "face.onnx"])
        for name, weights in mean.items():
            if weights.is_floating_point():  # normalisations count their batches, too
                assert torch.allclose(weights, (first[name] + 2 * second[name]) / 3, atol=1e-5)

    def test_only_the_hub_of_an_alike_disc_is_put_into_a_view() -> None:
        torch.manual_seed(3)
        image = torch.arange(300.0)[:, None, None, None].expand(-1, 3, 8, 96).contiguous()  # each view a shade
        alike = (torch.arange(300) % 3 > 0)[:, None].long()  # every third pair is of one kind
        small = torch.arange(300) % 2 == 0
        made = with_another_hub(image, alike, small)
        swapped = (made != image).any(1).any(1)
        took = swapped.any(1)
        same = (alike == alike.roll(1, 0))[:, 0]
        assert not took[~same].any() and 0.2 < float(took[same].float().mean()) < 0.5
        reach = swapped.sum(1).float() / 96
        assert float(reach[took & ~small].min()) > 0.27 and float(reach[took & ~small].max()) < 0.38
        assert float(reach[took & small].min()) > 0.41 and float(reach[took & small].max()) < 0.57
        others = torch.roll(image, 1, 0)
        inside = swapped[:, None, None].expand_as(image)
        assert torch.equal(made[inside], others[inside])

    def test_what_is_taken_away_of_a_view_and_nothing_else_is_plain() -> None:
        view = torch.rand(2, 3, ANGLES, 96)
        for name, inner, outer in (("without the hub", 0.0, 0.38), ("without the data", 0.38, 0.97)):
            plain, ring = PARTS[name](view), torch.as_tensor((inner < RADII) & (outer > RADII))
            assert torch.equal(plain[..., ~ring], view[..., ~ring])
            assert torch.allclose(plain[..., ring], plain[..., ring][..., :1, :1])
            assert torch.allclose(plain[..., ring].mean((2, 3)), view[..., ring].mean((2, 3)), atol=1e-5)
        assert torch.equal(PARTS["as they are"](view), view)
        assert float(PARTS["without colours"](view).std(1).max()) < 1e-6

    def test_by_what_a_net_knows_what_it_says_is_told_for_each_question(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
    ) -> None:
        _views(tmp_path, 8)
        train(Training(tmp_path, tmp_path, device="cpu", seconds=0.1, batch=2))
        monkeypatch.setattr(
            "sys.argv", ["known_by", "--net", str(tmp_path / "face.onnx"), "--shards", str(tmp_path), str(tmp_path)]
        )
        capsys.readouterr()
        known_by.main()
        told = capsys.readouterr().out.splitlines()
        assert told.count(f"{tmp_path}: 8 views") == 2 and len(told) == 2 * (1 + len(PARTS))
        assert all(question in told[1] for question in QUESTIONS)

    def _views(folder: Path, count: int) -> ByteImage:
        """A shard of so many views of noise, with labels at random; returns the views."""
        rng = np.random.default_rng(2)
        label = np.stack([rng.integers(0, most, count) for most in (2, 2, 2, 2, 3)], 1).astype(np.int8)
        eye = rng.uniform(-0.4, 0.4, (count, 2)).astype(np.float32)
        view = rng.integers(0, 256, (count, ANGLES, 96, 3), np.uint8)
        np.savez(folder / "1_0_face.npz", owner=np.arange(count), view=view, label=label, eye=eye)
        return view

    def _trained(folder: Path, count: int) -> list[Path]:
        """The exports of as many rehearsals on the shards of a folder."""
        for number in range(count):
            torch.manual_seed(number)
            (folder / str(number)).mkdir()
            train(Training(folder, folder / str(number), device="cpu", seconds=0.1, batch=2))
        return [folder / str(number) / "face.onnx" for number in range(count)]

    def _filled(path: Path, image: torch.Tensor) -> FaceReader:
        net = FaceReader()
        fill(net, path, (image, torch.zeros(2, 2)))
        return net.eval()
