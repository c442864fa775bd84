"""The run-out of one surface from its sweeps, by every way to read them."""
