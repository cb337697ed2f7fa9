"""Every sentence about money, for somebody who holds a disc and a purse."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from decimal import Decimal

from discscan.deals import (
    Act,
    ActName,
    Advice,
    Basket,
    Bench,
    Box,
    Completeness,
    Fault,
    ObservedPrice,
    Pick,
    PriceBook,
    Trip,
)
from discscan.report.reasons import caution

ACT: Mapping[ActName, str] = {
    "leave": "leave it",
    "sell-for-spares": "sell it for spares or as a filler",
    "sell-as-it-is": "sell it as it is, its damage told",
    "test-first": "test it first",
    "polish-then-sell": "have it polished, then sell it",
}
STATE: Mapping[Completeness, str] = {
    "complete": "complete", "disc": "disc only", "case": "case only", "unstated": "not stated",
}  # fmt: skip
NO_PRICE = "no price"

FAULTS: Mapping[str, str] = {
    "quote-left-open": "Its quotes do not match.",
    "too-many-fields": "It has more than {text} fields. A price with a decimal comma needs quotes around it.",
    "no-item": "It does not say which item.",
    "no-price": "It has no price.",
    "bad-price": "This is no price: {text}.",
    "bad-share": "This is no share from 0 to 1: {text}.",
    "bad-days": "This is no number of days: {text}.",
    "bad-date": "This is no date: {text}.",
    "no-date": "It has no date.",
    "either-date": "This date may be read two ways: {text}. Write 2026-11-25, or say --dates.",
    "future-date": "This day has not come yet: {text}.",
    "other-currency": "It is in {text}, and a table keeps to one currency.",
    "bad-status": "It must say sold or asking, not: {text}.",
    "bad-completeness": "It must say complete, disc only or case only, not: {text}.",
    "bad-terms": "It would bring more when it does not play than when it plays.",
    "no-chance": "It has no chance that it plays, and no photo that was scanned.",
    "no-such-photo": "The report has no forecast for this photo: {text}.",
    "no-event": "It does not say what happened.",
    "bad-event": "It must say such as bought, polished, tested or sold, not: {text}.",
    "bad-outcome": "Its outcome must be yes or no, not: {text}.",
    "bad-barcode": "{text}",
    "not-taken": "Such a row has no {text}.",
    "refused": "{text}",
}

ACTS_HEAD = ("What to do", "Gain", "9 times in 10", "Loses", "Back per 1", "Days", "Gain a day")
PRICES_HEAD = ("Item", "State", "Price", "Likely", "Half sell at", "Sold", "Last sale", "Days", "Asking (not used)")
PICKS_HEAD = ("Item", "What to do", "Costs", "Gain", "Days")
TRIP_HEAD = ("Item", "Polish adds", "Days")


def money(amount: Decimal) -> str:
    return f"{amount:.2f}"


def percent(share: Decimal) -> str:
    if 0 < share < Decimal("0.01"):
        return "< 1 %"
    return f"{100 * share:.0f} %"


def fault(one: Fault) -> str:
    """The sentence for a row that was skipped."""
    return f"Line {one.line} is left out. {fault_words(one)}"


def fault_words(one: Fault) -> str:
    """The same without its line, to stand beside the row."""
    sentence = FAULTS[one.what]
    text = one.text if sentence == "{text}" else one.text[:80]
    return sentence.format(text=text)


# -- one disc ---------------------------------------------------------------------------------------------------------


def advice_lines(advice: Advice, *, settled: bool = True) -> Iterator[str]:
    """What to do, the most to pay, and what it rests on; the table of acts goes below."""
    yield _best(advice)
    if advice.best.name == "test-first" and advice.tested is not None:
        tested, untested = advice.tested, advice.best_untested
        yield f"If it plays, {ACT[tested.passed]}; if it does not, {ACT[tested.failed]}."
        yield f"Without a test: {ACT[untested.name]}, expected gain {money(untested.gain)}."
    yield from _payable(advice)
    if advice.polish_fee is not None:
        yield _break_even(advice.polish_break_even_chance)
    if advice.value_of_test > 0:
        yield f"To know by a play test whether it plays is worth {money(advice.value_of_test)}."
    if advice.value_of_photo is not None:
        yield from _firmness(advice, advice.value_of_photo, settled)
    if advice.asked is not None:
        yield from _ratios(advice)


def advice_cautions(advice: Advice) -> list[str]:
    """About safety, for the act that is advised."""
    if advice.tested is None:
        return [caution("do-not-spin")]
    advised = {advice.best.name, advice.best_untested.name}
    if advice.best.name == "test-first":
        advised |= {advice.tested.passed, advice.tested.failed}
    cautions = {"test-first": "test-by-playing", "polish-then-sell": "polish-cautions"}
    return [caution(cautions[act]) for act in cautions if act in advised]


def act_rows(advice: Advice) -> list[tuple[str, ...]]:
    """The acts under `ACTS_HEAD`, the best first."""
    return [_act_row(act) for act in advice.acts]


def _act_row(act: Act) -> tuple[str, ...]:
    between = money(act.low) if act.low == act.high else f"{money(act.low)} to {money(act.high)}"
    return (
        ACT[act.name],
        money(act.gain),
        between,
        percent(act.loss_chance),
        "" if act.return_per_unit is None else f"{act.return_per_unit:.2f}",
        _days(act.days),
        "" if act.gain_per_day is None else money(act.gain_per_day),
    )


def _break_even(chance: Decimal | None) -> str:
    if chance is None:
        return "A polish cannot pay here, whatever its chance."
    return f"A polish pays where the chance that it plays after it is {percent(chance)} or more."


def _best(advice: Advice) -> str:
    best, others = advice.best, advice.acts[1:]
    said = ACT[best.name].upper()
    if best.name == "leave":
        return f"{said}: nothing else is expected to gain anything."
    if best.name == "test-first" and advice.asked:
        said += ", BEFORE YOU PAY"
    next_best = max(others, key=lambda act: act.gain)
    line = f"{said}: expected gain {money(best.gain)}"
    more = best.gain - next_best.gain
    return f"{line}, {money(more)} more than to {ACT[next_best.name]}." if more > 0 else f"{line}."


def _payable(advice: Advice) -> Iterator[str]:
    times = f"{advice.multiple.normalize():f} times"
    why = ", not 3 times, since it is dear and sells fast" if advice.multiple_lowered else ""
    line = f"The most to pay: {money(advice.most_to_pay)}, so that the money put in comes back {times}{why}"
    untested = advice.best_untested.name
    if advice.most_to_pay_by_best < advice.most_to_pay:
        line += f", if you {ACT[advice.pays_by]}; if you {ACT[untested]}, {money(advice.most_to_pay_by_best)}"
    yield f"{line}."
    if advice.tested is not None and advice.tested.most_to_pay_passed > advice.most_to_pay:
        yield f"Tested and found to play, it is worth paying up to {money(advice.tested.most_to_pay_passed)}."
    if advice.asked is not None:
        over = advice.asked - advice.most_to_pay
        yield f"Asked {money(advice.asked)}: {f'{money(over)} too much' if over > 0 else 'that is within it'}."


def _firmness(advice: Advice, value_of_photo: Decimal, settled: bool) -> Iterator[str]:
    if not settled:
        yield "The scan asks for another photo: this one does not settle its chances."
    ends = (("low", advice.at_low), ("high", advice.at_high))
    moved = [f"{ACT[act]} at its {end} end" for end, act in ends if act and act != advice.best_untested.name]
    if moved:
        yield f"The forecast is not sure enough to settle it: best without a test would be to {' and to '.join(moved)}."
    if value_of_photo > 0:
        yield f"A better photo is worth {money(value_of_photo)} at most."


def _ratios(advice: Advice) -> Iterator[str]:
    ratios = advice.ratios
    said = []
    if ratios.margin is not None and ratios.markup is not None:
        said.append(f"margin {100 * ratios.margin:.1f} %, markup {100 * ratios.markup:.1f} %")
    if ratios.yearly is not None:
        said.append("more than a hundredfold a year" if ratios.yearly > 100 else f"{100 * ratios.yearly:.0f} % a year")
    if ratios.stake is not None and ratios.stake < 1:
        said.append(f"of all your cash, stake {100 * ratios.stake:.0f} % at most")
    if said and advice.best_untested.name != "leave":
        yield f"At that price ({ACT[advice.best_untested.name]}): {'; '.join(said)}."


def _days(days: Decimal | None) -> str:
    return "" if days is None else f"{days:.0f}"


# -- prices -----------------------------------------------------------------------------------------------------------


def price_rows(prices: Sequence[ObservedPrice]) -> list[tuple[str, ...]]:
    """Under `PRICES_HEAD`."""
    return [
        (
            one.item,
            STATE[one.completeness],
            _price(one),
            _between(one.low, one.high),
            _between(one.quarter, one.three_quarters),
            "" if one.from_complete else str(one.sold),
            "" if one.newest is None or one.from_complete else one.newest.isoformat(),
            "" if one.days is None else str(one.days),
            f"{one.asking} at {money(one.asking_middle)}" if one.asking_middle is not None else "",
        )
        for one in prices
    ]


def price_notes(prices: Sequence[ObservedPrice]) -> Iterator[str]:
    """What to beware of in these prices, a sentence each."""
    for one in prices:
        name = f"{one.item}, {STATE[one.completeness]}"
        if one.price is None:
            yield f"{name}: {NO_PRICE}. Nobody saw it sold, and asking prices do not count."
        elif one.low is None and not one.from_complete:
            sales = "one sale" if one.sold == 1 else f"{one.sold} sales"
            yield f"{name}: {sales}, too few or too old to tell how far the price may be off."
        if one.stale and one.newest is not None and not one.from_complete:
            yield f"{name}: stale, the last sale was on {one.newest.isoformat()}."
    if any(one.from_complete for one in prices):
        yield (
            "At most: nobody saw the disc alone sold. It brings half of the complete item's price or less "
            "(common practice, no source)."
        )


def prices_summary(book: PriceBook, prices: Sequence[ObservedPrice]) -> str:
    sold = sum(one.status == "sold" for one in book.seen)
    left = f", {counted(len(book.faults), 'row')} left out" if book.faults else ""
    named = f" Prices in {book.currency}." if book.currency else ""
    return f"{counted(sold, 'sale')} and {counted(len(book.seen) - sold, 'asking price')} read{left}.{named}"


def unknown_item(item: str) -> str:
    return f"{item}: {NO_PRICE}. It is not in the table."


def _price(one: ObservedPrice) -> str:
    if one.price is None:
        return NO_PRICE
    return f"at most {money(one.price)}" if one.from_complete else money(one.price)


def _between(low: Decimal | None, high: Decimal | None) -> str:
    return "" if low is None or high is None else f"{money(low)} to {money(high)}"


# -- several discs ----------------------------------------------------------------------------------------------------


def basket_lines(basket: Basket) -> Iterator[str]:
    if not basket.picks:
        yield f"TAKE NONE: at these prices no find within {money(basket.budget)} is expected to gain anything."
        return
    yield (
        f"TAKE {len(basket.picks)} of {len(basket.picks) + len(basket.left)}: they cost {money(basket.cost)} "
        f"of your {money(basket.budget)}, expected gain {money(basket.gain)}."
    )


def left_line(left: Sequence[str]) -> str:
    return f"Leave: {', '.join(left)}." if left else ""


def box_lines(box: Box) -> Iterator[str]:
    if box.gain > 0:
        yield f"TAKE THE BOX at {money(box.price)}: expected gain {money(box.gain)}."
    else:
        yield f"LEAVE THE BOX at {money(box.price)}: expected loss {money(-box.gain)}."
    times = f"{box.multiple.normalize():f} times"
    yield f"The most to pay for it: {money(box.most_to_pay)}, so that the money put in comes back {times}."
    if box.carriers and box.price > 0:
        yield (
            f"{counted(len(box.carriers), 'disc')} of {len(box.carriers) + box.rest} would bring its price back: "
            f"{', '.join(pick.item for pick in box.carriers)}."
        )
        if box.without_best < 0:
            yield f"All hangs on {box.carriers[0].item}: without it the box loses {money(-box.without_best)}."


def pick_rows(picks: Sequence[Pick]) -> list[tuple[str, ...]]:
    """Under `PICKS_HEAD`."""
    return [(one.item, ACT[one.act], money(one.cost), money(one.gain), _days(one.days)) for one in picks]


def trip_lines(trip: Trip) -> Iterator[str]:
    count = len(trip.picks)
    if trip.gain > 0:
        yield f"GO with {counted(count, 'disc')}: expected gain {money(trip.gain)} after all costs."
        yield f"The shop takes {money(trip.fee_each)} for each, going there costs {money(trip.going)}."
    elif not trip.picks:
        yield "DO NOT GO: a polish is not expected to add anything to any of these discs."
    else:
        yield f"DO NOT GO YET: the best trip, with {counted(count, 'disc')}, would lose {money(-trip.gain)}."
        if trip.more_needed is not None:
            yield f"{counted(trip.more_needed, 'more disc')} as good as {trip.picks[0].item} would make it pay."
        else:
            yield "With such discs no number of them makes it pay."


def trip_cautions(trip: Trip) -> list[str]:
    return [caution("polish-cautions")] if trip.picks else []


def trip_rows(trip: Trip) -> list[tuple[str, ...]]:
    """Under `TRIP_HEAD`."""
    return [(one.item, money(one.gain), _days(one.days)) for one in trip.picks]


def bench_lines(bench: Bench) -> Iterator[str]:
    if bench.discs_a_month is None:
        yield "A machine of your own never pays: a disc costs no less on it than at the shop."
        return
    yield (
        f"A machine of your own for {money(bench.price)} saves {money(bench.saving_each)} a disc. It pays within "
        f"{counted(bench.months, 'month')} from {counted(bench.discs_a_month, 'disc')} a month on, "
        "if it polishes as well as the shop does."
    )


def counted(count: int, noun: str) -> str:
    """ "3 discs"."""
    return f"{count} {noun}{'' if count == 1 else 's'}"
