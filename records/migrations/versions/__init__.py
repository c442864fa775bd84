"""One script for each version of the records' tables; one that has landed is never changed."""
