"""Circles in what refers to what, against a search that tries every path."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from runner.flow.cycles import circles

GRAPHS = st.dictionaries(
    st.sampled_from("abcdef"), st.sets(st.sampled_from("abcdefz"), max_size=4), max_size=6
)


def on_a_circle(graph: dict[str, set[str]], start: str) -> bool:
    seen: set[str] = set()
    ahead = {one for one in graph[start] if one in graph}
    while ahead - seen:
        seen |= ahead
        ahead = {two for one in ahead for two in graph[one] if two in graph}
    return start in seen


@given(GRAPHS)
def test_a_circle_is_told_exactly_where_there_is_one(graph: dict[str, set[str]]) -> None:
    found = circles(graph)
    for circle in found:
        for one, two in zip(circle, [*circle[1:], circle[0]], strict=True):
            assert two in graph[one]
        assert len(set(circle)) == len(circle)
    told = {name for circle in found for name in circle}
    assert told <= {name for name in graph if on_a_circle(graph, name)}
    assert bool(told) == any(on_a_circle(graph, name) for name in graph)


def test_a_circle_begins_with_its_first_name() -> None:
    assert circles({"b": {"c"}, "c": {"a"}, "a": {"b"}}) == [["a", "b", "c"]]
    assert circles({"a": {"a"}}) == [["a"]]
    assert circles({"a": {"b"}, "b": {"z"}}) == []
