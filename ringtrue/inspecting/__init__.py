"""The walk through an inspection in the terminal: draws what `display.walk` says, and takes keys."""
