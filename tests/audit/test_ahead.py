"""The key made ahead: one for each asking, none twice, none left behind."""

import gc
import threading
import weakref

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from audit import ahead
from audit.ahead import Ahead


def workers() -> list[threading.Thread]:
    return [thread for thread in threading.enumerate() if thread.name == "next-key"]


def public(key: Ed25519PrivateKey) -> bytes:
    return key.public_key().public_bytes_raw()


def test_no_key_is_handed_out_twice() -> None:
    keys = Ahead()
    seen = set()
    for number in range(50):
        if number % 3:
            keys.begin()
        if number % 5 == 0:
            keys.begin()  # asked for twice, made once
        seen.add(public(keys.take()))
    keys.stop()
    assert len(seen) == 50


def test_without_asking_there_is_a_key_and_no_thread() -> None:
    before = workers()
    assert len(public(Ahead().take())) == 32
    assert workers() == before


def test_stop_ends_the_thread_and_forgets_the_key() -> None:
    keys = Ahead()
    before = workers()
    keys.begin()
    (thread,) = [one for one in workers() if one not in before]
    keys.stop()
    thread.join(10)
    assert not thread.is_alive()
    assert keys._made.empty()


def test_a_writer_that_nobody_stopped_leaves_no_thread() -> None:
    before = workers()
    keys = Ahead()
    keys.begin()
    (thread,) = [one for one in workers() if one not in before]
    del keys
    gc.collect()
    thread.join(10)
    assert not thread.is_alive()


def test_the_thread_holds_no_key_while_it_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[weakref.ref[object]] = []

    class Key:
        """Stands for a key: unlike it, it can be watched."""

    class Source:
        @staticmethod
        def generate() -> Key:
            key = Key()
            made.append(weakref.ref(key))
            return key

    monkeypatch.setattr(ahead, "Ed25519PrivateKey", Source)
    keys = Ahead()
    keys.begin()
    first = keys.take()
    keys.begin()  # the thread is past the first key when it has made the second
    second = keys.take()
    del first
    gc.collect()
    assert made[0]() is None
    assert made[1]() is second
    keys.stop()


def test_a_failure_reaches_whoever_takes_the_key(monkeypatch: pytest.MonkeyPatch) -> None:
    class Broken:
        @staticmethod
        def generate() -> object:
            raise MemoryError("no room")

    monkeypatch.setattr(ahead, "Ed25519PrivateKey", Broken)
    keys = Ahead()
    keys.begin()
    with pytest.raises(MemoryError, match="no room"):
        keys.take()
    keys.stop()
