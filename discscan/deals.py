"""Every record about money that crosses a wall: acts and advice, prices seen, several discs at once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal

# -- what one item is worth -------------------------------------------------------------------------------------------

ActName = Literal["leave", "sell-for-spares", "sell-as-it-is", "test-first", "polish-then-sell"]


@dataclass(frozen=True)
class Act:
    """What comes of one thing that may be done with a disc.

    Attributes:
        gain: expected, of every outcome, the money put in taken off.
        low, high: nine outcomes in ten lie between them; stretched to hold `gain`.
        loss_chance: that money is lost.
        return_per_unit: expected money back for each unit put in; None where nothing is put in.
        days, gain_per_day: until it is sold; None where not told, or nothing is sold.
    """

    name: ActName
    gain: Decimal
    low: Decimal
    high: Decimal
    loss_chance: Decimal
    return_per_unit: Decimal | None
    days: Decimal | None
    gain_per_day: Decimal | None


@dataclass(frozen=True)
class Forecast:
    """What a scan says about one disc: the chances that it plays as it is, and after a polish where one is possible.

    Attributes:
        low, high: 90 % interval of `chance`.
        may_spin: False where a crack is seen or suspected.
        settled: False where the scan asks for another photograph.
    """

    chance: Decimal
    low: Decimal
    high: Decimal
    chance_polished: Decimal | None
    may_spin: bool
    settled: bool


@dataclass(frozen=True)
class Tested:
    """What to do for each answer of a play test, and the most to pay for a disc that passed it."""

    passed: ActName
    failed: ActName
    most_to_pay_passed: Decimal


@dataclass(frozen=True)
class Ratios:
    """The traders' figures of the best act at the price asked; None where they have no meaning.

    Attributes:
        margin, markup: the gain as a share of what comes back, and of what was put in.
        yearly: the gain on the money put in, were it repeated for a year; 0.2 is 20 %.
        stake: the share of all one's cash beyond which betting on such a disc slows its growth (Kelly).
    """

    margin: Decimal | None
    markup: Decimal | None
    yearly: Decimal | None
    stake: Decimal | None


@dataclass(frozen=True)
class Advice:
    """The acts, the best first.

    Attributes:
        tested: None where a disc must not be spun.
        most_to_pay: for the disc, so that price and fees come back `multiple` times by one of the acts without a
            test; never below zero.
        pays_by: the act by which they do.
        most_to_pay_by_best: the same by the best act without a test, whose expected gain is highest.
        polish_fee: None where a polish is out of the question, or nothing was told of one.
        multiple: how often the money put in should come back, and whether the house's rule has lowered it.
        polish_break_even_chance: of playing after the polish, at which polishing equals the best other act without
            a test; None where no chance would do.
        value_of_test: of knowing by a play test before anything is decided, buying included.
        value_of_photo: of knowing the chance itself better, at most; None where its interval is not known.
        at_low, at_high: the best untested act at either end of that interval.
    """

    acts: tuple[Act, ...]
    asked: Decimal | None
    tested: Tested | None
    most_to_pay: Decimal
    pays_by: ActName
    most_to_pay_by_best: Decimal
    polish_fee: Decimal | None
    multiple: Decimal
    multiple_lowered: bool
    polish_break_even_chance: Decimal | None
    value_of_test: Decimal
    value_of_photo: Decimal | None
    at_low: ActName | None
    at_high: ActName | None
    ratios: Ratios

    @property
    def best(self) -> Act:
        return self.acts[0]

    @property
    def best_untested(self) -> Act:
        return next(act for act in self.acts if act.name != "test-first")


# -- observed prices --------------------------------------------------------------------------------------------------

Completeness = Literal["complete", "disc", "case", "unstated"]
Status = Literal["sold", "asking"]


@dataclass(frozen=True)
class Fault:
    """A row that was skipped: its line in the file, a name of what is wrong, and the text that it is about."""

    line: int
    what: str
    text: str = ""


@dataclass(frozen=True)
class Observation:
    """A price that somebody saw."""

    line: int
    item: str
    price: Decimal
    day: date
    status: Status
    completeness: Completeness
    days_listed: int | None


@dataclass(frozen=True)
class PriceBook:
    """A file of observed prices: what could be read, and every row that could not. One currency."""

    currency: str
    seen: tuple[Observation, ...]
    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class ObservedPrice:
    """What an item sells for, as far as sales tell.

    Attributes:
        price: the weighted median of sales, None for "no price".
        low, high: 90 % interval of the median; None where the sales are too few for one.
        quarter, three_quarters: half of the sales lie between them.
        sold: how many sales it rests on.
        newest: day of the last sale.
        stale: the last sale is too long ago.
        from_complete: the price is not of sales but the trade's share of the complete item's price.
        days: median of days until sold, where told.
        asking, asking_middle: how many asking prices there are, and their median; used for nothing.
    """

    item: str
    completeness: Completeness
    price: Decimal | None
    low: Decimal | None
    high: Decimal | None
    quarter: Decimal | None
    three_quarters: Decimal | None
    sold: int
    newest: date | None
    stale: bool
    from_complete: bool
    days: int | None
    asking: int
    asking_middle: Decimal | None


# -- several items ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Pick:
    """One find that is to be taken, with its line in the file, and what then to do with it."""

    line: int
    item: str
    act: ActName
    cost: Decimal
    gain: Decimal
    days: Decimal | None


@dataclass(frozen=True)
class Basket:
    """Which finds to take for the money at hand; `left` are the others."""

    budget: Decimal
    picks: tuple[Pick, ...]
    left: tuple[str, ...]
    cost: Decimal
    gain: Decimal


@dataclass(frozen=True)
class Box:
    """A mixed box at one price.

    Attributes:
        gain: expected, the price taken off.
        most_to_pay: so that the money put in comes back the wanted number of times.
        carriers: the fewest items that bring the price back between them, the best first; empty where all do not.
        rest: how many others there are.
        without_best: the gain if the best item turned out to be worth nothing.
    """

    price: Decimal
    gain: Decimal
    most_to_pay: Decimal
    multiple: Decimal
    carriers: tuple[Pick, ...]
    rest: int
    without_best: Decimal


@dataclass(frozen=True)
class Trip:
    """Which discs to take to the shop.

    Attributes:
        picks: those to take, or, where `gain` is not above zero, those that come nearest to paying. A pick's `gain`
            is what the polish adds before its fee.
        gain: of the whole trip, fees and the cost of going taken off.
        more_needed: how many further discs as good as the best of them would make it pay; 0 where it does, None where
            no number would.
    """

    picks: tuple[Pick, ...]
    left: tuple[str, ...]
    fee_each: Decimal
    going: Decimal
    gain: Decimal
    more_needed: int | None


@dataclass(frozen=True)
class Bench:
    """A polishing machine of one's own against the shop.

    Attributes:
        saving_each: on each disc; not above zero, it never pays.
        discs_a_month: from which number on it pays for itself within `months`; None where never.
    """

    price: Decimal
    months: int
    saving_each: Decimal
    discs_a_month: int | None
