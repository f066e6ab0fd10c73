"""Benders and their formers."""
