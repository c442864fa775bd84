"""Bytes to readings: transports, framings, value decoding, and the port that is kept alive."""
