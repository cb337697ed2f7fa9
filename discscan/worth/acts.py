"""What may come of each act: outcomes with their chances, the money put in and the money back."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from discscan.calibration import limit
from discscan.deals import Act, ActName
from discscan.errors import BadTerms
from discscan.money import ONE, ZERO, cents


@dataclass(frozen=True, kw_only=True)
class Terms:
    """All that is known about the sale of one disc. Costs are of one sale.

    Attributes:
        sells: what it brings when it plays.
        sells_spoiled: what it brings when it turns out not to play, sold as such.
        chance: that it plays as it is.
        chance_polished: that it plays after a polish; None where it cannot be polished, or nobody knows.
        selling_rate: the share of the price that selling costs; `selling_fixed` comes on top of it.
        return_cost: all that a returned sale costs (both postages, fees that are not given back).
        days: until it is sold, when put on sale now.
        asked: its price, while it is not yet bought.
        may_spin: False for a cracked disc, which is neither tested nor polished.

    Raises:
        BadTerms: a disc that fails would bring more than one that plays, or an amount has parts of a cent.
    """

    sells: Decimal
    chance: Decimal
    sells_spoiled: Decimal = ZERO
    polish_fee: Decimal = ZERO
    chance_polished: Decimal | None = None
    selling_rate: Decimal = ZERO
    selling_fixed: Decimal = ZERO
    postage: Decimal = ZERO
    return_cost: Decimal = ZERO
    days: Decimal | None = None
    asked: Decimal | None = None
    may_spin: bool = True

    def __post_init__(self) -> None:
        if self.sells_spoiled > self.sells:
            raise BadTerms(
                "It would bring more when it does not play than when it plays.", remedy="Are the two prices swapped?"
            )
        amounts = self.sells, self.sells_spoiled, self.polish_fee, self.selling_fixed, self.postage, self.return_cost
        if any(cents(amount) != amount for amount in (*amounts, self.price)):
            raise BadTerms("An amount has parts of a cent.", remedy="Round it to the cent.")

    @property
    def price(self) -> Decimal:
        return self.asked or ZERO

    def net(self, sold_for: Decimal) -> Decimal:
        """What of a price is left after fees and postage."""
        return sold_for * (ONE - self.selling_rate) - self.selling_fixed - self.postage

    @property
    def plays(self) -> Decimal:
        """What is left of the sale of a disc that plays."""
        return self.net(self.sells)

    @property
    def fails(self) -> Decimal:
        """What is left when a disc sold as playable comes back and is sold as spoiled, or thrown away."""
        return max(ZERO, self.net(self.sells_spoiled)) - self.return_cost


@dataclass(frozen=True)
class Outcome:
    """One thing that may happen."""

    chance: Decimal
    price: Decimal
    fee: Decimal
    back: Decimal
    days: Decimal | None = None

    @property
    def put_in(self) -> Decimal:
        return self.price + self.fee

    @property
    def gain(self) -> Decimal:
        return self.back - self.put_in


Outcomes = tuple[Outcome, ...]
"""All that may happen after an act; the chances add up to 1."""

UNTESTED: tuple[ActName, ...] = ("leave", "sell-for-spares", "sell-as-it-is", "polish-then-sell")
"""From the least trouble to the most, which decides between equals."""


def outcomes_of(act: ActName, terms: Terms) -> Outcomes | None:
    """What may come of one of the `UNTESTED` acts; None where it is not open."""
    sale = Outcome(ONE, terms.price, ZERO, terms.plays, terms.days)
    match act:
        case "leave":
            return (Outcome(ONE, ZERO, ZERO, ZERO),)
        case "sell-for-spares":
            spares = replace(sale, back=terms.net(terms.sells_spoiled))
            return (spares,) if terms.sells_spoiled > ZERO else None
        case "sell-as-it-is":
            return _gamble(terms.chance, sale, terms.fails)
        case "polish-then-sell" if terms.chance_polished is not None and terms.may_spin:
            days = None if terms.days is None else terms.days + house("polish_days")
            polished = replace(sale, fee=terms.polish_fee, days=days)
            return _gamble(terms.chance_polished, polished, terms.fails)
    return None


def _gamble(chance: Decimal, sale: Outcome, fails: Decimal) -> Outcomes:
    return replace(sale, chance=chance), replace(sale, chance=ONE - chance, back=fails)


def expected_gain(outcomes: Outcomes) -> Decimal:
    return sum((one.chance * one.gain for one in outcomes), ZERO)


def open_acts(terms: Terms) -> dict[ActName, Outcomes]:
    """The `UNTESTED` acts that are open, in their order, with what may come of each."""
    return {act: outcomes for act in UNTESTED if (outcomes := outcomes_of(act, terms)) is not None}


def best_untested(terms: Terms) -> tuple[ActName, Outcomes]:
    """The act with the highest expected gain; of equals, the one with the least trouble."""
    return max(open_acts(terms).items(), key=lambda one: expected_gain(one[1]))


def summarised(name: ActName, outcomes: Outcomes) -> Act:
    """The act as a person or program reads it, rounded to cents."""
    gain, put_in = expected_gain(outcomes), sum((one.chance * one.put_in for one in outcomes), ZERO)
    days = _expected_days(outcomes)
    return Act(
        name=name,
        gain=cents(gain),
        low=cents(min(gain, _quantile(outcomes, Decimal("0.05")))),
        high=cents(max(gain, _quantile(outcomes, Decimal("0.95")))),
        loss_chance=sum((one.chance for one in outcomes if one.gain < 0), ZERO),
        return_per_unit=(gain + put_in) / put_in if put_in > 0 else None,
        days=days,
        gain_per_day=cents(gain / days) if days else None,
    )


def most_to_pay(outcomes: Outcomes, *, multiple: Decimal) -> Decimal:
    """The price at which price and fees come back `multiple` times; never below zero.

    References:
        common practice, no source: every unit of money spent should bring back three.
    """
    back = sum((one.chance * one.back for one in outcomes), ZERO)
    fees = sum((one.chance * one.fee for one in outcomes), ZERO)
    return max(ZERO, back / multiple - fees)


def _expected_days(outcomes: Outcomes) -> Decimal | None:
    """Mean of days until it is sold, over the outcomes in which it is."""
    sold = [(one.chance, one.days) for one in outcomes if one.days is not None]
    chance = sum((chance for chance, _ in sold), ZERO)
    return sum((chance * days for chance, days in sold), ZERO) / chance if chance > 0 else None


def _quantile(outcomes: Outcomes, share: Decimal) -> Decimal:
    """The least gain that is not exceeded with this chance."""
    reached = ZERO
    ranked = sorted(outcomes, key=lambda one: one.gain)
    for one in ranked:
        reached += one.chance
        if reached >= share:
            return one.gain
    return ranked[-1].gain


def house(name: str) -> Decimal:
    """A limit of calibration/house.toml as an exact number."""
    return Decimal(repr(limit(name).value))
