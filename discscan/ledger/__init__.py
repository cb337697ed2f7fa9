"""The ledger: what was found, bought, scanned, polished, tested, listed, sold or thrown away, and what came of it."""

from discscan.ledger.exchange import from_table, to_csv, to_json
from discscan.ledger.items import items_of, matching_items, named_items, next_event, one_item, undo_of
from discscan.ledger.readback import read_back, read_ranges
from discscan.ledger.store import Book, default_place
from discscan.ledger.summary import summarise

__all__ = [
    "Book",
    "default_place",
    "from_table",
    "items_of",
    "matching_items",
    "named_items",
    "next_event",
    "one_item",
    "read_back",
    "read_ranges",
    "summarise",
    "to_csv",
    "to_json",
    "undo_of",
]
