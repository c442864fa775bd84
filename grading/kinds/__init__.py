"""How each kind of check is judged."""
