"""The ledger: what was found, bought, scanned, polished, tested, listed, sold or thrown away, and what came of it."""

from discscan.ledger.entry import ENTRY_COLUMNS, read_entries
from discscan.ledger.exchange import from_table, to_csv, to_json
from discscan.ledger.items import correction_of, items_of, matching_items, named_items, next_event, one_item, undo_of
from discscan.ledger.photos import copy_photos, keep_photo, kept_photo, photos_of
from discscan.ledger.readback import read_back, read_ranges
from discscan.ledger.store import Book
from discscan.ledger.summary import summarise
from discscan.places import default_place

__all__ = [
    "ENTRY_COLUMNS",
    "Book",
    "copy_photos",
    "correction_of",
    "default_place",
    "from_table",
    "items_of",
    "keep_photo",
    "kept_photo",
    "matching_items",
    "named_items",
    "next_event",
    "one_item",
    "photos_of",
    "read_back",
    "read_entries",
    "read_ranges",
    "shown",
    "summarise",
    "to_csv",
    "to_json",
    "undo_of",
]
