"""The command line, and the wiring of all rooms."""

__version__ = "0.1.0"
