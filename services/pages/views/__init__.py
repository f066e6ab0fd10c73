"""Views: each parses, calls one command or query, and renders."""
