"""A bay's second voice on its broker: an edge node by the Sparkplug specification 3.0."""
