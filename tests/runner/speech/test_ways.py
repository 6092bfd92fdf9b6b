"""Texts of the lists as they are spoken, and lexicons as data."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from runner.speech import lexicon as module
from runner.speech.answers import answer_set
from runner.speech.heard import Sort
from runner.speech.lexicon import CONTROL, Lexicon, LexiconFault, lexicon, read_lexicon
from runner.speech.ways import MOST, joined, ways
from runner.words.numbers import read_number
from tests.runner.engine.generator import aircraft
from tests.runner.speech.day import day

EN = (Path(str(module.__file__)).parent / "lexicons" / "en.yaml").read_bytes()

KOREAN = """
language: ko
digits: [공, 일, 이, 삼, 사, 오, 육, 칠, 팔, 구]
decimal: 점
minus: 마이너스
control: {CONTROL}
named: {correct: 정정, drill: 절차, fault: 결함, happened: 발생, tick: 확인, timer: 시계,
  turn to: 이동}
address: [목록]
repairs: [정정]
denials: [아니]
"""


def korean() -> Lexicon:
    words = (
        "{" + ", ".join(f"{name}: [제어{chr(0xAC00 + n)}]" for n, name in enumerate(CONTROL)) + "}"
    )
    return read_lexicon(KOREAN.replace("{CONTROL}", words).encode(), "ko.yaml")


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("RELEASED", ("released",)),
        ("FULL / OPEN", ("full open",)),
        ("R.P.M.", ("r p m", "revs")),
        ("RPM", ("r p m", "revs")),
        ("Q.N.H. SET", ("q n h set",)),
        ("VHF", ("v h f",)),
        ("CUT-OFF, CLOSED", ("cut off closed",)),
        ("AGREE WITHIN 60 FEET", ("agree within six zero feet", "agree within sixty feet")),
        ("20 °C", ("two zero degrees celsius", "twenty degrees celsius", "two zero degrees")),
        ("A & B", ("a and b",)),
        ("50%", ("five zero per cent", "fifty per cent")),
        ("C4", ("c four",)),
        ("DON'T (EVER)", ("don't ever",)),
        ("MAGNETO’S", ("magneto's",)),
        ("1.50", ("one decimal five zero", "one point five zero")),
        ("-5", ("minus five",)),
        ("8", ("eight",)),
        ("SPRING", ("spring",)),
        ("OFF.", ("off",)),
        ("...", ()),
        ("", ()),
    ],
)
def test_a_text_is_said_so(text: str, said: tuple[str, ...]) -> None:
    assert ways(text, lexicon()) == said


def test_every_answer_of_the_demo_documents_has_a_way_and_says_every_letter_of_its_words() -> None:
    english = lexicon()
    for name in ("corvane_c4", "tern_t2"):
        for step in aircraft(name).steps.values():
            texts = [step.challenge, step.response, *step.variants, *(c.text for c in step.choices)]
            for text in filter(None, texts):
                said = ways(text, english)
                assert said, text
                # What is letters alone is said as it stands.
                if text.replace(" ", "").isalpha() and not set(text.lower().split()) & set(
                    english.words
                ):
                    spelled = said[0].replace(" ", "")
                    assert spelled == text.lower().replace(" ", "")


@given(st.integers(-99_999, 99_999), st.integers(0, 2))
def test_a_number_inside_a_text_is_that_number(digits: int, places: int) -> None:
    text = f"{digits / 10**places:.{places}f}"
    for way in ways(text, lexicon()):
        assert read_number(way) == read_number(text)


@given(st.text(max_size=60))
def test_what_comes_out_are_words_of_letters_alone(text: str) -> None:
    said = ways(text, lexicon())
    assert len(said) <= MOST
    assert len(set(said)) == len(said)
    for way in said:
        assert way == " ".join(way.split())
        assert all(word.replace("'", "").isalpha() for word in way.split())


def test_joined_ways_begin_with_the_plain_ones() -> None:
    assert joined(("a", "b"), ("c", "d")) == ("a c", "a d", "b c", "b d")
    assert joined(("a",), ()) == ()
    assert joined(("a",), map(str, range(9)), 3) == ("a 0", "a 1", "a 2")


def test_one_person_may_say_a_word_in_another_way() -> None:
    own = lexicon().having({"rpm": ("rotations",), "hook": ("hawk",)})
    assert ways("HOOK SAFE", own) == ("hook safe", "hawk safe")
    assert ways("RPM", own) == ("r p m", "revs", "rotations")
    assert ways("RPM", lexicon()) == ("r p m", "revs")


def test_another_language_is_another_file() -> None:
    ko = korean()
    assert ways("브레이크 해제", ko) == ("브레이크 해제",)
    assert ways("60", ko) == ("육 공",)
    assert ways("-2.5", ko) == ("마이너스 이 점 오",)
    said = day()[60]
    found = answer_set(said.listen, said.view, ko, role=said.role)
    lines = {p.line: p.ways for p in found.phrases if p.sort is Sort.CONTROL}
    assert lines["say again"] == ko.control["say again"]
    assert said.read("say again")
    open_mic = answer_set(said.listen, said.view, ko, role=said.role, open_microphone=True)
    assert any(way.startswith("목록 ") for p in open_mic.phrases for way in p.ways)


def test_the_english_words_for_digits_are_those_that_are_read() -> None:
    english = lexicon()
    assert [read_number(word) for word in english.digits] == list(range(10))
    assert read_number(f"{english.minus} five {english.decimal} two") is not None
    assert english.sha256
    assert set(english.control) == set(CONTROL)


def broken(**changes: object) -> bytes:
    data = yaml.safe_load(EN)
    for name, value in changes.items():
        if value is None:
            del data[name]
        else:
            data[name] = value
    return yaml.safe_dump(data, allow_unicode=True).encode()


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"\xff\xfe\x00", "no YAML"),
        (b"[a, b]", "no entries"),
        (b"a: [", "no YAML"),
        (broken(wrods={}), "'wrods'; allowed: language"),
        (broken(wrods={}), "nearest: words"),
        (broken(digits=["zero"]), "1 words; allowed: ten"),
        (broken(digits=None), "digits: found None"),
        (broken(numbers="roman"), "'roman'; allowed: english, digits"),
        (broken(language=None), "language: found None"),
        (broken(decimal="Point"), "decimal: found 'Point'; allowed: words of lower-case"),
        (broken(minus="-"), "minus: found '-'"),
        (broken(control={"affirm": ["affirm"]}), "no 'condition lost'"),
        (broken(control={"afirm": ["affirm"]}), "nearest: affirm"),
        (broken(named={"drill": "drill"}), "named: correct: found None"),
        (broken(named={"dril": "drill"}), "nearest: drill"),
        (broken(words=["rpm"]), "words: found ['rpm']"),
        (broken(words={"rpm": []}), "words: rpm: found []"),
        (broken(words={"rpm": ["r.p.m."]}), "words: rpm: found 'r.p.m.'"),
        (broken(address=[True]), "address: found True"),
    ],
)  # fmt: skip
def test_a_lexicon_that_cannot_be_used_says_where_and_what_is_allowed(
    content: bytes, told: str
) -> None:
    with pytest.raises(LexiconFault) as fault:
        read_lexicon(content, "xx.yaml")
    assert str(fault.value).startswith("xx.yaml: ")
    assert told in str(fault.value)
