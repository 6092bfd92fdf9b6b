"""The documents of an aircraft: read, checked, compiled into the engine's table."""
