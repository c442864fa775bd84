"""A surface from readings around the turn: harmonics, features, and what moved the readings."""
