"""Pieces, ticks and the state table: the ledger of what was done."""
