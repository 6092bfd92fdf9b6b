"""What the crew sees and presses: full screen, plain linear mode, keys, themes.

Rules: nothing here decides whether a step passes; a shell gets effects and gives texts in the
words of the crew; nothing but the engine's events and effects is imported from the runner.
"""
