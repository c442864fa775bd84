"""What anyone outside may rely on: units, topics, live, commands, events as told, the result document."""
