"""What discs are worth: the acts open for one, the prices seen, a basket for the cash at hand, the trip to the shop."""

from discscan.worth.acts import Terms
from discscan.worth.advise import advise, advise_on_scan
from discscan.worth.basket import Find, choose_basket, judge_box
from discscan.worth.finds import FIND_COLUMNS, finds_of, read_finds
from discscan.worth.observed import observed_prices
from discscan.worth.prices import PRICE_COLUMNS, read_prices
from discscan.worth.trip import Fees, plan_trip, weigh_bench

__all__ = [
    "FIND_COLUMNS",
    "PRICE_COLUMNS",
    "Fees",
    "Find",
    "Terms",
    "advise",
    "advise_on_scan",
    "choose_basket",
    "finds_of",
    "judge_box",
    "observed_prices",
    "plan_trip",
    "read_finds",
    "read_prices",
    "weigh_bench",
]
