"""Where the files of the packaged English model lie, and what to install where they do not.

Rules: the package is never imported (that would load libraries which are not needed here): its
folder is asked for by name; each file must be there and of a plausible size, because later versions
of the package carry the tokenizer only; nothing is fetched.
"""

from __future__ import annotations

from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from pathlib import Path
from typing import Final, NamedTuple

PACKAGE: Final = "moonshine-voice"
VERSION: Final = "0.0.71"
"""The version whose wheel holds the weights (MIT licence)."""

_MODULE: Final = "moonshine_voice"
_PLACE: Final = ("assets", "tiny-en")
_LEAST: Final = {
    "encoder_model.ort": 1_000_000,
    "decoder_model_merged.ort": 1_000_000,
    "tokenizer.bin": 100_000,
}


class NoWeights(Exception):
    """The packaged model is not there; says what was found and what to install."""


class Weights(NamedTuple):
    """The three files of the model."""

    encoder: Path
    decoder: Path
    tokenizer: Path


def find_weights() -> Weights:
    """The files of the installed package. `NoWeights` where one is missing."""
    spec = find_spec(_MODULE)
    places = list(spec.submodule_search_locations or ()) if spec else []
    if not places:
        raise NoWeights(f"the English model is not installed: {_advice()}")
    return weights_in(Path(places[0]).joinpath(*_PLACE))


def weights_in(folder: Path) -> Weights:
    """The files in `folder`. `NoWeights` where one is missing or too small to be weights."""
    for name, least in _LEAST.items():
        path = folder / name
        if not path.is_file():
            raise NoWeights(f"the English model lacks {name}{_found()}: {_advice()}")
        size = path.stat().st_size
        if size < least:
            raise NoWeights(f"{name} of the English model has {size} bytes only: {_advice()}")
    return Weights(*(folder / name for name in _LEAST))


def _found() -> str:
    try:
        return f" ({PACKAGE} {version(PACKAGE)} is installed, {VERSION} has it)"
    except PackageNotFoundError:
        return ""


def _advice() -> str:
    return f"python -m pip install '{PACKAGE}=={VERSION}' (Linux and macOS)"
