"""The bay: commands in, events and replies out."""
