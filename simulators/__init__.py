"""A virtual damper, a barring hand, gauges and an encoder: seeded, on any clock that is handed in."""
