"""The packaged model is found without its package being loaded, and absence is told."""

from __future__ import annotations

import subprocess
import sys
from importlib.machinery import ModuleSpec
from pathlib import Path

import pytest

from runner.speech.recognisers import weights
from runner.speech.recognisers.weights import NoWeights, find_weights, weights_in

NAMES = ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin")


def filled(place: Path, size: int = 1_100_000) -> Path:
    for name in NAMES:
        with (place / name).open("wb") as file:
            file.truncate(size)
    return place


def test_all_three_files_are_found(tmp_path: Path) -> None:
    found = weights_in(filled(tmp_path))
    assert [path.name for path in found] == list(NAMES)
    assert all(path.parent == tmp_path for path in found)


@pytest.mark.parametrize("name", NAMES)
def test_a_file_that_is_missing_is_named_with_what_to_install(tmp_path: Path, name: str) -> None:
    (filled(tmp_path) / name).unlink()
    with pytest.raises(NoWeights, match=f"lacks {name}.*pip install 'moonshine-voice==0.0.71'"):
        weights_in(tmp_path)


@pytest.mark.parametrize("name", NAMES)
def test_a_stub_of_a_file_is_no_weights(tmp_path: Path, name: str) -> None:
    (filled(tmp_path) / name).write_bytes(b"version https://git-lfs.github.com/spec/v1\n")
    with pytest.raises(NoWeights, match=f"{name} of the English model has 43 bytes only"):
        weights_in(tmp_path)


def test_a_package_that_is_not_installed_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(weights, "find_spec", lambda name: None)
    with pytest.raises(NoWeights, match=r"not installed: python -m pip install"):
        find_weights()


def test_it_is_looked_for_where_the_package_lies(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    spec = ModuleSpec("moonshine_voice", None, is_package=True)
    spec.submodule_search_locations = [str(tmp_path)]
    monkeypatch.setattr(weights, "find_spec", lambda name: spec)
    place = tmp_path / "assets" / "tiny-en"
    place.mkdir(parents=True)
    filled(place)
    assert find_weights() == weights_in(place)


def test_the_package_itself_is_never_imported() -> None:
    program = (
        "import sys\n"
        "from runner.speech.recognisers.weights import NoWeights, find_weights\n"
        "try: find_weights()\n"
        "except NoWeights: pass\n"
        "print([m for m in sys.modules if m.startswith('moonshine')])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert (done.stdout.strip(), done.stderr) == ("[]", "")
