"""What shows that a result on record is the one that the bay issued: a chain of signed records."""
