"""The packaged English model: sound to states once, then the likelihood of every next token.

One job: run the two graphs. Rules: an utterance is encoded once, whatever is asked about it; a
`Decoding` holds rows of partial texts that share their past and the utterance's states; likelihoods
are natural logarithms, over all tokens; at most two threads; no state is kept from one utterance to
the next, so that the same sound gives the same figures.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
import onnxruntime
from numpy.typing import NDArray

from runner.speech.heard import RATE
from runner.speech.recognisers.form import check
from runner.speech.recognisers.tokens import END, START
from runner.speech.recognisers.weights import Weights

if TYPE_CHECKING:
    from runner.speech.heard import Audio

Floats = NDArray[np.float32]
Numbers = NDArray[np.int64]

THREADS: Final = 2
SILENCE_S: Final = 0.4
"""Added before and after the utterance: the model then hears its ends better (measured)."""

_LAYERS: Final = 6
_HEADS: Final = 8
_WIDTH: Final = 36


class Encoded(NamedTuple):
    """What the model made of one utterance: (1, frames, width), and its length in seconds."""

    states: Floats
    seconds: float


class Model:
    """Both graphs, loaded once."""

    def __init__(self, weights: Weights, threads: int = THREADS) -> None:
        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = max(1, min(threads, THREADS))
        options.inter_op_num_threads = 1
        options.log_severity_level = 3
        options.enable_cpu_mem_arena = False
        # Threads that spin between two steps would take the cores from capture and detector.
        options.add_session_config_entry("session.intra_op.allow_spinning", "0")
        cpu = ["CPUExecutionProvider"]
        self._encoder = onnxruntime.InferenceSession(str(weights.encoder), options, providers=cpu)
        self._decoder = onnxruntime.InferenceSession(str(weights.decoder), options, providers=cpu)
        self._outputs = [output.name for output in self._decoder.get_outputs()]

    def encode(self, audio: Audio) -> Encoded:
        """`audio` with silence around it, as states. ValueError for audio of another form."""
        check(audio)
        silence = np.zeros(int(SILENCE_S * RATE), np.float32)
        padded = np.concatenate([silence, audio, silence])[np.newaxis]
        (states,) = self._encoder.run(
            None,
            {"input_values": padded, "attention_mask": np.ones(padded.shape, np.int64)},
        )
        return Encoded(states, len(audio) / RATE)

    def begin(self, encoded: Encoded) -> Decoding:
        """One empty text over an utterance."""
        return Decoding(self._decoder, self._outputs, encoded.states)

    def score(self, encoded: Encoded, texts: Sequence[Sequence[int]]) -> list[float]:
        """The log likelihood of each row of tokens, its end included, in one pass."""
        if not texts:
            return []
        longest = max(map(len, texts)) + 1
        tokens = np.full((len(texts), longest), END, np.int64)
        tokens[:, 0] = START
        for row, text in enumerate(texts):
            tokens[row, 1 : len(text) + 1] = text
        states = np.repeat(encoded.states, len(texts), axis=0)
        feed = _feed(tokens, states, _empty(len(texts)), cached=False)
        logits = self._decoder.run(["logits"], feed)[0]
        found = []
        for row, text in enumerate(texts):
            likely = log_softmax(logits[row, : len(text) + 1])
            found.append(float(likely[np.arange(len(text) + 1), [*text, END]].sum()))
        return found


class Decoding:
    """Rows of texts in the making over one utterance."""

    def __init__(
        self, decoder: onnxruntime.InferenceSession, outputs: list[str], states: Floats
    ) -> None:
        self._decoder = decoder
        self._outputs = outputs
        self._states = states
        self._feed = _feed(np.array([[START]], np.int64), states, _empty(1), cached=False)
        values = dict(zip(outputs, decoder.run(None, self._feed), strict=True))
        self._past = {
            name.replace("present", "past_key_values"): value
            for name, value in values.items()
            if name != "logits"
        }
        # Every row hears the same utterance: what the layers know of it is computed once.
        self._heard = {name: value for name, value in self._past.items() if ".encoder." in name}
        self._rows = 1
        self.likely: Floats = log_softmax(values["logits"][:, -1])
        """For each row, the log likelihood of every next token: (rows, tokens)."""

    def step(self, parents: Sequence[int], tokens: Sequence[int]) -> None:
        """New rows: row i is the old row `parents[i]` followed by `tokens[i]`."""
        rows = len(tokens)
        if rows > self._rows:
            self._rows = rows
            self._states = np.repeat(self._states[:1], rows, axis=0)
            self._heard = {n: np.repeat(v[:1], rows, axis=0) for n, v in self._heard.items()}
        chosen = np.asarray(parents, np.int64)
        past = {
            name: self._heard[name][:rows] if name in self._heard else value[chosen]
            for name, value in self._past.items()
        }
        ids = np.asarray(tokens, np.int64)[:, np.newaxis]
        feed = _feed(ids, self._states[:rows], past, cached=True)
        wanted = [name for name in self._outputs if ".encoder." not in name]
        values = dict(zip(wanted, self._decoder.run(wanted, feed), strict=True))
        for name, value in values.items():
            if name != "logits":
                self._past[name.replace("present", "past_key_values")] = value
        self.likely = log_softmax(values["logits"][:, -1])


def log_softmax(logits: Floats) -> Floats:
    """Natural logarithms of the likelihoods over the last axis."""
    highest = logits.max(axis=-1, keepdims=True)
    shifted = logits - highest
    found: Floats = shifted - np.log(np.exp(shifted).sum(axis=-1, keepdims=True))
    return found


def _empty(rows: int) -> dict[str, Floats]:
    nothing = np.zeros((rows, _HEADS, 0, _WIDTH), np.float32)
    return {
        f"past_key_values.{layer}.{part}.{kind}": nothing
        for layer in range(_LAYERS)
        for part in ("decoder", "encoder")
        for kind in ("key", "value")
    }


def _feed(ids: Numbers, states: Floats, past: dict[str, Floats], cached: bool) -> dict[str, Any]:
    return {
        "input_ids": ids,
        "encoder_hidden_states": states,
        "encoder_attention_mask": np.ones(states.shape[:2], np.int64),
        "use_cache_branch": np.array([cached]),
        **past,
    }
