"""From a clip to what is done about it: cut clips, free words, and one person's reading."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import pytest

np = pytest.importorskip("numpy")

from runner.conversation.hearing import Clip, Judge, language_of  # noqa: E402
from runner.conversation.standing import Standing, Way, now, of_snag, standing  # noqa: E402
from runner.speech.decision import Decision, Verdict  # noqa: E402
from runner.speech.heard import AnswerSet, Heard, Ranked, Sort  # noqa: E402
from runner.speech.lexicon import lexicon  # noqa: E402
from runner.speech.opposites import MEANT, OPPOSITE  # noqa: E402
from runner.speech.thresholds import Person  # noqa: E402
from tests.runner.conversation.desks import (  # noqa: E402
    OIL,
    HeardPanel,
    NotingDesk,
    asked,
    only_written,
    surely,
    unsurely,
)
from tests.runner.speech.judging import LIMITS  # noqa: E402
from tests.runner.terminal.fakes import number, view  # noqa: E402

if TYPE_CHECKING:
    from runner.speech.heard import Audio

WAY = Way(lexicon())
SOUND = np.full(1600, 0.25, np.float32)
WORDS = standing(asked(words_read_back=True), view(), WAY)
PLAIN = standing(asked(), view(), WAY)
VALUE = standing(number(meanings=()), view(), WAY)
SNAG = of_snag(view(), WAY)


def judged(
    heard: list[Heard], stands: Standing, *, cut: bool = False, way: Way = WAY,
    persons: Sequence[Person] = (), ratio: float | None = 20.0,
) -> Decision:  # fmt: skip
    judge = Judge(HeardPanel(*heard), LIMITS, way, persons)  # type: ignore[arg-type]
    return judge.decide(Clip(SOUND, ratio, cut), stands)


def test_what_was_surely_heard_whole_is_taken_for_the_question_that_stood() -> None:
    found = judged(surely("released"), WORDS)
    assert (found.verdict, found.line, found.ask) == (Verdict.ACCEPT, "released", WORDS.ask)
    value = judged(surely("1600", Sort.NUMBER), VALUE)
    assert (value.verdict, value.line) == (Verdict.ACCEPT, "1600")


@pytest.mark.parametrize(
    ("heard", "stands", "line"),
    [
        (surely("released"), WORDS, "unsure: released"),
        (surely("1600", Sort.NUMBER), VALUE, "unsure: 1600"),
        (surely("16", Sort.NUMBER), VALUE, "unsure: 16"),
    ],
)
def test_a_clip_that_was_cut_is_read_back_where_the_list_does_that(
    heard: list[Heard], stands: Standing, line: str
) -> None:
    found = judged(heard, stands, cut=True)
    assert (found.verdict, found.line, found.why) == (Verdict.READ_BACK, line, "key came up")


@pytest.mark.parametrize(
    ("line", "sort"),
    [("released", Sort.RESPONSE), ("affirm", Sort.CONTROL), ("discontinue", Sort.CONTROL),
     ("correction ", Sort.CONTROL), ("snag ", Sort.CONTROL)],
)  # fmt: skip
def test_a_clip_that_was_cut_is_asked_again_where_nothing_is_read_back(
    line: str, sort: Sort
) -> None:
    assert judged(surely(line, sort), PLAIN).line == line
    found = judged(surely(line, sort), PLAIN, cut=True)
    assert (found.verdict, found.line, found.why) == (Verdict.SAY_AGAIN, "", "key came up")


def test_of_a_cut_clip_that_was_not_taken_anyway_the_reason_stays() -> None:
    found = judged(only_written("blah"), PLAIN, cut=True)
    assert (found.verdict, found.why) == (Verdict.SAY_AGAIN, "not of the list")


def test_a_correction_that_was_cut_is_asked_again() -> None:
    desk = NotingDesk()
    desk.listens_to = number(meanings=())
    order = f"correct {OIL.key} "
    stands = now(desk, desk.hears, desk.shown, order, WAY)
    assert judged(surely("54", Sort.NUMBER), stands).line == f"{order}54"
    found = judged(surely("54", Sort.NUMBER), stands, cut=True)
    assert (found.verdict, found.line, found.why) == (Verdict.SAY_AGAIN, "", "key came up")


def test_the_words_of_a_snag_are_those_that_were_written_freely() -> None:
    found = judged(only_written(" Vibration,  left pedal. "), SNAG)
    assert (found.verdict, found.line) == (Verdict.ACCEPT, "snag vibration, left pedal")
    assert (found.best, found.why) == ("snag vibration, left pedal", "")


def test_a_word_that_breaks_off_and_was_surely_heard_is_itself() -> None:
    found = judged(surely("disregard", Sort.CONTROL, free="Disregard."), SNAG)
    assert (found.verdict, found.line) == (Verdict.ACCEPT, "disregard")


@pytest.mark.parametrize(
    "free", ["Disregard.", "disregard", "no, disregard that", "Stand by!", "say again, please"]
)
def test_a_word_that_breaks_off_but_was_not_surely_heard_is_no_snag(free: str) -> None:
    line = next(w for w in ("disregard", "stand by", "say again") if w in free.lower())
    for heard in (unsurely(line, Sort.CONTROL, free=free), only_written(free)):
        found = judged(heard, SNAG)
        assert (found.verdict, found.line, found.words) == (Verdict.SAY_AGAIN, "", (line,))


def test_a_word_is_told_from_a_part_of_one() -> None:
    assert judged(only_written("bystander near the tail"), SNAG).verdict is Verdict.ACCEPT


@pytest.mark.parametrize("free", ["", "  ", " . ", "?!"])
def test_a_snag_of_no_words_is_asked_again(free: str) -> None:
    found = judged(only_written(free), SNAG)
    assert (found.verdict, found.line, found.why) == (Verdict.SAY_AGAIN, "", "nothing heard")


def test_half_a_snag_is_none() -> None:
    found = judged(only_written("smell of"), SNAG, cut=True)
    assert (found.verdict, found.line, found.why) == (Verdict.SAY_AGAIN, "", "key came up")


def test_where_nothing_was_heard_nothing_is_done() -> None:
    nothing = [Heard("one", ()), Heard("two", ())]
    for cut in (False, True):
        found = judged(nothing, PLAIN, cut=cut)
        assert (found.verdict, found.why, found.line) == (Verdict.NOTHING, "nothing heard", "")


def test_one_person_s_bars_hold_for_that_person_alone() -> None:
    """Two readings are no reading: nobody knows which of them speaks."""
    wants = Person("Maren Holt", raised=2.0)
    near = Ranked("released", -2.0, Sort.RESPONSE), Ranked("wilco", -3.5, Sort.CONTROL)
    heard = [Heard("one", near, "", -2.0), Heard("two", near)]
    assert judged(heard, PLAIN).verdict is Verdict.ACCEPT
    assert judged(heard, PLAIN, persons=[wants]).verdict is Verdict.SAY_AGAIN
    both = [wants, Person("Åsa Lind")]
    assert judged(heard, PLAIN, persons=both).verdict is Verdict.ACCEPT


def loudness(persons: Sequence[Person], peak: float) -> float:
    panel = HeardPanel(*surely("released"))
    sound = np.array([0.0, peak, -peak / 2], np.float32)
    Judge(panel, LIMITS, WAY, persons).decide(Clip(sound), PLAIN)  # type: ignore[arg-type]
    heard = panel.asked[0][0]
    assert heard.dtype == np.float32
    return float(np.abs(heard).max())


def test_one_person_s_gain_is_given_and_never_drives_the_sound_over() -> None:
    soft = Person("Maren Holt", gain_db=12.0)
    assert loudness([], 0.1) == pytest.approx(0.1)
    assert loudness([soft], 0.1) == pytest.approx(0.1 * 10 ** (12 / 20), rel=1e-5)
    assert loudness([soft], 0.9) == pytest.approx(1.0)
    assert loudness([soft], 1.0) == pytest.approx(1.0)
    assert loudness([soft], 0.0) == 0.0
    assert loudness([Person("Maren Holt", gain_db=-6.0)], 1.0) == pytest.approx(10 ** (-6 / 20))
    assert loudness([soft, Person("Åsa Lind", gain_db=3.0)], 0.1) == pytest.approx(0.1)


def test_everybody_s_ways_of_saying_words_are_understood() -> None:
    mine = Person("Maren Holt", ways={"released": ("releest",)})
    yours = Person("Åsa Lind", ways={"released": ("release it",)})
    language = language_of(lexicon(), [mine, yours])
    ways = {p.line: p.ways for p in standing(asked(), view(), Way(language)).answers.phrases}
    assert {"released", "releest", "release it"} <= set(ways["released"])


def test_working_ahead_and_letting_go_reach_the_recognisers() -> None:
    panel = HeardPanel()
    judge = Judge(panel, LIMITS, WAY)  # type: ignore[arg-type]
    judge.prepare(PLAIN.answers)
    judge.close()
    assert (panel.prepared, panel.closed) == ([PLAIN.answers], 1)


def test_one_persons_bars_end_when_another_comes_aboard() -> None:
    person = Person("A Holt", shifts={"one": -1.5})
    judge = Judge(HeardPanel(*unsurely("released")), LIMITS, WAY, [person])  # type: ignore[arg-type]
    mine = judge._bars
    judge.aboard({"A Holt", "R Byrne"})
    assert judge._bars is LIMITS
    judge.aboard({"R Byrne"})
    assert judge._bars is LIMITS
    judge.aboard({"A Holt"})
    assert judge._bars == mine != LIMITS


def test_an_open_microphone_takes_a_snag_only_behind_the_address() -> None:
    way = Way(lexicon(), open_microphone=True)
    stands = of_snag(view(), way)
    radio = judged(only_written("tower good morning"), stands, way=way)
    assert (radio.verdict, radio.line) == (Verdict.NOTHING, "")
    mine = judged(only_written("List, vibration left pedal."), stands, way=way)
    assert (mine.verdict, mine.line) == (Verdict.ACCEPT, "snag vibration left pedal")


class Contested(HeardPanel):
    """Hears the answer in the set, and what it is told to against the opposites."""

    def __init__(self, line: str, margin: float) -> None:
        super().__init__(*surely("released"))
        self.line, self.margin = line, margin
        self.against: list[tuple[str, ...]] = []

    def first(self, audio: Audio, answers: AnswerSet) -> Heard:
        self.against.append(answers.phrases[1].ways)
        other = OPPOSITE if self.line == MEANT else MEANT
        ranked = (Ranked(self.line, 0.0, Sort.RESPONSE),
                  Ranked(other, -self.margin, Sort.RESPONSE))  # fmt: skip
        return Heard("one", ranked)


@pytest.mark.parametrize(
    ("line", "margin", "verdict"),
    [(MEANT, 3.0, Verdict.ACCEPT), (MEANT, 0.5, Verdict.SAY_AGAIN),
     (OPPOSITE, 9.0, Verdict.SAY_AGAIN)],
)  # fmt: skip
def test_what_is_taken_stood_against_its_opposites(
    line: str, margin: float, verdict: Verdict
) -> None:
    panel = Contested(line, margin)
    found = Judge(panel, LIMITS, WAY).decide(Clip(SOUND, 20.0), WORDS)  # type: ignore[arg-type]
    assert found.verdict is verdict
    assert found.why == ("" if verdict is Verdict.ACCEPT else "opposite")
    assert "not released" in panel.against[0]
