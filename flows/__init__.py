"""The documents: one folder for each aircraft type, and the JSON Schema of their kinds."""
