"""The real parts of a fleet, each started on loopback from the very files that ship in config/fleet/."""
