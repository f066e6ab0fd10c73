"""Papers: bend cards."""
