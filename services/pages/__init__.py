"""Office screens."""
