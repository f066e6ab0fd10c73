"""Papers: bend cards, lists, labels; packs of them, drawn in the background."""
