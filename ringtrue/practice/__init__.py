"""A trainee's whole inspection of a virtual damper, held against the truth at its end."""
