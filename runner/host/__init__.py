"""One run: joins engine, shells, clock and log.

Rooms: `clock` (the only reader of time), `stepping` (one event through the engine, never a
traceback), `recording` (durable first, and what happens when that fails), `replay` (a log through
the engine: resuming and verifying), `run` (the desk that shells work at), `opening` (starting and
resuming a run), `leaving` (what a run leaves to the next), `scripted` (a crew from a file), `crew`
(who is aboard), `places` (folders, enrolment, keys).
"""
