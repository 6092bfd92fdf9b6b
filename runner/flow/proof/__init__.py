"""The proof that an author's limits hold: the engine itself explored by slices, and judged.

`slices` cuts the documents of one aircraft down to the steps that one goal hangs on, `alphabet`
says what may happen in a state, `keys` which states are alike, `explore` goes through all of them,
`monitor` judges by events and outcomes alone, `lifting` turns a way through a slice into a run of
the whole day, `proving` goes through every goal of an aircraft.
"""
