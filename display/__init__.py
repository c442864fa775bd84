"""Displays of a bay: the walk through an inspection, whatever shows it, and the pages for a browser."""
