"""From a figure with its uncertainty to an outcome, and from outcomes to a verdict."""
