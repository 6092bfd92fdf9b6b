"""The one spelling of a JSON value in a log: RFC 8785 over a profile all serialisers agree on.

Rules of the profile: keys `[a-z0-9_]+`, sorted; no floats (a decimal is a string); integers
between -(2^53 - 1) and 2^53 - 1; strings in Unicode normal form C without control, bidirectional
or surrogate characters; at most 32 levels. Base64 is the standard alphabet with padding, decoded,
encoded again and compared.
"""

import binascii
import re
import unicodedata
from functools import lru_cache
from typing import Any

import orjson

from audit.errors import Fault

LARGEST_INTEGER = 2**53 - 1
DEEPEST = 32
HEARD_LIMIT = 200
OPTIONS = orjson.OPT_SORT_KEYS | orjson.OPT_STRICT_INTEGER
_KEY = re.compile(r"[a-z0-9_]+")
_HEX64 = re.compile(r"[0-9a-f]{64}")
# C0, DEL and C1 controls; surrogates; the marks, embeddings, overrides and isolates of UAX #9
_FORBIDDEN = re.compile(
    "[\u0000-\u001f\u007f-\u009f\ud800-\udfff\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]"
)


# keys that were found to be made of the right letters: a log has few, and each on every line
_KEYS: set[str] = set()
_MOST_KEYS = 4096


def check(value: Any, *, plain: bool = False) -> None:
    """Raise `Fault("profile")` unless `value` (what JSON can hold) is inside the profile.

    plain: `is_plain` has found all of its text, as it is spelled, to be inside.
    """
    _check(value, 1, plain)


def is_plain(spelled: bytes) -> bool:
    """True when no text of a canonically spelled value can be outside the profile: all is ASCII,
    nothing is escaped (as every control character below a space would be), and no DEL is there."""
    return spelled.isascii() and b"\\" not in spelled and b"\x7f" not in spelled


def _check(value: Any, depth: int, plain: bool) -> None:
    kind = type(value)
    if kind is str:
        check_text(value)
    elif kind is int:
        if not -LARGEST_INTEGER <= value <= LARGEST_INTEGER:
            raise Fault("profile", f"integer {value} is not between -(2^53 - 1) and 2^53 - 1")
    elif kind is dict:
        if depth > DEEPEST:
            raise Fault("profile", f"nested deeper than {DEEPEST} levels")
        for key, item in value.items():
            if key not in _KEYS:
                _check_key(key)
            if not plain or type(item) is not str:
                _check(item, depth + 1, plain)
    elif kind is list:
        if depth > DEEPEST:
            raise Fault("profile", f"nested deeper than {DEEPEST} levels")
        for item in value:
            if not plain or type(item) is not str:
                _check(item, depth + 1, plain)
    elif value is not None and kind is not bool:
        raise Fault(
            "profile",
            f"{value!r} is a {kind.__name__}; allowed are text, whole numbers, true, false, null, "
            "lists and objects (write a decimal as text)",
        )


def _check_key(key: Any) -> None:
    if type(key) is not str or not _KEY.fullmatch(key):
        raise Fault("profile", f"key {key!r} is not made of a-z, 0-9 and _")
    if len(_KEYS) < _MOST_KEYS and len(key) <= 64:
        _KEYS.add(key)


def check_text(text: str) -> None:
    """Raise `Fault("profile")` for a string outside the profile."""
    if text.isascii():
        if not text.isprintable():
            raise Fault("profile", f"control character in {text!r}")
        return
    found = _FORBIDDEN.search(text)
    if found:
        raise Fault("profile", f"character U+{ord(found[0]):04X} is not allowed in {text!r}")
    if not unicodedata.is_normalized("NFC", text):
        raise Fault("profile", f"{text!r} is not in Unicode normal form C")


def tidy(text: str, limit: int = HEARD_LIMIT) -> str:
    """The nearest text inside the profile, at most `limit` characters: for heard or typed text.

    Forbidden characters become spaces; what is cut is cut from the end.
    """
    return unicodedata.normalize("NFC", _FORBIDDEN.sub(" ", text))[:limit]


def spell(value: Any) -> bytes:
    """The canonical bytes of a value that `check` has let pass (UTF-8, no spaces, sorted keys)."""
    try:
        return orjson.dumps(value, option=OPTIONS)
    except (orjson.JSONEncodeError, RecursionError) as error:
        raise Fault("profile", f"not a JSON value of the profile: {error}") from None


def read(text: bytes) -> Any:
    """The value of canonical bytes; raises `Fault`: `json` if it is none, `canonical` if it is
    spelled in any other way (which also catches a key given twice)."""
    try:
        value = orjson.loads(text)
    except orjson.JSONDecodeError as error:
        raise Fault("json", f"not JSON: {error}") from None
    try:
        spelled = orjson.dumps(value, option=OPTIONS)
    except (orjson.JSONEncodeError, RecursionError) as error:
        raise Fault("profile", f"not a JSON value of the profile: {error}") from None
    if spelled != text:
        raise Fault("canonical", "JSON is not in its canonical spelling")
    return value


def is_hex64(value: Any) -> bool:
    """True for 64 lower-case hexadecimal digits: a SHA-256."""
    return type(value) is str and _HEX64.fullmatch(value) is not None


def base64_text(raw: bytes) -> str:
    """Standard base64 with padding, no line breaks."""
    return binascii.b2a_base64(raw, newline=False).decode("ascii")


def base64_bytes(text: Any, length: int | None = None) -> bytes:
    """The bytes of a base64 text in its one spelling; `length` in bytes, where it is fixed.

    Raises `Fault("base64")`, also for the spellings that decode alike (loose bits, breaks).
    """
    if type(text) is not str:
        raise Fault("base64", "a base64 field is not text")
    return _decoded(text, length)


@lru_cache(maxsize=4)  # a line's key and signature are looked at twice: spelling, then use
def _decoded(text: str, length: int | None) -> bytes:
    try:
        raw = binascii.a2b_base64(text.encode("ascii"), strict_mode=True)
    except ValueError:
        raise Fault("base64", "a base64 field does not decode") from None
    if base64_text(raw) != text:
        raise Fault("base64", "a base64 field is not in its one spelling")
    if length is not None and len(raw) != length:
        raise Fault("base64", f"a base64 field holds {len(raw)} bytes, not {length}")
    return raw
