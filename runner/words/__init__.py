"""Words of the crew, both ways: lines to events and back, outcomes to calls.

Rooms: `spoken` (a line becomes one event), `naming` (which step, list or quoted text is meant),
`spelling` (the one line of an event), `calls` (what is said after an event), `numbers` and `timing`
(as they are typed, spoken and shown), `sayings` (every way of saying a number), `phonetics`
(what sounds alike).
"""
