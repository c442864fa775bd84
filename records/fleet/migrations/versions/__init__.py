"""One script for each version of a fleet's tables; one that has landed is never changed."""
