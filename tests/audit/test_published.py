"""Published vectors that are files: signatures of Project Wycheproof, spellings of RFC 8785.

Elsewhere, beside their checks: RFC 8032 and the small-order cases (`test_curve.py`), the example of
RFC 8785 (`test_canonical.py`), trees and proofs of RFC 6962 (`fleet/test_tree.py`), signed notes
(`fleet/test_note.py`).
"""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from pathlib import Path
from typing import Any, NamedTuple

import pytest
import rfc8785
from cryptography.exceptions import InvalidSignature

from audit import canonical, curve, sshsig
from audit.errors import Fault
from tests.audit.opinions import independent

WYCHEPROOF = Path(__file__).parents[1] / "data" / "wycheproof" / "ed25519_test.json"


class Case(NamedTuple):
    number: int
    key: bytes
    message: bytes
    signature: bytes
    flag: str
    result: str


def _cases() -> list[Case]:
    found = []
    for group in json.loads(WYCHEPROOF.read_text("utf-8"))["testGroups"]:
        key = bytes.fromhex(group["publicKey"]["pk"])
        for test in group["tests"]:
            (flag,) = test["flags"]
            message, signature = bytes.fromhex(test["msg"]), bytes.fromhex(test["sig"])
            found.append(Case(test["tcId"], key, message, signature, flag, test["result"]))
    return found


CASES = _cases()
# where verifiers may differ: we refuse keys of small order. A key with a part of small order can
# not be told from a good one without a multiplication, has a holder with a secret, and is taken by
# ssh-keygen and OpenSSL alike.
TAKEN = {"valid": True, "invalid": False}
ACCEPTABLE = {"SmallOrderPublicKey": False, "MixedOrderPublicKey": True}


def _wanted(case: Case) -> bool:
    return TAKEN[case.result] if case.result in TAKEN else ACCEPTABLE[case.flag]


def _ours(case: Case) -> bool:
    try:
        curve.check_public_key(case.key)
    except Fault:
        return False
    return curve.verifies(case.key, case.signature, case.message)


def test_the_file_is_the_one_that_its_readme_names() -> None:
    digest = hashlib.sha256(WYCHEPROOF.read_bytes()).hexdigest()
    assert digest in WYCHEPROOF.with_name("README.md").read_text("utf-8")
    assert len(CASES) == 210
    assert Counter(case.result for case in CASES) == {"valid": 117, "invalid": 64, "acceptable": 29}


@pytest.mark.parametrize("flag", sorted({case.flag for case in CASES}))
def test_wycheproof(flag: str) -> None:
    for case in CASES:
        if case.flag == flag:
            assert _ours(case) is _wanted(case), case.number


def test_wycheproof_by_the_independent_verifier() -> None:
    module = independent()
    for case in CASES:
        try:
            module.public(case.key).verify(case.signature, case.message)
        except (ValueError, InvalidSignature):
            assert not _wanted(case), case.number
        else:
            assert _wanted(case), case.number


def test_no_key_of_small_order_is_taken_in_any_place() -> None:
    keys = {case.key for case in CASES if case.flag == "SmallOrderPublicKey"}
    assert len(keys) == 8
    for key in keys:
        with pytest.raises(Fault) as caught:
            sshsig.parse_key_blob(sshsig.key_blob(key))
        assert caught.value.code == "weak-key"


# github.com/cyberphone/json-canonicalization, testdata/input and testdata/output: the test data
# of the authors of RFC 8785. What is outside our profile is refused, by what it is.
SPELLINGS: dict[str, tuple[str, str, str]] = {
    "arrays": (
        '[\n  56,\n  {\n    "d": true,\n    "10": null,\n    "1": [ ]\n  }\n]',
        '[56,{"1":[],"10":null,"d":true}]',
        "",
    ),
    "french": (
        '{\n  "peach": "This sorting order",\n  "péché": "is wrong according to French",\n'
        '  "pêche": "but canonicalization MUST",\n  "sin":   "ingnore locale"\n}\n',
        '{"peach":"This sorting order","péché":"is wrong according to French",'
        '"pêche":"but canonicalization MUST","sin":"ingnore locale"}',
        "key 'péché'",
    ),
    "structures": (
        '{\n  "1": {"f": {"f": "hi","F": 5} ,"\\n": 56.0},\n  "10": { },\n  "": "empty",\n'
        '  "a": { },\n  "111": [ { } ],\n  "A": { }\n}',
        '{"":"empty","1":{"\\n":56,"f":{"F":5,"f":"hi"}},"10":{},"111":[{}],"A":{},"a":{}}',
        "key 'F'",
    ),
    "unicode": (
        '{\n  "Unnormalized Unicode":"\\u1e0d\\u0307"\n}\n',
        '{"Unnormalized Unicode":"\u1e0d\u0307"}',
        "key 'Unnormalized Unicode'",
    ),
    "values": (
        '{\n  "numbers": [1E30, 4.50, 333333333.33333329, 2e-3, 0.000000000000000000000000001],\n'
        '  "escaping": "\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/",\n'
        '  "literals": [null, true, false]\n}',
        '{"escaping":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/","literals":[null,true,false],'
        '"numbers":[1e+30,4.5,333333333.3333333,0.002,1e-27]}',
        "write a decimal as text",
    ),
    "weird": (
        '{\n  "\\u20ac": "Euro Sign",\n  "1": "One",\n  "\\u0080": "Control\\u007f",\n'
        '  "\\ud83d\\ude02": "Smiley",\n'
        '  "\\u00f6": "Latin Small Letter O With Diaeresis",\n'
        '  "\\ufb33": "Hebrew Letter Dalet With Dagesh",\n'
        '  "</script>": "Browser Challenge"\n}\n',
        '{"1":"One","</script>":"Browser Challenge","\u0080":"Control\u007f",'
        '"ö":"Latin Small Letter O With Diaeresis","€":"Euro Sign","😂":"Smiley",'
        '"\ufb33":"Hebrew Letter Dalet With Dagesh"}',
        "key '€'",
    ),
}


@pytest.mark.parametrize("name", SPELLINGS)
def test_the_test_data_of_rfc_8785(name: str) -> None:
    written, spelled, refused = SPELLINGS[name]
    value = json.loads(written)
    published = spelled.encode("utf-8")
    assert rfc8785.dumps(value) == published  # the oracle, judged by the published file
    if refused:
        with pytest.raises(Fault) as caught:
            canonical.check(value)
        assert caught.value.code == "profile"
        assert refused in caught.value.why
    else:
        canonical.check(value)
        assert canonical.spell(value) == published
        assert canonical.read(published) == value
        for other in (written, spelled.replace(":", ": "), spelled + "\n"):
            with pytest.raises(Fault) as caught:
                canonical.read(other.encode("utf-8"))
            assert caught.value.code == "canonical"


# RFC 8785, appendix B: every number there that is not a whole one below 2^53 is refused; typed from
# the test data named above and from memory
NUMBERS: list[tuple[float | int, str, bool]] = [
    (0, "0", True),
    (9007199254740991, "9007199254740991", True),
    (-9007199254740991, "-9007199254740991", True),
    (9007199254740992, "9007199254740992", False),
    (-9007199254740992, "-9007199254740992", False),
    (-0.0, "0", False),
    (5e-324, "5e-324", False),
    (1.7976931348623157e308, "1.7976931348623157e+308", False),
    (295147905179352830000.0, "295147905179352830000", False),
    (9.999999999999997e22, "9.999999999999997e+22", False),
    (1e23, "1e+23", False),
    (333333333.3333332, "333333333.3333332", False),
    (-0.0000033333333333333333, "-0.0000033333333333333333", False),
    (1424953923781206.2, "1424953923781206.2", False),
]


@pytest.mark.parametrize(("number", "spelled", "inside"), NUMBERS)
def test_the_numbers_of_rfc_8785(number: Any, spelled: str, inside: bool) -> None:
    if inside:
        canonical.check(number)
        assert canonical.spell(number) == spelled.encode() == rfc8785.dumps(number)
        assert canonical.read(spelled.encode()) == number
        return
    with pytest.raises(Fault) as caught:
        canonical.check(number)
    assert caught.value.code == "profile"
    if type(number) is float:
        assert rfc8785.dumps(number) == spelled.encode()


# github.com/novifinancial/ed25519-speccheck, cases.json: the cases of "Taming the many EdDSAs"
# (Chalkias, Garillot, Nikolaenko 2020), with what the paper says that each is; taken are those
# whose key is not of small order and that fit the equation of RFC 8032 without the cofactor
SMALL_KEY = "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa"
MIXED_KEY = "f7badec5b8abeaf699583992219b7b223f1df3fbbea919844e3f7c554a43dd43"
OTHER_KEY = "cdb267ce40c5cd45306fa5d2f29731459387dbf9eb933b7bd5aed9a765b88d4d"
GOOD_KEY = "442aad9f089ad9e14647b1ef9099a1ff4798d78589e66f28eca69c11f582a623"
TAMED: list[tuple[str, str, str, str, bool]] = [
    (
        "small order key and R, S zero",
        "8c93255d71dcab10e8f379c26200f3c7bd5f09d9bc3068d3ef4edeb4853022b6",
        SMALL_KEY,
        "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac037a"
        "0000000000000000000000000000000000000000000000000000000000000000",
        False,
    ),
    (
        "small order key",
        "9bd9f44f4dcc75bd531b56b2cd280b0bb38fc1cd6d1230e14861d861de092e79",
        SMALL_KEY,
        "f7badec5b8abeaf699583992219b7b223f1df3fbbea919844e3f7c554a43dd43"
        "a5bb704786be79fc476f91d3f3f89b03984d8068dcf1bb7dfc6637b45450ac04",
        False,
    ),
    (
        "small order R",
        "aebf3f2601a0c8c5d39cc7d8911642f740b78168218da8471772b35f9d35b9ab",
        MIXED_KEY,
        "c7176a703d4dd84fba3c0b760d10670f2a2053fa2c39ccc64ec7fd7792ac03fa"
        "8c4bd45aecaca5b24fb97bc10ac27ac8751a7dfe1baff8b953ec9f5833ca260e",
        True,
    ),
    (
        "mixed order key and R, both equations",
        "9bd9f44f4dcc75bd531b56b2cd280b0bb38fc1cd6d1230e14861d861de092e79",
        OTHER_KEY,
        "9046a64750444938de19f227bb80485e92b83fdb4b6506c160484c016cc1852f"
        "87909e14428a7a1d62e9f22f3d3ad7802db02eb2e688b6c52fcd6648a98bd009",
        True,
    ),
    (
        "mixed order, only with the cofactor",
        "e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec4011eaccd55b53f56c",
        OTHER_KEY,
        "160a1cb0dc9c0258cd0a7d23e94d8fa878bcb1925f2c64246b2dee1796bed512"
        "5ec6bc982a269b723e0668e540911a9a6a58921d6925e434ab10aa7940551a09",
        False,
    ),
    (
        "mixed order, only with the cofactor, reduced before",
        "e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec4011eaccd55b53f56c",
        OTHER_KEY,
        "21122a84e0b5fca4052f5b1235c80a537878b38f3142356b2c2384ebad4668b7"
        "e40bc836dac0f71076f9abe3a53f9c03c1ceeeddb658d0030494ace586687405",
        False,
    ),
    (
        "S at or above the order",
        "85e241a07d148b41e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec40",
        GOOD_KEY,
        "e96f66be976d82e60150baecff9906684aebb1ef181f67a7189ac78ea23b6c0e"
        "547f7690a0e2ddcd04d87dbc3490dc19b3b3052f7ff0538cb68afb369ba3a514",
        False,
    ),
    (
        "S far above the order",
        "85e241a07d148b41e47d62c63f830dc7a6851a0b1f33ae4bb2f507fb6cffec40",
        GOOD_KEY,
        "8ce5b96c8f26d0ab6c47958c9e68b937104cd36e13c33566acd2fe8d38aa1942"
        "7e71f98a473474f2f13f06f97c20d58cc3f54b8bd0d272f42b695dd7e89a8c22",
        False,
    ),
    (
        "R in another encoding, small order",
        "fdaebc429f4a735932a160da1301080c13280eea8bc280d1b392c6b9e6ba3a5a",
        MIXED_KEY,
        "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f"
        "454d370c8d9fc323a41450f8d513eafeb5b0697390c1e505a0d4ddc71f566607",
        False,
    ),
    (
        "R in another encoding, reduced before",
        "84b698d39be126ff55fe45079e6c8bf64a0d7db6994560b4e96b7021eb39c1a1",
        MIXED_KEY,
        "edffffffffffffffffffffffffffffffffffffffffffffffffffffffffffff7f"
        "084d5b99c2a9463d9c8bd5026916996984eeec87ddf1d3be329006ace1b37b09",
        False,
    ),
]


@pytest.mark.parametrize(
    ("message", "key", "signature", "taken"), [row[1:] for row in TAMED], ids=[r[0] for r in TAMED]
)
def test_the_cases_of_taming_the_many_eddsas(
    message: str, key: str, signature: str, taken: bool
) -> None:
    parts = [bytes.fromhex(text) for text in (key, message, signature)]
    case = Case(0, parts[0], parts[1], parts[2], "", "")
    assert _ours(case) is taken
