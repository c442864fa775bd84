"""What moves the readings of a sweep and is no surface: seen, placed, named."""
