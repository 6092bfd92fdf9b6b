"""The engine: a deterministic decision about every event, without clock, file, thread or screen."""
