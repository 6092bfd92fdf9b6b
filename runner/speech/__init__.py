"""The crew's voice and the program's own: what may be said, what was heard, and what is made of it.

Rooms: `heard` (the one interface of all recognisers), `answers` (what a question lets be said),
`agreement` (what is made of what several recognisers heard), `recognisers` (each engine behind the
interface), `ears` (microphone, detector, noise), `voice` (what is spoken, in a process of its own).
"""
