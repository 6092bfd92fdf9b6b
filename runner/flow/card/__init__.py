"""The paper card of lists and drills: what stands on it, and its three forms."""
