"""Whose run-out it is: the damper's own or its mounting's, from two sweeps with the damper re-indexed."""
