"""What hears: from a microphone or a recording to single utterances.

Rooms: `capture` (the microphone) and `files` (recordings in its place, clips that are kept),
`resample` (any rate to 16 kHz), `detector` (which frames are speech) and `levels` (how loud, how
noisy), `gate` (what of it is taken: keys, mutes, the question that stood), `hearing` (all of them
joined).
"""
