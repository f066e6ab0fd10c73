"""Prices and cost entries: what material and scrap cost, and why."""
