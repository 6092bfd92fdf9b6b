"""The manual pages of the rules that the loader keeps: what makes a document unreadable.

Rules: a rule that has a file under `rules` has its page there, though the loader may tell it too;
the page of every other rule that a fault names stands here, the first line of it saying the rule.
All of them are errors, since nothing can be run from such documents.
"""

from __future__ import annotations

from typing import Final, NamedTuple


class Told(NamedTuple):
    """A rule of the loader: why it matters, and its page."""

    reason: str
    page: str


TOLD: Final[dict[str, Told]] = {
    "unreadable": Told(
        "what cannot be read cannot be checked",
        """A file or folder that cannot be read.

It does not exist, it is no file, or this system does not let you read it. Nothing is known of what
it says. This is a fault of the place, not of the flow.

Wrong, where the list is called start:

    latchword check my_aircraft/lists/strat.yaml

Right:

    latchword check my_aircraft/lists/start.yaml""",
    ),
    "file": Told(
        "a document out of its place is in no revision and on no card",
        """A file where none belongs, or too much of everything.

An aircraft is one folder: aircraft.yaml, lists/NAME.yaml, drills/NAME.yaml, names of a-z, 0-9
and _. A link that leads outside is refused: the bytes that are signed are those in the folder. A
document has at most 1 MiB, an aircraft at most 300 documents, 4 MiB and 4,000 steps.

Wrong:

    lists/Before Start.yaml

Right:

    lists/before_start.yaml""",
    ),
    "file-name": Told(
        "the log, the card and the screen find a list by its name",
        """A list or drill that is not named as its file.

A list is found by its name: `aircraft.yaml`, the log and an approval name it, and whoever looks it
up opens the file of that name. Were the two different, another list could be read than the one
that was run.

Wrong, in lists/start.yaml:

    list: starting

Right:

    list: start""",
    ),
    "yaml": Told(
        "what one reader takes for a number another takes for a word",
        """What is not plain YAML.

The documents are read by the core rules of YAML 1.2 with nothing that has two readings: no tabs,
no anchors, aliases, tags or directives, no key twice, no sign that cannot be seen. Text with a
colon and a space, or that begins with ! [ {, stands in quotes.

Wrong:

    challenge: Mixture: RICH

Right:

    challenge: Mixture
    answer: RICH""",
    ),
    "shape": Told(
        "a key that is not known is a rule that nobody keeps",
        """A key that does not exist, is missing, or holds the wrong kind of value.

The first key of a step says its kind, and each kind has its own keys. Names are a-z, 0-9 and _,
quantities a number and its unit, times a number and s, min or h. An editor that knows the schemas
under flows/schema offers what may stand there.

Wrong:

    limit: {below: 80}

Right:

    limit: {below: 80 °C}""",
    ),
    "unknown-name": Told(
        "what is named and does not exist is never opened, read or started",
        """A name of something that does not exist.

Every reading, timer, counter, list, drill, step, phase and happening that a document names must be
there, as the kind of thing that it is named as. The nearest name that exists is offered.

Wrong, where the drill is called oil_pressure_low:

    unmet: {branch: oil_presure_low}

Right:

    unmet: {branch: oil_pressure_low}""",
    ),
    "reserved-name": Told(
        "one name means one thing, in every condition",
        """A name that the language of conditions keeps for itself.

Words as `in`, `true`, `list` or `size` name nothing of an aircraft: a condition gives them a
meaning of its own, and what bears such a name could not be asked about in one.

Wrong:

    - {reading: oil_pressure, as: size}

Right:

    - {reading: oil_pressure, as: first_oil}""",
    ),
    "duplicate-name": Told(
        "one name means one thing; the log and the crew find it by its name",
        """Two things with one name, or one thing named twice.

Steps of a list, lists and drills, answers of a step, labels of readings and timers, reasons: each
is known by its name or words alone. A name that conditions use means one thing over all
documents.

Wrong, in one list:

    - {challenge: Mixture, answer: RICH}
    - {challenge: Mixture, answer: CUT-OFF}

Right:

    - {challenge: Mixture, answer: RICH}
    - {challenge: Mixture, answer: CUT-OFF, id: mixture_off}""",
    ),
    "placement": Told(
        "what stands in the wrong place is called at the wrong time",
        """What may not stand where it stands.

Memory items come first in a drill; ticks stand in a station; what is offered meanwhile has a wait
before it; a closing call has no condition; every list has its place in the day and every drill on
its page; a need stands before what it guards; the calls of a timer rise.

Wrong, in a drill:

    - {challenge: Magnetos, answer: BOTH OFF}
    - {challenge: Mixture, answer: MIXTURE CUT-OFF, memory: true}

Right:

    - {challenge: Mixture, answer: MIXTURE CUT-OFF, memory: true}
    - {challenge: Magnetos, answer: BOTH OFF}""",
    ),
    "answer-words": Told(
        "one word must never be an answer and an order",
        """An answer that is something else as well.

The words that steer the list (affirm, negative, stand by, …), beginnings of orders and spoken
numbers are no answers; nor are signs that cannot be said.

Wrong:

    answer: CONTINUE

Right:

    answer: RUNNING""",
    ),
    "limit-form": Told(
        "a bound that cannot be right is not checked against",
        """A limit, range or count that cannot be meant.

The lower bound comes first, a difference is not negative, what happens when a limit is unmet stands
beside a limit.

Wrong:

    limit: {from: 80 psi, to: 25 psi}

Right:

    limit: {from: 25 psi, to: 80 psi}""",
    ),
    "condition": Told(
        "a condition that cannot be decided holds its list",
        """A condition or formula that cannot be understood.

Conditions are written in CEL, in the part of it that has one reading: names that are declared,
numbers with a point (80.0), text in quotes, == != < <= > >= && || !, + - * /. Numbers of different
units do not meet.

Wrong:

    when: temp > 80

Right:

    when: temp > 80.0""",
    ),
    "circle": Told(
        "a crew that goes round in a circle does not come out of it",
        """What leads back to itself.

A value that needs itself is never known; drills that open one another never end; a choice all of
whose answers go back never leads on.

Wrong:

    - {compute: twice, challenge: Oil twice, formula: twice + oil, unit: psi}

Right:

    - {compute: twice, challenge: Oil twice, formula: oil + oil, unit: psi}""",
    ),
}
