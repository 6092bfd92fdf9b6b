"""Logs that are signed to the last line by people who hold every key, and break one rule each.

Nothing but that rule keeps such a log from reading `closed`: a verifier that leaves it out says so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from audit import canonical, line, sshsig
from tests.audit.helpers import Forge, Person, event, public

IDENTITY = (1).to_bytes(32, "little")
NO_POINT = (2).to_bytes(32, "little")  # no x goes with y = 2
ALPHABET = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/"


class Fixed:
    """Signs everything alike: R the identity, S zero, which fits any message under that key."""

    def sign(self, message: bytes) -> bytes:
        return IDENTITY + bytes(32)


class Otherwise:
    """Signs with a key, under another domain string than the one of format 1."""

    def __init__(self, key: Any, domain: bytes) -> None:
        self.key, self.domain = key, domain

    def sign(self, message: bytes) -> bytes:
        signature: bytes = self.key.sign(self.domain + message.removeprefix(line.DOMAIN))
        return signature


def altered(forge: Forge, change: Callable[[bytes], bytes], signer: Any = None) -> Forge:
    """An event whose body is `change`d before it is signed, by its own key or by `signer`."""
    key = forge.key
    forge.add("event", event())
    body = forge.rows.pop()[8:-99]
    forge.head = line.head_of(forge.rows[-1])
    forge.put(change(body), signer or key)
    return forge


def _other_spelling(body: bytes) -> bytes:
    # the last character of a key has two loose bits: the same key, spelled in another way
    at = body.index(b'"next":"') + 8 + 42
    other = ALPHABET[ALPHABET.index(chr(body[at])) ^ 1].encode()
    return body[:at] + other + body[at + 1 :]


def _weak_next(forge: Forge) -> Forge:
    forge.add("event", event(), next=canonical.base64_text(IDENTITY))
    return forge.add("event", event(), key=Fixed())


def _weak_key0(forge: Forge) -> Forge:
    fields = forge.opening(key0=canonical.base64_text(IDENTITY))
    forge.add("open", fields, key=Fixed())
    return _signed_open(forge)


def _signed_open(forge: Forge, people: Sequence[Person] | None = None, **more: Any) -> Forge:
    for person in people or forge.people:
        forge.sign("open-sig", person, 0, **more)
    return forge


def _vouched(forge: Forge, **changes: Any) -> Forge:
    forge.resume(**changes)
    number = len(forge.rows) - 1
    for person in forge.people:
        forge.sign("resume-sig", person, number)
    return forge


def _vouched_without_the_head(forge: Forge) -> Forge:
    forge.resume()
    number = len(forge.rows) - 1
    for person in forge.people:
        blob = person.sign(sshsig.RESUME, forge.rows[number])
        forge.sign("resume-sig", person, number, blob=blob)
    return forge


def _closing(forge: Forge, *signers: tuple[Person, dict[str, Any]], close: Any = ()) -> Forge:
    number = len(forge.rows)
    forge.add("close", {"acceptances": [], "count": number, **dict(close)})
    for at, (person, more) in enumerate(signers):
        last = {"next": ""} if at == len(signers) - 1 else {}
        forge.sign("close-sig", person, number, **{**last, **more})
    return forge


def _stale_desk_signature(forge: Forge) -> Forge:
    one, two = forge.people
    number = len(forge.rows)
    forge.add("close", {"acceptances": [], "count": number})
    old = two.sign(sshsig.CLOSE, forge.rows[number])
    forge.sign("close-sig", one, number).resume()
    return forge.sign("close-sig", two, number + 2, blob=old, next="")


def _other_hash(forge: Forge) -> Forge:
    one, two = forge.people
    number = len(forge.rows)
    forge.add("close", {"acceptances": [], "count": number})
    forge.sign("close-sig", one, number)
    blob = two.sign(sshsig.CLOSE, forge.rows[number]).replace(b"sha512", b"sha256")
    return forge.sign("close-sig", two, number, blob=blob, next="")


def _change(name: str, person: Person) -> dict[str, Any]:
    return event(crew_change={"key": person.public_line, "name": name, "role": "ground"})


def _event_in_the_closing(forge: Forge) -> Forge:
    one, two = forge.people
    number = len(forge.rows)
    forge.add("close", {"acceptances": [], "count": number}).add("event", event())
    return forge.sign("close-sig", one, number).sign("close-sig", two, number, next="")


def _weak_person(forge: Forge) -> Forge:
    weak = Person(forge.people[1].name)
    weak.private, weak.key = Fixed(), IDENTITY  # type: ignore[assignment]
    forge.people = [forge.people[0], weak]
    return forge


def _other_frame(forge: Forge) -> Forge:
    forge.rows[-1] = forge.rows[-1].replace(b'{"body":', b'{"bodx":')
    return forge


Build = Callable[[Forge], Forge]
BROKEN: dict[str, tuple[str, Build]] = {
    "a space": ("canonical", lambda f: altered(f.open(), _to(b'"seq":3', b'"seq": 3')).close()),
    "a key twice": (
        "canonical",
        lambda f: altered(f.open(), _to(b'"seq":3', b'"seq":3,"seq":3')).close(),
    ),
    "an escape": (
        "canonical",
        lambda f: altered(f.open(), _to(b'"1600"', b'"\\u0031600"')).close(),
    ),
    "keys out of order": (
        "canonical",
        lambda f: altered(f.open(), lambda body: b'{"type":"event",' + body[1:]).close(),
    ),
    "base64 otherwise": ("base64", lambda f: altered(f.open(), _other_spelling).close()),
    "a number out of turn": ("seq", lambda f: f.open().add("event", event(), seq=9).close()),
    "another line before": (
        "prev",
        lambda f: f.open().add("event", event(), prev="0" * 64).close(),
    ),
    "a device of another run": ("prev", lambda f: f.open(device="e" * 64).close()),
    "a key of one's own": (
        "signature",
        lambda f: f.open().add("event", event(), key=Forge([]).key).close(),
    ),
    "a key that was not named": (
        "signature",
        lambda f: f.open().add("event", event(), next=public(Forge([]).key)).close(),
    ),
    "no domain": ("signature", lambda f: altered(f.open(), bytes, Otherwise(f.key, b"")).close()),
    "another domain": (
        "signature",
        lambda f: altered(f.open(), bytes, Otherwise(f.key, b"latchword/audit/entry@v2\n")).close(),
    ),
    "a key that is no point": (
        "signature",
        lambda f: (
            f.open()
            .add("event", event(), next=canonical.base64_text(NO_POINT))
            .add("event", event())
            .close()
        ),
    ),
    "a weak next": ("weak-key", lambda f: _weak_next(f.open()).close()),
    "a weak key0": ("weak-key", lambda f: _weak_key0(f).close()),
    "a person with a weak key": ("weak-key", lambda f: _weak_person(f).open().close()),
    "another frame": ("frame", lambda f: _other_frame(f.open().close())),
    "a control character": (
        "profile",
        lambda f: f.open().add("event", event(heard="a\nb")).close(),
    ),
    "a time of another form": (
        "stamp",
        lambda f: f.open().add("event", event(), wall="2026").close(),
    ),
    "an event in the closing": ("order", lambda f: _event_in_the_closing(f.open())),
    "another format": ("format", lambda f: f.open(format=2).close()),
    "one opening signature short": (
        "order",
        lambda f: _signed_open(f.add("open", f.opening()), f.people[:1]).close(),
    ),
    "the opening signed in another order": (
        "order",
        lambda f: _signed_open(f.add("open", f.opening()), f.people[::-1]).close(),
    ),
    "the opening signed for closing": (
        "sshsig",
        lambda f: _signed_open(f.add("open", f.opening()), namespace=sshsig.CLOSE).close(),
    ),
    "one key for two": ("roster", lambda f: _twins(f).open().close()),
    "a crew change to another key": (
        "roster",
        lambda f: f.open().add("event", _change(f.people[0].name, Person("Tor Berg"))).close(),
    ),
    "a crew change to a known key": (
        "roster",
        lambda f: f.open().add("event", _change("Tor Berg", f.people[0])).close(),
    ),
    "a newcomer who does not sign": (
        "next",
        lambda f: f.open().add("event", _change("Tor Berg", Person("Tor Berg"))).close(),
    ),
    "a resume nobody vouched for": ("owed", lambda f: f.open().resume().close()),
    "a resume after another line": ("resume", lambda f: _vouched(f.open(), line=1).close()),
    "a resume after another head": ("resume", lambda f: _vouched(f.open(), head="0" * 64).close()),
    "vouched without the head": (
        "person-signature",
        lambda f: _vouched_without_the_head(f.open()).close(),
    ),
    "a count too low": ("count", lambda f: f.open().add("event", event()).close(count=3)),
    "a count too high": ("count", lambda f: f.open().add("event", event()).close(count=5)),
    "an acceptance that is a signature": ("acceptance", lambda f: f.open().close(acceptances=[1])),
    "an acceptance to come": ("acceptance", lambda f: f.open().close(acceptances=[3])),
    "closed by one alone": ("next", lambda f: _closing(f.open(), (f.people[0], {}))),
    "closed by one for both": (
        "person-key",
        lambda f: _closing(f.open(), (f.people[0], {}), (f.people[0], {"name": f.people[1].name})),
    ),
    "closed by one twice": (
        "order",
        lambda f: _closing(f.open(), (f.people[0], {}), (f.people[0], {})),
    ),
    "closed by a stranger": (
        "order",
        lambda f: _closing(f.open(), (f.people[0], {}), (Person("Tor Berg"), {})),
    ),
    "closed in another namespace": (
        "sshsig",
        lambda f: _closing(
            f.open(), (f.people[0], {}), (f.people[1], {"namespace": "close@latchword-v2"})
        ),
    ),
    "closed over the opening": (
        "person-signature",
        lambda f: _closing(f.open(), (f.people[0], {}), (f.people[1], {"message": f.rows[0]})),
    ),
    "closed with another hash": ("sshsig", lambda f: _other_hash(f.open())),
    "a desk signature of before": ("person-signature", lambda f: _stale_desk_signature(f.open())),
    "a next key at the end": (
        "next",
        lambda f: _closing(f.open(), (f.people[0], {}), (f.people[1], {"next": public(f.key)})),
    ),
    "a line after the end": ("after-end", lambda f: f.open().close().add("event", event())),
}


def _to(old: bytes, new: bytes) -> Callable[[bytes], bytes]:
    return lambda body: body.replace(old, new)


def _twins(forge: Forge) -> Forge:
    one, two = forge.people
    twin = Person(two.name)
    twin.private, twin.key = one.private, one.key
    forge.people = [one, twin]
    return forge


def _desk(forge: Forge) -> Forge:
    one, two = forge.people
    number = len(forge.rows)
    forge.add("close", {"acceptances": [], "count": number})
    forge.sign("close-sig", one, number).resume()
    return forge.sign("close-sig", two, number + 2, next="")


def _grown(forge: Forge) -> Forge:
    relief = Person("Tor O'Brien")
    forge.add("event", event(crew_change={**_change(relief.name, relief)["crew_change"]}))
    forge.people = [*forge.people, relief]
    return forge


GOOD: dict[str, Build] = {
    "nothing happened": lambda f: f.open().close(),
    "two events, one accepted": lambda f: (
        f.open().add("event", event(1)).add("event", event(2)).close(acceptances=[4])
    ),
    "resumed twice": lambda f: _vouched(_vouched(f.open()).add("event", event())).close(),
    "signed at the desk": lambda f: _desk(f.open().add("event", event())),
    "a crew change": lambda f: _grown(f.open()).add("event", event()).close(),
    "closed in another order": lambda f: _closing(f.open(), (f.people[1], {}), (f.people[0], {})),
    "a later run": lambda f: f.open(run_seq=2, prev_run="run-1", device="e" * 64).close(),
    "a key that is no point, never used": lambda f: _vouched(
        f.open().add("event", event(), next=canonical.base64_text(NO_POINT))
    ).close(),
    "marks and quotes": lambda f: (
        f.open().add("event", event(heard='naïve “quotes” \\ " € 𝄞')).close()
    ),
}
