"""The journal: events, one writer, one reader, and the outbox of what is to be sent."""
