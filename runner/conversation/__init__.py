"""A run worked by voice: what was heard becomes lines of the run, what is called becomes sound.

Rooms: `conversation` (joins all, with its threads), `parts` (what it is made of), `microphone` (the
thread that listens), `pedal` (a key of which the release is known), `standing` (the question that
stands and what may be said to it), `hearing` (from a clip to what is done about it), `answering`
(does it, and logs on what grounds), `calling` (which calls are spoken, and when the program is
silent), `mouth` (speaks them). Below lie the run, which these know by `desk` alone, and
`runner.speech`.
"""
