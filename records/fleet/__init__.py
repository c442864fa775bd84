"""The record writer of a fleet: what many bays publish, into one PostgreSQL database."""
