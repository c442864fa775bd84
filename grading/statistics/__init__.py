"""Distributions that verdicts rest on."""
