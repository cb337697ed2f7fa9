"""Worked examples, to the cent. Each names the text behind its formula; all are from memory unless said otherwise."""

from __future__ import annotations

from decimal import Decimal

import pytest

from discscan.money import cents
from discscan.worth import Terms, advise
from discscan.worth.acts import best_untested, expected_gain
from discscan.worth.advise import polish_break_even_chance, value_of_photo
from discscan.worth.ratios import growth_per_day, kelly_stake, margin, markup, yearly

D = Decimal
UNSURE = Terms(sells=D(12), chance=D("0.6"), asked=D(3))


def gains(advice: object) -> dict[str, Decimal]:
    return {act.name: act.gain for act in advice.acts}  # type: ignore[attr-defined]


def test_an_imperfect_test_adds_42_cents_to_buying_blind() -> None:
    """Raiffa and Schlaifer 1961; Howard 1966: P(+) 0.62, P(plays | +) 0.87097; 0.62 * 7.45161 = 4.62 against 4.20."""
    advice = advise(UNSURE, sensitivity=D("0.9"), specificity=D("0.8"))
    assert gains(advice) == {"test-first": D("4.62"), "sell-as-it-is": D("4.20"), "leave": D("0.00")}
    assert advice.value_of_test == D("0.42")
    assert advice.best.name == "test-first"
    assert advice.tested is not None
    assert (advice.tested.passed, advice.tested.failed) == ("sell-as-it-is", "leave")


def test_a_perfect_test_is_worth_1_20() -> None:
    """Howard 1966: 0.6 * 9 - 4.2."""
    advice = advise(UNSURE, sensitivity=D(1), specificity=D(1))
    assert advice.value_of_test == D("1.20")


@pytest.mark.parametrize(("return_cost", "chance"), [(D(0), D(1) / 3), (D(2), D("6") / 14)])
def test_a_polish_pays_from_one_third_on(return_cost: Decimal, chance: Decimal) -> None:
    """Pauker and Kassirer 1980: 4 / (15 - 3); where a failed polish leaves 1 instead of 3, (4 + 3 - 1) / (15 - 1).

    The disc is known not to play, so that its other use, for spares, brings 3 in either case.
    """
    terms = Terms(
        sells=D(15), sells_spoiled=D(3), chance=D(0), polish_fee=D(4), chance_polished=D("0.5"), return_cost=return_cost
    )
    found = polish_break_even_chance(terms)
    assert found is not None
    assert found == pytest.approx(chance)
    assert (found == pytest.approx(D("0.42857"), abs=D("0.00001"))) == bool(return_cost)


def test_money_back_three_times_gives_4_50_and_with_a_fee_2_50() -> None:
    """Common practice, no source: 0.8 * (24 * 0.87 - 4) = 13.504; 13.504 / 3, and less a fee of 2."""
    as_it_is = Terms(sells=D(24), chance=D("0.8"), selling_rate=D("0.13"), postage=D(4))
    assert expected_gain(best_untested(as_it_is)[1]) == D("13.504")
    assert advise(as_it_is).most_to_pay == D("4.50")
    polished = Terms(
        sells=D(24), chance=D(0), chance_polished=D("0.8"), polish_fee=D(2), selling_rate=D("0.13"), selling_fixed=D(4)
    )
    assert advise(polished).most_to_pay == D("2.50")
    assert advise(polished).pays_by == "polish-then-sell"


def test_three_times_the_cost_is_a_margin_of_two_thirds_and_a_markup_of_200_percent() -> None:
    """Levy and Weitz, Retailing Management."""
    assert margin(cost=D("4.50"), back=D("13.50")) == pytest.approx(D("0.667"), abs=D("0.0005"))
    assert markup(cost=D("4.50"), back=D("13.50")) == 2


def test_twenty_percent_in_thirty_days_is_819_percent_a_year() -> None:
    """Compound interest: 1.2 ** (365 / 30) - 1."""
    assert yearly(gain_share=D("0.2"), days=D(30)) == pytest.approx(D("8.19"), abs=D("0.005"))


def test_threefold_in_two_days_grows_182_times_as_fast_as_in_a_year() -> None:
    fast, slow = growth_per_day(multiple=D(3), days=D(2)), growth_per_day(multiple=D(3), days=D(365))
    assert fast == pytest.approx(D("0.5493"), abs=D("0.00005"))
    assert slow == pytest.approx(D("0.00301"), abs=D("0.000005"))
    assert fast / slow == pytest.approx(D("182.5"))


def test_even_odds_of_three_for_one_deserve_a_quarter_of_the_cash() -> None:
    """Kelly 1956, Bell Syst. Tech. J. 35: p 0.5, b 2; the growth there is 0.05889 a bet."""
    stake = kelly_stake(chance=D("0.5"), win=D(2))
    assert stake == D("0.25")
    growth = D("0.5") * (1 + 2 * stake).ln() + D("0.5") * (1 - stake).ln()
    assert growth == pytest.approx(D("0.05889"), abs=D("0.000005"))
    assert advise(Terms(sells=D(15), chance=D("0.5"), asked=D(5))).ratios.stake == D("0.25")


def test_where_only_a_part_is_lost_the_stake_still_grows_fastest() -> None:
    """The growth itself, looked at on either side of the stake."""
    chance, win, lose = 0.4, 2.0, 0.6
    best = float(kelly_stake(chance=D(str(chance)), win=D(str(win)), lose=D(str(lose))))

    def growth(stake: float) -> float:
        return chance * float(D(1 + stake * win).ln()) + (1 - chance) * float(D(1 - stake * lose).ln())

    assert 0 < best < 1
    assert growth(best) > max(growth(best - 0.01), growth(best + 0.01))


def test_a_better_photo_is_worth_what_it_may_change() -> None:
    """Keefer and Bodily 1983: weights 0.185, 0.63, 0.185. At a price of 6, selling 10: gains -3, -0.5, 2.5 against 0.

    Mean chance 0.185 * 0.3 + 0.63 * 0.55 + 0.185 * 0.85 = 0.55925, so blind -0.4075, which is left; informed 0.4625.
    """
    terms = Terms(sells=D(10), chance=D("0.55"), asked=D(6))
    assert value_of_photo(terms, interval=(D("0.3"), D("0.85"))) == D("0.185") * D("2.5")
    assert cents(value_of_photo(terms, interval=(D("0.55"), D("0.55")))) == 0
