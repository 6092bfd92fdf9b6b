"""What is made of what several recognisers heard: taken, read back, asked again, or nothing.

Rules: pure. The first recogniser proposes, the others confirm or differ. A critical step wants two
that agree and two words at least. A word is taken by its distance to the free writing and its
margin, by the noise, that of a long answer counted by its length; two answers that sound alike want
more margin. A number is taken without *affirm* only where the recognisers agree, or one is very
clear and no other differs; what the list reads back by itself (out of limits, near one, deciding a
branch) is not read back twice. What takes something away (*discontinue*, a drill) wants no second
voice and no affirm, but a clear one. What was said beside the answer ("not", "correction") forbids
to take it, and so does a number where words are the answer. An open microphone passes nothing
without the address, and keeps silent about what was not said to the list.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal, InvalidOperation
from typing import Final, NamedTuple

from runner.speech.answers import UNADDRESSED
from runner.speech.decision import UNSURE, Decision, Verdict
from runner.speech.heard import AnswerSet, Heard, NumberForm, Phrase, Ranked, Sort
from runner.speech.lexicon import Lexicon, lexicon
from runner.speech.thresholds import Bar, Kind, Thresholds, Who
from runner.speech.written import bare, find, is_number, number_alone, words_of
from runner.words.numbers import read_number, say_number
from runner.words.phonetics import alike

LIGHT: Final = frozenset({"say again", "confirm", "stand by", "disregard", "negative", "snag "})
"""Words by which nothing passes and nothing is left: heard by mistake they cost a moment (a snag
wants words behind it, which are kept as a snag and answer nothing)."""
LONG: Final = 6
"""Letters of the shortest way of saying an answer that is no short word: the longer it is, the less
is there that sounds like it, and the lower may its score be. Short words have bars of their own."""
AS_LONG: Final = 10
LONGEST: Final = 20
"""Letters up to which a distance counts as it is, and up to which a longer answer's is brought to
that length: each letter may add to it, else nobody could speak it clearly enough. A wrong word in
it adds no more for the others, so that there is an end to it."""
_AWAY: Final = re.compile(r'(?:answer ")?(?:discontinue"?$|drill )', re.I)
_SIDES: Final = ("below", "above", "drop")
_ALTERNATIVES: Final = 3


class Policy(NamedTuple):
    """By what an utterance is judged: the bars, the language, whether the microphone is open."""

    thresholds: Thresholds
    language: Lexicon
    open_microphone: bool = False


def decide(
    heard: Sequence[Heard], answers: AnswerSet, thresholds: Thresholds, snr_db: float | None, *,
    language: Lexicon | None = None, open_microphone: bool = False, opener: str = "",
) -> Decision:  # fmt: skip
    """What is done about one utterance.

    `heard` is what each recogniser made of it, the one that proposes first; `snr_db` the estimated
    ratio of speech to noise, None where it is not known; `opener` an order said before ("correct
    ITEM "), to which a number belongs.
    """
    policy = Policy(thresholds, language or lexicon(), open_microphone)
    return _Utterance(heard, answers, policy, thresholds.noise_class(snr_db), opener).decision()


def kind_of(ranked: Ranked, answers: AnswerSet, language: Lexicon | None = None) -> Kind:
    """What an answer may do; `language` is the one that is spoken, English where none is given."""
    if _AWAY.match(ranked.line):
        return Kind.AWAY
    if ranked.line in LIGHT:
        return Kind.LIGHT
    passes = ranked.sort is not Sort.CONTROL or ranked.line == "affirm"
    if passes and (answers.critical or ranked.line in answers.critical_lines):
        return Kind.CRITICAL
    if ranked.sort is Sort.NUMBER:
        return Kind.NUMBERS
    # Every way must be long enough to be told from what is like it.
    long = _shortest(ranked, answers, language) >= LONG
    return Kind.PHRASES if long else Kind.WORDS


def distance(heard: Heard, answers: AnswerSet, language: Lexicon | None = None) -> float | None:
    """How far the best answer stands from the free writing, in nats; None where either is missing.
    That of a long answer counts by its length, but of words that steer, whose bars are by hand."""
    if heard.free_score is None or not heard.ranked:
        return None
    best = heard.ranked[0]
    score = best.score - heard.free_score
    steers = kind_of(best, answers, language) in (Kind.AWAY, Kind.LIGHT)
    if score >= 0 or best.sort is Sort.NUMBER or steers:
        return score
    return score * AS_LONG / min(max(AS_LONG, _shortest(best, answers, language)), LONGEST)


class _Utterance:
    """One utterance while it is judged."""

    def __init__(
        self, heard: Sequence[Heard], answers: AnswerSet, policy: Policy, noise: str, opener: str
    ) -> None:
        self.heard, self.answers, self.policy = heard, answers, policy
        self.noise, self.opener = noise, opener
        self.first = heard[0] if heard else Heard("", ())
        self.spoken = words_of(self.first.free)

    def decision(self) -> Decision:
        """What is done."""
        made = self._judged()
        silent = made.verdict is Verdict.SAY_AGAIN and not self._addressed()
        return made._replace(verdict=Verdict.NOTHING, line="") if silent else made

    def _addressed(self) -> bool:
        """Whether it was said to the list: by the key that was held, or by the address."""
        if not self.policy.open_microphone:
            return True
        return any(
            self.spoken[: len(call)] == call for call in map(words_of, self.policy.language.address)
        )

    def _judged(self) -> Decision:
        ranked = self.first.ranked
        if not ranked:
            if not any(words_of(one.free) or one.ranked for one in self.heard):
                return self._as(Verdict.NOTHING, "nothing heard")
            return self._as(Verdict.SAY_AGAIN, "not of the list")
        best = ranked[0]
        if not self._in_set(best):
            number = best.sort is Sort.NUMBER
            return self._as(Verdict.SAY_AGAIN, "no number here" if number else "not of the list")
        kind = kind_of(best, self.answers, self.policy.language)
        free_word = best.line in UNADDRESSED or kind is Kind.AWAY
        if not free_word and not self._addressed():
            return self._as(Verdict.NOTHING, "no address")
        if kind in (Kind.AWAY, Kind.LIGHT):
            clear = self._passes(kind, self._who(best, kind)) or self._passes(kind, Who.ALONE)
            return self._as(Verdict.ACCEPT) if clear else self._not_clear(kind, Who.ALONE)
        return self._forbidden(best) or self._weighed(best, kind)

    def _weighed(self, best: Ranked, kind: Kind) -> Decision:
        who = self._who(best, kind)
        if kind is Kind.CRITICAL:
            if not self._in_full(best):
                return self._as(Verdict.SAY_AGAIN, "in full")
            if who is not Who.AGREED:
                return self._as(Verdict.SAY_AGAIN, "two must agree")
        # Numbers on which they differ are affirmed, however clearly one was heard.
        sure = not (kind is Kind.NUMBERS and who is Who.DIFFER)
        if sure and self._passes(kind, who):
            return self._as(Verdict.ACCEPT)
        if kind is not Kind.CRITICAL and self._readable(best) and self._passes(kind, Who.ASK):
            return self._as(Verdict.READ_BACK, self._why(kind, who))
        return self._not_clear(kind, who)

    def _not_clear(self, kind: Kind, who: Who) -> Decision:
        why = self._why(kind, who)
        pair = self.first.ranked[:2] if why == "between two" else ()
        return self._as(Verdict.SAY_AGAIN, why, tuple(next(iter(self._ways(r)), "") for r in pair))

    def _why(self, kind: Kind, who: Who) -> str:
        """What keeps it from being taken."""
        if who is Who.DIFFER:
            return "heard differently"
        bar = self._bar(kind, who)
        between = bar is not None and self._scored(bar) and len(self.first.ranked) > 1
        return "between two" if between else "not clear"

    # the bars -------------------------------------------------------------------------------

    def _who(self, best: Ranked, kind: Kind) -> Who:
        others = [one.ranked[0].line for one in self.heard[1:] if one.ranked]
        same = sum(_same(line, best.line) for line in others)
        strict = kind in (Kind.CRITICAL, Kind.NUMBERS)
        if same < len(others) and (strict or same == 0):
            return Who.DIFFER
        return Who.AGREED if same else Who.ALONE

    def _bar(self, kind: Kind, who: Who) -> Bar | None:
        return self.policy.thresholds.bar(self.first.recogniser, self.noise, kind, who)

    def _passes(self, kind: Kind, who: Who) -> bool:
        bar = self._bar(kind, who)
        if bar is None or not self._scored(bar):
            return False
        margin = self.first.margin
        return margin is None or margin >= bar.margin * self._raised()

    def _scored(self, bar: Bar) -> bool:
        score = self._score()
        return bar.score is None or (score is not None and score >= bar.score)

    def _score(self) -> float | None:
        return distance(self.first, self.answers, self.policy.language)

    def _raised(self) -> float:
        """By how much more the margin must be, because the second answer sounds like the best."""
        pair = [self._ways(ranked) for ranked in self.first.ranked[:2]]
        near = len(pair) == 2 and any(alike(one, other) for one in pair[0] for other in pair[1])
        return self.policy.thresholds.confusable if near else 1.0

    # the answer -----------------------------------------------------------------------------

    def _phrase(self, line: str) -> Phrase | None:
        return next((p for p in self.answers.phrases if p.line == line), None)

    def _ways(self, ranked: Ranked) -> tuple[str, ...]:
        if ranked.sort is Sort.NUMBER:
            side, value = _parts(ranked.line)
            return (f"{side} {say_number(value).lower()}".strip(),) if value is not None else ()
        phrase = self._phrase(ranked.line)
        return phrase.ways if phrase is not None else ()

    def _in_set(self, best: Ranked) -> bool:
        """Whether it is one of the answers: no fault of a recogniser may make up another."""
        if best.sort is Sort.NUMBER:
            return self.answers.number is not None and _within(best.line, self.answers.number)
        phrase = self._phrase(best.line)
        return phrase is not None and phrase.sort is best.sort

    def _in_full(self, best: Ranked) -> bool:
        """Whether a critical answer has two words at least; *affirm* was read the whole of it."""
        if best.sort in (Sort.NUMBER, Sort.CONTROL):
            return True
        return all(" " in way for way in self._ways(best))

    def _readable(self, best: Ranked) -> bool:
        """Whether the list reads it back when it was not surely heard."""
        call = best.sort is Sort.NUMBER and best.line.startswith(("below ", "above "))
        return best.sort in self.answers.read_back and not call

    def _forbidden(self, best: Ranked) -> Decision | None:
        """What was said beside the answer and forbids to take it."""
        own = {word for way in self._ways(best) for word in way.split()}
        language = self.policy.language
        for call in map(words_of, language.repairs):
            at = find(self.spoken, call)
            if at >= 0 and not set(call) <= own:
                return self._repaired(self.spoken[at + len(call) :])
            if at >= 0 and len(self.spoken) > at + len(call) and best.line == "correction ":
                return self._as(Verdict.SAY_AGAIN, "correction alone")
        if best.sort is Sort.CONTROL and best.line != "affirm":
            return None
        for word in language.denials:
            if find(self.spoken, words_of(word)) >= 0 and word not in own:
                return self._as(Verdict.SAY_AGAIN, "denied", (word,))
        if best.sort is not Sort.NUMBER and self._number_said(own):
            return self._as(Verdict.SAY_AGAIN, "not of the list")
        return None

    def _number_said(self, own: set[str]) -> bool:
        """Whether nothing but a number was said, and the answer has none in it, nor is likelier."""
        score = self._score()
        if score is None or score > 0 or any(is_number(word) for word in own):
            return False
        return number_alone(self.spoken, self.policy.language.address)

    def _repaired(self, tail: list[str]) -> Decision:
        """An utterance that corrected itself: its last part is read back where the list does that,
        and where it is an answer by itself."""
        text = " ".join(tail)
        meant = next((p for p in self.answers.phrases if text in p.ways), None)
        number = read_number(text) if self.answers.number is not None else None
        last = None
        if meant is not None:
            last = Ranked(meant.line, 0.0, meant.sort)
        elif number is not None:
            last = Ranked(f"{number:f}", 0.0, Sort.NUMBER)
        if last is not None and self._in_set(last) and self._readable(last):
            made = self._as(Verdict.READ_BACK, "repaired")
            return made._replace(line=UNSURE + last.line, best=last.line, sort=last.sort)
        return self._as(Verdict.SAY_AGAIN, "repaired")

    def _as(self, verdict: Verdict, why: str = "", words: tuple[str, ...] = ()) -> Decision:
        ranked = self.first.ranked
        best = ranked[0] if ranked else Ranked("", 0.0, Sort.RESPONSE)
        line = self.opener * (best.sort is Sort.NUMBER) + best.line
        if verdict is Verdict.READ_BACK:
            line = UNSURE + line
        taken = verdict in (Verdict.ACCEPT, Verdict.READ_BACK)
        return Decision(
            verdict, self.answers.ask, line if taken else "", why, words, best.line, best.sort,
            self.first.recogniser, self._score(), self.first.margin, self.noise,
            tuple((r.line, r.score - best.score) for r in ranked[1 : _ALTERNATIVES + 1]),
            tuple((o.recogniser, o.ranked[0].line if o.ranked else "") for o in self.heard[1:]),
            self.first.free,
        )  # fmt: skip


def _shortest(ranked: Ranked, answers: AnswerSet, language: Lexicon | None) -> int:
    """Letters of an answer's shortest way, without the address before it; 0 for what is none."""
    ways = next((p.ways for p in answers.phrases if p.line == ranked.line), ())
    address = (language or lexicon()).address
    return min((len("".join(bare(way.split(), address))) for way in ways), default=0)


def _parts(line: str) -> tuple[str, Decimal | None]:
    """Side and value of a number's line; no value for what is none."""
    side, _, text = line.rpartition(" ")
    try:
        value = Decimal(text)
    except InvalidOperation:
        return side, None
    return side, value if value.is_finite() else None


def _same(line: str, other: str) -> bool:
    if line == other:
        return True
    one, two = _parts(line), _parts(other)
    return one[1] is not None and one == two


def _within(line: str, form: NumberForm) -> bool:
    """Whether a number is one that the instrument can show, in a form that is listened for."""
    side, value = _parts(line)
    if value is None or side not in ("", *_SIDES):
        return False
    if side and not (form.drops if side == "drop" else form.thresholds):
        return False
    # A drop is a difference: it lies under the highest value, not above the lowest.
    low = min(form.low, Decimal(0)) if side == "drop" else form.low
    return low <= value <= form.high and value == round(value, form.decimals)
