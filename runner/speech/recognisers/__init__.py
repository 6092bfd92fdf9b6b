"""The engines that hear: each takes one utterance and a closed set, and ranks that set.

Rooms: `closed_set` (the packaged English model, the default), `sphinx` (light, a second opinion),
`vosk` (a model folder that the user names). Their parts: `weights` (where the packaged model lies),
`tokens` and `model` (that model), `answer_tree` and `number_tree` (what may be said, word by word),
`writing` (how the model may write it), `beam` (the search).
"""
