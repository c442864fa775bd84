"""The register: engines, dampers and gauges, and what became of them."""
