"""Keys and words as a page of the documentation, made from the tables that they go by.

Rules: nothing is written here that the code does not say: cells of keys come from pressing them,
cells of words from the words' own events and the engine's table; `python -m
runner.commands.keytables` makes the page again, and a test compares it with what stands in `docs/`.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable

from runner.commands.transitions import cell_name
from runner.engine import events as ev
from runner.engine.cells import CELLS
from runner.engine.effects import Prompt
from runner.engine.outcomes import REFUSALS
from runner.engine.state import initial
from runner.engine.table import Table
from runner.host.keyfile import ON_OFF, key_file
from runner.terminal.keymap import ACTS, DEFAULT, NEEDED, called
from runner.terminal.keynames import KEPT
from runner.terminal.keystate import APART_MS, BOUNCE_MS, BURST_MS, GUARD_MS, HELD_MS
from runner.terminal.keystates import states, table
from runner.terminal.keytable import answering, commands
from runner.terminal.voicekeys import TALK_MS
from runner.words.naming import Context
from runner.words.spoken import read

HEAD = """# What every key and every word does

Made from the code by `python -m runner.commands.keytables`; a test keeps it true.

"""
WORDS = (
    "affirm", "negative", "unable", "disregard", "confirm", "say again", "stand by", "correction",
    "roger", "wilco",
)  # fmt: skip
"""Words of the radio, and what they do here."""


def _rows(head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    first = tuple(head)
    lines = [f"| {' | '.join(first)} |", "|---" * len(first) + "|"]
    lines += ["| " + " | ".join(text.replace("|", "\\|") for text in row) + " |" for row in rows]
    return "\n".join(lines) + "\n\n"


def _guards() -> str:
    return f"""## What is no deliberate key

- An answer within {GUARD_MS} ms of its question, or within {GUARD_MS} ms of keys in a burst: two
  different keys within {BURST_MS} ms are one.
- The same key again within {HELD_MS} ms, at any rate of repeating: it is held. Set the delay
  before a key repeats to less than that.
- The same digit again within {BOUNCE_MS} ms stands once; later than that it is typed twice.
- A second answer within {APART_MS} ms of the one before; the second key of accepting, and a
  choice behind the point, within {APART_MS} ms of its page.
- Enter within {APART_MS} ms of the first digit or letter of what was typed in one go, or within
  {BURST_MS} ms of the key before it.
- Pasted text; a click that is not let go where it began.

So a sleeve over the pad for a second, a key that is held, and text that is pasted pass one step at
most, and none that takes more than one key.

"""


def _own() -> str:
    acts = [
        (act.name, ", ".join(called(k) for k, n in DEFAULT.items() if n == act.name), act.does)
        for act in ACTS
    ]
    needed = "; ".join(" or ".join(f"*{name}*" for name in names) for names, _ in NEEDED)
    kept = "; ".join(f"{name}: {why}" for name, why in KEPT.items())
    return (
        f"""## A table of your own

`{key_file().name}` in the configuration folder gives keys other meanings; `latchword keymap` shows
what is in force and checks the file, `latchword doctor` names the folder.

```yaml
keys:
  F13: as shown        # a pedal
  F14: transmit        # the button on the yoke
  page down: not so
  alt-t: talk
mouse: off             # {" or ".join(word for word in ON_OFF if word.startswith("o"))}
```

A key is a character, F1 to F24, an arrow, home, end, insert, page up or down, with ctrl, shift or
alt before it. The keys of a numeric pad send what the other digits and signs send. One key means
one thing; an action may have many keys. A file with a fault is not used at all, and the run goes on
with the keys of the program. No action accepts, discontinues or leaves by itself.

A key must be left for each of: {needed}.

Not to be had: {kept}.

"""
        + _rows(("action", "keys", "does"), acts)
        + f"""*Transmit* and *talk*: a terminal reports no release of a key. So a press of
*transmit* begins it, the next one ends it; *talk* opens the microphone until it is pressed again,
or for {TALK_MS // 1000} s. While *transmit* is on, no call is repeated and no bell rings; what was
due rings once after it.

In a run by voice TAB is *talk* and INSERT is *caller*, unless your table gives these keys or these
actions away. *Talk* then opens the microphone until the end of what is said; pressed while you
speak it ends the answer there. The page of what a flight skips is put away by it, and nothing is
heard by that press.

A press of the mouse or a touch on a hint or a numbered line means the key that it names, and passes
the same guards. Where the terminal tells that the keys go elsewhere, a band says so and the
bell rings once; a terminal that does not tell shows nothing.

"""
    )


def event_of(word: str, at: int = 0, ask: int = 0) -> ev.Event:
    """The event of a word of the radio, said at a time to a question; a correction corrects to
    5."""
    said = "correction 5" if word == "correction" else word
    # These words are read without a look into the documents.
    return read(said, Context(_NO_TABLE, initial(), at, ask=ask))


_NO_TABLE: Table = None  # type: ignore[assignment]


def word_cell(word: str, prompt: Prompt) -> str:
    """What a word does at a prompt."""
    event = event_of(word)
    cell = CELLS[prompt][type(event)]
    if isinstance(event, ev.Answer) and not isinstance(cell, str):
        if word == "roger" and prompt is Prompt.CAUTION:
            return "answers"
        return "*roger*" if word == "roger" else "*no answer*"
    if not isinstance(cell, str) and type(event) in (ev.SayAgain, ev.Confirm):
        return "says it" if isinstance(event, ev.SayAgain) else "says the last"
    return cell_name(cell)


def page() -> str:
    """The whole page, Markdown."""
    prompts = list(Prompt)
    words = [(word, *(word_cell(word, p) for p in prompts)) for word in WORDS]
    used = sorted({text.strip("*") for row in words for text in row[1:] if text.startswith("*")})
    sentences = [f"- *{code}*: {REFUSALS[code]}" for code in used if code in REFUSALS]
    sentences.append(f"- *no answer*: {REFUSALS['not an answer']}")
    return (
        HEAD
        + "## The answering keys at each question\n\n"
        + _rows(("question", "Space or +", "N or -", "digits"), answering())
        + "## Every key in every state\n\nWhat stands in `this form` is said to the list.\n\n"
        + _rows(("key", *(at.name for at in states())), table())
        + "## The numbered commands\n\n"
        + _rows(("key", "on the pad", "name", "what it does"), commands())
        + _guards()
        + _own()
        + "## The words of the radio at each question\n\n"
        + "A word in *italics* refuses; its sentence stands below. Every other cell names the\n"
        + "rule that takes the word.\n\n"
        + _rows(("word", *(prompt.value for prompt in prompts)), words)
        + "\n".join(sentences)
        + "\n"
    )


if __name__ == "__main__":
    sys.stdout.write(page())
