"""The rules of the author's checks, one a file: its name is the rule's, its docstring its page."""
