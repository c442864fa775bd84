"""Thickness of the casing: spread, and what the true spread may be."""
