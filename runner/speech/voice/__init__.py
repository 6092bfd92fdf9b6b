"""What the program says aloud.

Rooms: `wording` (a call of the list in words that an engine speaks), `lineup` (what is said when),
`speaking` (the voice as the program knows it), `installed` (what is there to speak). In a process
of its own, imported by nothing else: `process`, with its parts `engines` and `player`. The engine
piper has another licence than this program: the two meet in lines on a pipe alone.
"""
