"""The damage net: what is asked of it, its calibration, the pool of rows. Tried only where torch happens to be."""

from __future__ import annotations

import importlib.util
from pathlib import Path

import numpy as np
import onnxruntime
import pytest

if importlib.util.find_spec("torch"):
    import torch
    from torch.nn import functional as F

    from models.training.damage_crops import BITS
    from models.training.learn import HELD_OUT, Pool
    from models.training.nets import (
        DAMAGE_CHANNELS,
        EXCLUSIVE,
        PLACE_CHANNELS,
        DamageNet,
        Probabilities,
        instead_of,
        with_none,
    )
    from models.training.train_damage import WEIGHTS, damage_loss, draw, lift, place_of, platt, question
    from models.training.unfold import unfold

    FLOAT = Path(__file__).parents[2] / "models" / "training" / "float"

    def shard(folder: Path, number: int, photographs: int = 10, value: int | None = None) -> None:
        crop = np.full((photographs, 2), number if value is None else value, np.uint8)
        np.savez(folder / f"1_{number}_damage.npz", owner=np.arange(photographs), crop=crop)

    def test_a_pool_takes_in_what_comes_and_draws_nothing_that_is_held_out(tmp_path: Path) -> None:
        shard(tmp_path, 0)
        pool = Pool(tmp_path, "damage", "cpu", most=100)
        assert pool.taken == 10
        shard(tmp_path, 1)
        pool._looked = -10.0  # it looks once a second
        pool.take_in(seconds=1.0)
        assert pool.taken == 20
        drawn = pool.some(1000)
        assert not pool.held[drawn].any()
        assert len(pool.held_out()) == 2 * round(10 * (1 - HELD_OUT))
        assert set(pool.arrays["crop"][drawn, 0].tolist()) == {0, 1}

    def test_when_a_pool_is_full_the_newest_replace_the_oldest(tmp_path: Path) -> None:
        shard(tmp_path, 0)
        pool = Pool(tmp_path, "damage", "cpu", most=20)
        for number in (1, 2):
            shard(tmp_path, number)
            pool._looked = -10.0
            pool.take_in(seconds=1.0)
        assert pool.taken == 30
        assert set(pool.arrays["crop"][:, 0].tolist()) == {1, 2}

    def test_without_more_room_a_pool_holds_what_is_there(tmp_path: Path) -> None:
        for number in range(2):
            shard(tmp_path, number)
        assert len(Pool(tmp_path, "damage", "cpu").arrays["crop"]) == 20

    def bits(*names: str) -> int:
        return sum(1 << BITS.index(name) for name in names)

    def test_a_cell_is_asked_for_one_of_the_kinds_that_exclude_each_other() -> None:
        cells = [
            bits(),
            bits("line"),
            bits("crack"),
            bits("line", "crack"),
            bits("faint"),
            bits("line", "faint"),
            bits("hidden"),
        ]
        held = torch.tensor([[cells]], dtype=torch.uint8)[0]
        disc = torch.ones_like(held, dtype=torch.bool)
        true, asked = question(held, disc, ("line", "crack"))
        assert true.flatten().tolist() == [0, 1, 2, 2, 0, 1, 0]
        assert asked.flatten().tolist() == [True, True, True, True, False, True, False]
        assert question(held, disc, ("hidden",))[1].all()

    def test_every_channel_is_in_one_group_with_its_weights() -> None:
        assert tuple(name for group in EXCLUSIVE for name in group) == DAMAGE_CHANNELS
        assert {group: len(of) - 1 for group, of in WEIGHTS.items()} == {group: len(group) for group in EXCLUSIVE}

    def test_calibrated_chances_have_the_shares_that_are_true() -> None:
        """Maximum likelihood with a shift for each kind makes its mean chance its share: from memory, any textbook on
        logistic regression."""
        torch.manual_seed(1)
        logits = 2 * torch.randn(20_000, 2)
        true = torch.multinomial(torch.softmax(with_none(0.6 * logits + torch.tensor([-1.0, 0.5])), 1), 1)[:, 0]
        fitted = platt(logits, true)
        chance = torch.softmax(with_none(logits * fitted[0] + fitted[1]), 1)
        share = torch.bincount(true, minlength=3) / len(true)
        assert torch.allclose(chance.mean(0), share, atol=2e-3)
        assert torch.allclose(fitted, torch.tensor([[0.6, 0.6], [-1.0, 0.5]]), atol=0.06)

    def test_chances_lifted_by_weights_have_the_shares_that_are_true_by_those_weights() -> None:
        """As above: each cell's part in the gradient of a shift is its weight times chance less truth."""
        torch.manual_seed(1)
        logits, weights = 2 * torch.randn(20_000, 2), (4.0, 6.0, 24.0)
        true = torch.multinomial(torch.softmax(with_none(logits - 2), 1), 1)[:, 0]
        fitted = platt(logits, true, weights=weights)
        chance = torch.softmax(with_none(logits * fitted[0] + fitted[1]), 1)
        counts = torch.tensor(weights)[true]
        share = torch.bincount(true, counts, minlength=3) / counts.sum()
        assert torch.allclose((counts[:, None] * chance).sum(0) / counts.sum(), share, atol=2e-3)
        assert fitted[1, 1] > fitted[1, 0] > -2  # the rarer counts for more

    def test_a_net_made_ready_to_go_on_loses_less_by_the_weights_of_the_loss(tmp_path: Path) -> None:
        np.savez(
            tmp_path / "1_0_damage.npz",
            owner=np.arange(10),
            crop=np.random.default_rng(1).integers(0, 256, (10, 64, 64, 3), np.uint8),
            truth=np.zeros((10, 32, 32), np.uint8),
            corner=np.tile(np.float32([20, 20, 120]), (10, 1)),
            data_side=np.ones(10, np.uint8),
            blur=np.ones(10, np.float32),
        )
        pool = Pool(tmp_path, "damage", "cpu")
        torch.manual_seed(1)
        net = DamageNet()
        image, place, _, disc = draw(pool, torch.arange(10), changed=False)
        unfold(net, FLOAT / "damage.onnx", [(image, place)])
        with torch.no_grad():
            said = net(image, place)
            line = said[:, 0] - said[:, 0].median() + torch.logit(torch.rand(said[:, 0].shape)) > 0
            pool.arrays["truth"] = line.to(torch.uint8) << BITS.index("line")
            before = float(damage_loss(said, pool.arrays["truth"], disc)[0])
        lift(net, pool)
        with torch.no_grad():
            assert float(damage_loss(net(image, place), pool.arrays["truth"], disc)[0]) < 0.9 * before

    def test_of_two_kinds_that_exclude_each_other_the_chances_are_a_softmax_with_neither() -> None:
        logits = 2 * torch.randn(1000, 2)
        chance = instead_of(torch.sigmoid(logits))
        assert torch.allclose(chance, torch.softmax(with_none(logits), 1)[:, 1:], atol=1e-5)

    def test_a_kind_that_is_never_there_keeps_its_logits() -> None:
        fitted = platt(torch.randn(100, 1), torch.zeros(100, dtype=torch.long))
        assert fitted.flatten().tolist() == [1.0, 0.0]

    def test_looking_about_changes_nothing_before_it_is_learned() -> None:
        net = DamageNet().eval()
        image, place = torch.rand(1, 3, 64, 64), torch.rand(1, PLACE_CHANNELS, 16, 16)
        with torch.no_grad():
            before = net(image, place)
            net.around = torch.nn.Sequential()
            assert torch.allclose(net(image, place), before, atol=1e-6)

    def test_an_exported_net_says_the_same_when_training_goes_on_from_it() -> None:
        """Against ONNX Runtime; and what it says hardly moves when its normalisations go by the batch that they see."""
        generator = torch.Generator().manual_seed(1)
        image = F.avg_pool2d(torch.rand(4, 3, 192, 192, generator=generator), 5, 1, 2)
        corner = torch.tensor([[-60.0, -20, 120], [0, 0, 120], [20, -40, 120], [-30, 10, 120]])
        place = place_of(corner, torch.tensor([1.0, 1, 0, 0.5]), 48)
        exported = FLOAT / "damage.onnx"
        net = DamageNet()
        unfold(net, exported, [(image, place)])
        with torch.no_grad():
            ours = Probabilities(net)(image, place)
            by_batch = net.train()(image, place) - net.eval()(image, place)
        session = onnxruntime.InferenceSession(exported)
        for k in range(len(image)):
            given = {"image": image[k : k + 1].numpy(), "place": place[k : k + 1].numpy()}
            assert np.abs(ours[k : k + 1].numpy() - session.run(None, given)[0]).max() < 1e-4
        assert float(by_batch.abs().mean()) < 0.05

    def test_an_export_of_another_net_is_refused() -> None:
        with pytest.raises(ValueError, match="not an export of DamageNet"):
            unfold(
                DamageNet(), FLOAT / "rings.onnx", [(torch.zeros(1, 3, 64, 64), torch.zeros(1, PLACE_CHANNELS, 16, 16))]
            )
