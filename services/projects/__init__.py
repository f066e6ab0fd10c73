"""Projects, rooms and runs as measured."""
