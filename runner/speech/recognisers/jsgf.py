"""The closed set as a grammar in JSGF (Java Speech Grammar Format, W3C note of 5 June 2000).

Rules: every way of every phrase whose words are known; numbers as a rule of digits and one of
everyday words, as long as the form's largest value and with its decimals. The rules of numbers are
wider than the form (a range is none of the grammar's things): who reads the result looks it up in
the tree of answers, and what is not there is no answer.
"""

from __future__ import annotations

from collections.abc import Callable

from runner.speech.heard import AnswerSet, NumberForm
from runner.speech.recognisers.number_tree import DIGITS, DROP, LARGEST_SAID, MARKS, MINUS, SIDES

_EVERYDAY = """\
<one> = one | two | three | four | five | six | seven | eight | nine;
<teen> = ten | eleven | twelve | thirteen | fourteen | fifteen | sixteen | seventeen | eighteen
       | nineteen;
<ten> = twenty | thirty | forty | fifty | sixty | seventy | eighty | ninety;
<tens> = <one> | <teen> | <ten> [<one>];
<hundreds> = <one> hundred [[and] <tens>];
<many> = (<teen> | <ten> <one>) hundred [[and] <tens>];
<thousands> = (<one> | <teen> | <ten> [<one>]) thousand [[and] <tens> | <hundreds>];
"""


def grammar(answers: AnswerSet, known: Callable[[str], bool]) -> str:
    """The grammar of a set; empty where nothing of it can be said in known words."""
    ways = dict.fromkeys(
        " ".join(words)
        for phrase in answers.phrases
        for way in phrase.ways
        if (words := way.lower().replace("-", " ").split()) and all(map(known, words))
    )
    rules = [f"<phrase> = {' | '.join(ways)};"] if ways else []
    tops = ["<phrase>"] if ways else []
    if answers.number is not None:
        rules.append(_numbers(answers.number, known))
        tops.append("<number>")
    if not tops:
        return ""
    head = "#JSGF V1.0;\ngrammar answers;\n"
    return head + f"public <answer> = {' | '.join(tops)};\n" + "\n".join(rules) + "\n"


def _numbers(form: NumberForm, known: Callable[[str], bool]) -> str:
    largest = int(max(abs(form.low), abs(form.high)))
    digits = f"<digit> = {' | '.join(DIGITS)};"
    figures = "<digit>"
    for _ in range(len(str(largest)) - 1):
        figures = f"<digit> [{figures}]"
    said = ["<tens>"]
    for least, rule in ((100, "<hundreds>"), (1000, "<thousands>"), (1100, "<many>")):
        if largest >= least:
            said.append(rule)
    everyday = (
        f" | {' | '.join(said)}" if min(abs(form.low), abs(form.high)) <= LARGEST_SAID else ""
    )
    mark = f"({' | '.join(MARKS)}) {' '.join(['<digit>'] * form.decimals)}"
    behind = f" [{mark}]" if form.decimals else ""
    sides = [*(SIDES if form.thresholds else ()), *((DROP,) if form.drops else ())]
    side = f"[{' | '.join(sides)}] " if sides else ""
    minus = f"[{MINUS}] " if form.low < 0 else ""
    before = [words.lower() for words in form.before if all(map(known, words.lower().split()))]
    lead = f"({' | '.join(before)}) " if before else ""
    scales = "<scale> = <digit> [<digit>] [<digit>] thousand [<one> hundred];"
    scaled = " | <scale>" if largest >= 10_000 else ""
    return "\n".join(
        (
            digits,
            _EVERYDAY + scales,
            f"<whole> = {figures}{everyday}{scaled};",
            f"<number> = {lead}{side}{minus}<whole>{behind};",
        )
    )
