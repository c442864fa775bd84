"""Virtual dampers, barring hands, gauges and lines: seeded, on a virtual clock or on real time."""
