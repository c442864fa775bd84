"""Figures and decisions: pure functions of plain data, without I/O."""
