"""Results handed on to the shop's own systems by HTTP, once each, after any outage."""
