"""Reads for papers: what they are of, what they say, and the packs there are. Drawing a paper only reads."""

from services.papers.queries.content import Item, items, title_of
from services.papers.queries.drawn import (
    Contents,
    bend_cards_pdf,
    cards_of_run,
    contents_of,
    drawn_now,
    kept_cards,
    part_pdf,
    put_together,
)
from services.papers.queries.packs import (
    current_plans,
    filename,
    key_of,
    old_packs,
    pack,
    pack_pdf,
    packs,
    parts_drawn,
)
from services.papers.queries.press import address_of, look_of, only_data

__all__ = [
    "Contents",
    "Item",
    "address_of",
    "bend_cards_pdf",
    "cards_of_run",
    "contents_of",
    "current_plans",
    "drawn_now",
    "filename",
    "items",
    "kept_cards",
    "key_of",
    "look_of",
    "old_packs",
    "only_data",
    "pack",
    "pack_pdf",
    "packs",
    "part_pdf",
    "parts_drawn",
    "put_together",
    "title_of",
]
