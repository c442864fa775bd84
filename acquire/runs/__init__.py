"""What runs at a bay: a sweep of readings, or a repeatability test."""
