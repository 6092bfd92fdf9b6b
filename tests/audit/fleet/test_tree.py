"""RFC 6962's tree against published values and against the RFC's own recursive definitions.

Source of the eight leaves, their roots and proofs: transparency-dev/merkle, `proof/verify_test.go`
(the test tree of Certificate Transparency). There leaves are numbered from 1, here from 0. The
shapes of the seven-leaf tree are those of RFC 6962, section 2.1.3.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from audit.errors import FleetError
from audit.fleet import tree

LEAVES = [
    bytes.fromhex(text)
    for text in (
        "", "00", "10", "2021", "3031", "40414243", "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]  # fmt: skip
ROOTS = [
    bytes.fromhex(text)
    for text in (
        "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
        "fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
        "aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
        "4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
        "76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
        "ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
        "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
    )
]
INCLUSION = [
    (0, 8, [
        "96a296d224f285c67bee93c30f8a309157f0daa35dc5b87e410b78630a09cfc7",
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "6b47aaf29ee3c2af9af889bc1fb9254dabd31177f16232dd6aab035ca39bf6e4",
    ]),
    (5, 8, [
        "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
        "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    ]),
    (2, 3, ["fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125"]),
    (1, 5, [
        "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
    ]),
]  # fmt: skip
CONSISTENCY = [
    (1, 1, []),
    (1, 8, INCLUSION[0][2]),
    (6, 8, [
        "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
        "ca854ea128ed050b41b35ffc1b87b8eb2bde461e9e3b5596ece6b9d5975a0ae0",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    ]),
    (2, 5, [
        "5f083f0a1a33ca076a95279832580db3e0ef4584bdff1f54c8a360f50de3031e",
        "bc1a0643b12e4d2d7c77918f44e0f4f79a838b6cf9ec5b5c283e1f4d88599e6b",
    ]),
    (6, 7, [
        "0ebc5d3437fbe2db158b9f126a1d118e308181031d0a949f8dededebc558ef6a",
        "b08693ec2e721597130641e8211e7eedccb4c26413963eee6c1e2ed16ffb1a5f",
        "d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
    ]),
]  # fmt: skip
HASHES = [tree.leaf_hash(leaf) for leaf in LEAVES]
OTHER = bytes.fromhex("abacaba000000000000000000000000000000000000000000060061e00123456")

Leaves = list[bytes]
leaf_lists = st.lists(st.binary(max_size=4), min_size=1, max_size=70)


def naive_root(leaves: Sequence[bytes]) -> bytes:
    """MTH, word for word."""
    if not leaves:
        return hashlib.sha256(b"").digest()
    if len(leaves) == 1:
        return hashlib.sha256(b"\x00" + leaves[0]).digest()
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    return hashlib.sha256(b"\x01" + naive_root(leaves[:k]) + naive_root(leaves[k:])).digest()


def naive_path(index: int, leaves: Sequence[bytes]) -> list[bytes]:
    """PATH, word for word."""
    if len(leaves) == 1:
        return []
    k = 1
    while k * 2 < len(leaves):
        k *= 2
    if index < k:
        return [*naive_path(index, leaves[:k]), naive_root(leaves[k:])]
    return [*naive_path(index - k, leaves[k:]), naive_root(leaves[:k])]


def hexes(texts: Sequence[str]) -> list[bytes]:
    return [bytes.fromhex(text) for text in texts]


def test_an_empty_tree_is_the_hash_of_nothing() -> None:
    assert tree.root([]) == hashlib.sha256(b"").digest()


def test_the_roots_of_the_published_tree() -> None:
    assert [tree.root(HASHES[:size]) for size in range(1, 9)] == ROOTS


@pytest.mark.parametrize(("index", "size", "proof"), INCLUSION)
def test_the_published_inclusion_proofs(index: int, size: int, proof: list[str]) -> None:
    assert tree.inclusion_proof(index, HASHES[:size]) == hexes(proof)
    tree.check_inclusion(index, size, HASHES[index], hexes(proof), ROOTS[size - 1])


@pytest.mark.parametrize(("size1", "size2", "proof"), CONSISTENCY)
def test_the_published_consistency_proofs(size1: int, size2: int, proof: list[str]) -> None:
    assert tree.consistency_proof(size1, HASHES[:size2]) == hexes(proof)
    tree.check_consistency(size1, size2, ROOTS[size1 - 1], ROOTS[size2 - 1], hexes(proof))


@pytest.mark.parametrize(("index", "size", "proof"), INCLUSION)
def test_a_corrupted_inclusion_proof_does_not_hold(index: int, size: int, proof: list[str]) -> None:
    """The corruptions of `corruptInclusionProof` at the same source."""
    path, leaf, head = hexes(proof), HASHES[index], ROOTS[size - 1]
    probes: list[tuple[int, int, bytes, list[bytes], bytes]] = [
        (index - 1, size, leaf, path, head), (index + 1, size, leaf, path, head),
        (index ^ 2, size, leaf, path, head), (index, size * 2, leaf, path, head),
        (index, size // 2, leaf, path, head), (index, size, b"WrongLeaf", path, head),
        (index, size, leaf, path, tree.EMPTY_ROOT), (index, size, leaf, path, OTHER),
        (index, size, leaf, [*path, b""], head), (index, size, leaf, [*path, head], head),
        (index, size, leaf, [b"", *path], head), (index, size, leaf, [head, *path], head),
        (index, size, leaf, path[:-1], head),
        (index, size, leaf, [path[0], OTHER, *path[1:]], head),
        *((index, size, leaf, flipped(path, at, 8), head) for at in range(len(path))),
    ]  # fmt: skip
    for number, size_, leaf_, path_, head_ in probes:
        with pytest.raises(FleetError):
            tree.check_inclusion(number, size_, leaf_, path_, head_)


@pytest.mark.parametrize(("size1", "size2", "proof"), CONSISTENCY[1:])
def test_a_corrupted_consistency_proof_does_not_hold(
    size1: int, size2: int, proof: list[str]
) -> None:
    """The corruptions of `corruptConsistencyProof` at the same source."""
    path, old, new = hexes(proof), ROOTS[size1 - 1], ROOTS[size2 - 1]
    probes: list[tuple[int, int, bytes, bytes, list[bytes]]] = [
        (size1 - 1, size2, old, new, path), (size1 + 1, size2, old, new, path),
        (size1 ^ 2, size2, old, new, path), (size1, size2 * 2, old, new, path),
        (size1, size2 // 2, old, new, path), (size1, size2, b"WrongRoot", new, path),
        (size1, size2, old, b"WrongRoot", path), (size1, size2, new, old, path),
        (size1, size2, old, new, []), (size1, size2, old, new, [*path, b""]),
        (size1, size2, old, new, [*path, old]), (size1, size2, old, new, [*path, new]),
        (size1, size2, old, new, [b"", *path]), (size1, size2, old, new, [old, *path]),
        (size1, size2, old, new, [new, *path]), (size1, size2, old, new, [path[0], *path]),
        (size1, size2, old, new, path[:-1]),
        *((size1, size2, old, new, flipped(path, at, 16)) for at in range(len(path))),
    ]  # fmt: skip
    for size1_, size2_, old_, new_, path_ in probes:
        with pytest.raises(FleetError):
            tree.check_consistency(size1_, size2_, old_, new_, path_)


def flipped(path: Sequence[bytes], at: int, bit: int) -> list[bytes]:
    changed = bytes([path[at][0] ^ bit]) + path[at][1:]
    return [*path[:at], changed, *path[at + 1 :]]


def test_the_proofs_of_the_rfcs_own_example_have_its_shape() -> None:
    """RFC 6962, section 2.1.3: a tree of seven, and what it was with three, four and six."""
    seven = HASHES[:7]
    a, b, c, d, e, f, j = seven
    g, h, i = tree.node_hash(a, b), tree.node_hash(c, d), tree.node_hash(e, f)
    k, l = tree.node_hash(g, h), tree.node_hash(i, j)  # noqa: E741
    assert tree.root(seven) == tree.node_hash(k, l)
    assert tree.inclusion_proof(0, seven) == [b, h, l]
    assert tree.inclusion_proof(3, seven) == [c, g, l]
    assert tree.inclusion_proof(4, seven) == [f, j, k]
    assert tree.inclusion_proof(6, seven) == [i, k]
    assert tree.consistency_proof(3, seven) == [c, d, g, l]
    assert tree.consistency_proof(4, seven) == [l]
    assert tree.consistency_proof(6, seven) == [i, j, k]


def test_the_border_between_two_hashes_cannot_be_moved() -> None:
    """The same bytes under a node, parted elsewhere: only the lengths tell."""
    a, b, head = HASHES[0], HASHES[1], ROOTS[1]
    with pytest.raises(FleetError, match="32 bytes"):
        tree.check_inclusion(0, 2, a + b[:1], [b[1:]], head)
    with pytest.raises(FleetError, match="32 bytes"):
        tree.check_consistency(1, 2, a + b[:1], head, [b[1:]])


def test_a_larger_tree_is_no_beginning_of_a_smaller_one() -> None:
    for proof in ([], [HASHES[1]]):
        with pytest.raises(FleetError, match="the older checkpoint has 2 leaves, the newer 1"):
            tree.check_consistency(2, 1, HASHES[0], HASHES[0], proof)


def test_from_an_empty_tree_nothing_is_proven() -> None:
    for proof in ([], [HASHES[0]]):
        with pytest.raises(FleetError, match="no leaves"):
            tree.check_consistency(0, 1, tree.EMPTY_ROOT, HASHES[0], proof)
    with pytest.raises(FleetError, match="no beginning"):
        tree.consistency_proof(0, HASHES)
    with pytest.raises(FleetError, match="no leaf 0"):
        tree.check_inclusion(0, 0, HASHES[0], [], HASHES[0])
    with pytest.raises(FleetError, match="no leaf 1"):
        tree.inclusion_proof(1, HASHES[:1])


@given(leaf_lists)
def test_the_root_is_the_rfcs(leaves: Leaves) -> None:
    assert tree.root([tree.leaf_hash(leaf) for leaf in leaves]) == naive_root(leaves)


@given(leaf_lists, st.data())
def test_every_leaf_is_proven_and_no_other(leaves: Leaves, data: st.DataObject) -> None:
    hashes = [tree.leaf_hash(leaf) for leaf in leaves]
    index = data.draw(st.integers(0, len(leaves) - 1))
    proof = tree.inclusion_proof(index, hashes)
    assert proof == naive_path(index, leaves)
    head = tree.root(hashes)
    tree.check_inclusion(index, len(leaves), hashes[index], proof, head)
    with pytest.raises(FleetError):
        tree.check_inclusion(index, len(leaves), tree.leaf_hash(b"another"), proof, head)
    other = data.draw(st.integers(0, len(leaves) - 1))
    if hashes[other] != hashes[index]:
        with pytest.raises(FleetError):
            tree.check_inclusion(other, len(leaves), hashes[index], proof, head)


@given(leaf_lists, st.data())
def test_every_beginning_is_proven_and_no_other(leaves: Leaves, data: st.DataObject) -> None:
    hashes = [tree.leaf_hash(leaf) for leaf in leaves]
    size = data.draw(st.integers(1, len(leaves)))
    proof = tree.consistency_proof(size, hashes)
    old, new = tree.root(hashes[:size]), tree.root(hashes)
    tree.check_consistency(size, len(leaves), old, new, proof)
    changed = data.draw(st.integers(0, size - 1))
    forged = [*hashes[:changed], tree.leaf_hash(b"another"), *hashes[changed + 1 : size]]
    with pytest.raises(FleetError):
        tree.check_consistency(size, len(leaves), tree.root(forged), new, proof)
    with pytest.raises(FleetError):
        tree.check_consistency(size, len(leaves), old, tree.node_hash(new, new), proof)
