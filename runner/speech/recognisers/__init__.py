"""The engines that hear: each takes one utterance and a closed set, and ranks that set.

Rooms: `closed_set` (the packaged English model, the default), `sphinx` (light, a second opinion),
`vosk` (a model folder that the user names). Their parts: `form` (what an utterance must be),
`answer_tree` and `number_tree` (what may be said, word by word); of the first `weights` (where the
packaged model lies), `tokens` and `model` (that model), `writing` (how it may write what is said),
`beam` (the search), `views` (numbers are heard twice); of the second `jsgf` (its grammar).
"""
