"""The words on screens and papers; `services.core.words` has them, for the ledger's answers say them too."""

from services.core.words import act, counted, plural, state, word

__all__ = ("act", "counted", "plural", "state", "word")
