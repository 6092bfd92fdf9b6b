"""The bodies of the commands, one room a kind: running, looking, setting up.

`cli.py` reads the arguments and calls them; each returns an exit code and raises only errors that
`cli.py` turns into one clear message.
"""
