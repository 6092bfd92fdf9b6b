"""Latchword: a challenge-and-response checklist runner for a crew."""
