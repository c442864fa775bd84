"""Unknown gauges, simulated bit by bit, and somebody who moves them."""
