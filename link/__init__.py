"""The one place that speaks MQTT: the connection, a client for displays and commands, the broker."""
