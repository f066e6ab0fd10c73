"""Invented companies, made through the real commands."""
