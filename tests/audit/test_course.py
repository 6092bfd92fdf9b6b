"""What a course knows of a log after each line, asked of itself and not through a verdict."""

from __future__ import annotations

import pytest

from audit.course import Course
from audit.errors import Fault
from audit.line import parse
from tests.audit.helpers import Forge, Person, check, event


def after(forge: Forge) -> Course:
    course = Course()
    for row in forge.rows:
        course.advance(parse(row))
    return course


def refused(forge: Forge) -> str:
    course = Course()
    for row in forge.rows[:-1]:
        course.advance(parse(row))
    with pytest.raises(Fault) as caught:
        course.advance(parse(forge.rows[-1]))
    return caught.value.code


def test_a_single_pilot_may_fly_single_and_a_crew_may_not(crew: list[Person]) -> None:
    assert check(Forge(crew[:1], modes=["single-pilot"]).open().close().log, crew).counts()
    alone = Forge(crew[:1])
    assert refused(alone.add("open", alone.opening())) == "roster"


def test_an_opening_stands_once_and_first(crew: list[Person]) -> None:
    forge = Forge(crew).open()
    assert refused(forge.add("open", forge.opening(), prev=forge.head)) == "order"
    early = Forge(crew).add("event", event())
    assert refused(early) == "order"
    forge = Forge(crew).open()
    assert refused(forge.sign("open-sig", crew[0], 0)) == "order"


def test_who_has_which_role(crew: list[Person]) -> None:
    one, two = crew
    forge = Forge(crew).open()
    assert after(forge).roles == {"commander": one.name, "copilot": two.name}
    relief = Person("Tor Berg")
    change = {"key": relief.public_line, "name": relief.name, "role": "copilot"}
    forge.add("event", event(crew_change=change))
    assert after(forge).roles == {"commander": one.name, "copilot": relief.name}
    assert list(after(forge).people) == [one.name, two.name, relief.name]
    change = {"key": two.public_line, "name": two.name, "role": "commander"}
    forge.add("event", event(crew_change=change))
    change = {"key": two.public_line, "name": two.name, "role": "ground"}
    forge.add("event", event(crew_change=change))
    # who takes another role leaves the one before
    assert after(forge).roles == {"copilot": relief.name, "ground": two.name}


def test_who_owes_a_signature_for_which_resume(crew: list[Person]) -> None:
    one, two = crew
    forge = Forge(crew).open().resume().resume()
    assert after(forge).due_resumes(one.name) == [3, 4]
    forge.sign("resume-sig", one, 4)
    course = after(forge)
    assert course.due_resumes(one.name) == [3]
    assert course.due_resumes(two.name) == [3, 4]
    assert course.due_resume(two.name, 4).line == 4
    assert course.due_resume(two.name, 3).message.startswith(forge.rows[3])
    for name, line in ((one.name, 4), (two.name, 2), (two.name, 5)):
        with pytest.raises(Fault):
            course.due_resume(name, line)
    assert course.last_vouched == 4
    assert course.owes_resume() == (one.name, two.name)


def test_which_line_nothing_follows(crew: list[Person]) -> None:
    forge = Forge(crew).open().add("event", event())
    assert not after(forge).next_is_empty("close-sig")
    forge.add("close", {"acceptances": [3], "count": 4})
    course = after(forge)
    assert course.acceptances == (3,)
    assert not course.next_is_empty("close-sig")
    forge.sign("close-sig", crew[0], 4)
    course = after(forge)
    assert course.next_is_empty("close-sig")
    assert not course.next_is_empty("resume")
    assert course.last_vouched == 4
    forge.resume().sign("close-sig", crew[1], 6, next="")
    course = after(forge)
    assert (course.phase, course.last_vouched, course.resumes) == ("closed", 6, 1)


def test_what_is_no_event_is_never_accepted(crew: list[Person]) -> None:
    for number in (1, 2, 4):
        forge = Forge(crew).open().add("event", event())
        forge.add("attach", {"length": 1, "name": "a", "sha256": "1" * 64})
        assert refused(forge.add("close", {"acceptances": [number], "count": 5})) == "acceptance"


def test_a_copy_goes_its_own_way(crew: list[Person]) -> None:
    forge = Forge(crew).open()
    course = after(forge)
    other = course.copy()
    forge.add("attach", {"length": 1, "name": "a", "sha256": "1" * 64})
    other.advance(parse(forge.rows[-1]))
    assert (course.seq, other.seq) == (2, 3)
    assert course._not_events == {0, 1, 2}
    assert other._not_events == {0, 1, 2, 3}
