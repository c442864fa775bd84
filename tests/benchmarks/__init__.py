"""How fast the house is, against the bare minimum of the same work on the same machine.

    python -m tests.benchmarks [NAME …]

Ratios of two things measured in one run are worth more than seconds: they hold on another machine.
Nothing here is a test that pytest runs.
"""
