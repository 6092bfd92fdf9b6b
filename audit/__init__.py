"""The signed log of a checklist run: format 1, written, recovered and verified.

Rules: nothing here imports the runner or the flows, so that a supervisor can install and run this
package alone with `cryptography` and `orjson`; nothing here reads a clock (a `Stamp` is passed in
with every write). `FORMAT.md` beside this file says what a log is.
"""

FORMAT = 1
