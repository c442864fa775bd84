"""When a damper is to be looked at again."""
