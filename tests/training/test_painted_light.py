"""The light that training lays on pictures; tried only where torch happens to be."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable

import numpy as np
import pytest

from discscan.flatten.grid import PX_PER_MM
from discscan.locate.reading import ANGLES, RADII

if importlib.util.find_spec("torch"):
    import torch
    from scipy.stats import norm
    from torch import Tensor

    from models.training import train_damage, train_face
    from models.training.damage_crops import BITS
    from models.training.lit import Lit, border, lit_pieces, lit_views
    from models.training.painted_light import ON_PIECES, ON_VIEWS, shone_on
    from models.training.train_damage import without_burnt
    from models.training.train_face import LABEL_GLOSS, QUESTIONS

    SIDE = 192

    def pieces(count: int, radius_mm: float = 25.0) -> tuple[Tensor, Tensor, Tensor]:
        """Even pieces of a disc of 120 mm, their corners, from that radius outwards, and blurs."""
        torch.manual_seed(4)
        corner = torch.tensor([[radius_mm, -SIDE / 2 / PX_PER_MM, 120.0]]).expand(count, -1)
        return torch.full((count, 3, SIDE, SIDE), 0.5), corner, torch.ones(count)

    def views(count: int) -> Tensor:
        torch.manual_seed(4)
        return torch.full((count, 3, ANGLES, len(RADII)), 0.5)

    class TestInOtherLight:
        def test_labels_are_left_as_they_are_and_most_data_sides_are_not(self) -> None:
            image, corner, blur = pieces(40)
            up = torch.arange(40) % 2
            done = train_damage.in_other_light(image.clone(), corner, blur, up)
            changed = (done != image).flatten(1).any(1)
            assert not changed[up == 0].any()
            assert float(changed[up == 1].float().mean()) > 0.6
            assert float(done.min()) >= 0 and float(done.max()) <= 1

        def test_the_same_piece_is_lit_otherwise_the_next_time(self) -> None:
            image, corner, blur = pieces(40)
            first, second = (train_damage.in_other_light(image.clone(), corner, blur, torch.ones(40)) for _ in range(2))
            assert (first != second).flatten(1).any(1).float().mean() > 0.6

        def test_most_discs_are_lit_within_their_mirrors(self) -> None:
            """What is mirrored in a disc does not reach amid its hole, of 15 mm."""
            changed = ((shone_on(lit_views(views(40), torch.full((40,), 60.0)), ON_VIEWS) - 0.5).abs() > 0.02).any(1)
            assert float(changed.flatten(1).any(1).float().mean()) > 0.5
            assert not changed[..., : int((RADII < 4.5 / 60).sum())].any()

        def test_what_is_no_disc_is_left_as_it_is(self) -> None:
            label = torch.full((40, len(QUESTIONS)), -1)
            label[:, QUESTIONS.index("disc")] = torch.arange(40) % 2
            changed = (train_face.in_other_light(views(40), label) != 0.5).flatten(1).any(1)
            assert not changed[::2].any()
            assert changed[1::2].any()

        def test_a_label_shines_less_than_a_data_side(self) -> None:
            label = torch.full((80, len(QUESTIONS)), -1)
            label[:, QUESTIONS.index("disc")] = 1
            label[:, QUESTIONS.index("data")] = torch.arange(80) % 2
            change = (train_face.in_other_light(views(80), label) - 0.5).abs().flatten(1).amax(1)
            assert 0.02 < float(change[::2].max()) <= LABEL_GLOSS * 0.5
            assert float(change[1::2].max()) > LABEL_GLOSS

        @pytest.mark.parametrize("add", [add for _, add in ON_PIECES], ids=lambda add: add.__name__)
        def test_each_kind_of_light_changes_pieces_and_stays_within_what_a_picture_holds(
            self, add: Callable[[Lit], Lit]
        ) -> None:
            seen = False
            for radius_mm in (10.0, 25.0, 45.0):  # the hub, the data, the rim
                before = lit_pieces(*pieces(24, radius_mm))
                done = add(before).image
                assert done.isfinite().all()
                assert done.min() >= 0
                assert done.max() <= 1
                seen |= bool((done != before.image).any())
            assert seen

    class TestShapes:
        def test_a_soft_border_is_a_step_blurred_by_a_gaussian(self) -> None:
            """Within 0.02 of its integral, as scipy has it."""
            away = torch.linspace(-6, 6, 121)
            assert np.abs(border(away, torch.tensor(2.0)).numpy() - norm.cdf(away.numpy(), scale=2)).max() < 0.02

        @pytest.mark.parametrize("scale", [3.0, 12.0])
        def test_smooth_noise_is_of_unit_spread_and_forgets_itself_within_its_scale(self, scale: float) -> None:
            field = lit_pieces(*pieces(20)).noise(scale)
            assert float(field.std()) == pytest.approx(1, abs=0.02)
            shifts = {share: round(share * scale) for share in (0.34, 2)}
            alike = {
                share: float((field[..., shift:] * field[..., : SIDE - shift]).mean())
                for share, shift in shifts.items()
            }
            assert alike[0.34] > 0.6
            assert abs(alike[2]) < 0.15

        def test_knots_are_met_and_joined_by_straight_lines(self) -> None:
            """As numpy.interp has it."""
            table = torch.tensor([[3.0, 1.0, 4.0, 1.5]])
            place = torch.linspace(0, 1, SIDE).expand(1, 1, SIDE, SIDE)
            found = lit_pieces(*pieces(1)).steps(place, torch.full((1, 1, 1, 1), 4.0), table)[0, 0, 0].numpy()
            assert found == pytest.approx(np.interp(np.linspace(0, 3, SIDE), range(4), table[0].numpy()), abs=1e-4)

    def test_a_line_under_burnt_out_or_black_light_is_not_asked_for_and_all_else_is() -> None:
        line, dust, faint = (1 << BITS.index(name) for name in ("line", "dust", "faint"))
        bits = torch.tensor([[[line, line, line], [dust, 0, line | dust]]], dtype=torch.uint8)
        grey = torch.tensor([[[1.0, 0.0, 0.5], [1.0, 1.0, 1.0]]]).repeat_interleave(2, 1).repeat_interleave(2, 2)
        told = without_burnt(bits, grey[:, None].expand(-1, 3, -1, -1))
        assert told.tolist() == [[[faint, faint, line], [dust, 0, faint | dust]]]
