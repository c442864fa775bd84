"""The store of results, exports and pictures."""
