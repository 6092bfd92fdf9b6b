"""The Merkle tree of RFC 6962, section 2.1: root, inclusion proof, consistency proof, and their
checks.

Rules: SHA-256; leaves and nodes are told apart by their first byte; proofs are made from leaf
hashes and checked from the proof alone; a consistency proof from an empty tree proves nothing and
is refused. A check that fails is a `FleetError`.
"""

import hashlib
from collections.abc import Iterator, Sequence

from audit.errors import FleetError

EMPTY_ROOT = hashlib.sha256(b"").digest()
HASH_BYTES = 32


def leaf_hash(data: bytes) -> bytes:
    """The hash of a leaf's data."""
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    """The hash of an inner node."""
    return hashlib.sha256(b"\x01" + left + right).digest()


def root(leaves: Sequence[bytes]) -> bytes:
    """The tree's head over leaf hashes."""
    if not leaves:
        return EMPTY_ROOT
    level = list(leaves)
    while len(level) > 1:
        # a last node without a partner moves up as it is: the same tree as the recursive one
        paired = [node_hash(*level[at : at + 2]) for at in range(0, len(level) - 1, 2)]
        level = paired + level[len(paired) * 2 :]
    return level[0]


def _split(size: int) -> int:
    """The largest power of two below `size`."""
    return 1 << ((size - 1).bit_length() - 1)


def inclusion_proof(index: int, leaves: Sequence[bytes]) -> list[bytes]:
    """PATH of section 2.1.1: from the leaf's sibling up to the root's child."""
    if not 0 <= index < len(leaves):
        raise FleetError(f"there is no leaf {index} in a tree of {len(leaves)}")
    proof: list[bytes] = []
    part = leaves
    while len(part) > 1:
        k = _split(len(part))
        near, far = (part[:k], part[k:]) if index < k else (part[k:], part[:k])
        proof.append(root(far))
        index -= 0 if index < k else k
        part = near
    return proof[::-1]


def check_inclusion(
    index: int, size: int, leaf: bytes, proof: Sequence[bytes], head: bytes
) -> None:
    """Raise `FleetError` unless `leaf` (its hash) is number `index` in the tree of `size` leaves
    with this head."""
    _lengths((leaf, head, *proof))
    if not 0 <= index < size:
        raise FleetError(f"there is no leaf {index} in a tree of {size}")
    reached = leaf
    for sibling, left in _climb(index, size - 1, proof):
        reached = node_hash(sibling, reached) if left else node_hash(reached, sibling)
    if reached != head:
        raise FleetError("the proof does not lead to the checkpoint's root")


def _climb(node: int, last: int, proof: Sequence[bytes]) -> Iterator[tuple[bytes, bool]]:
    """The hashes of a proof, and whether each stands to the left, from number `node` up to the root
    of a tree whose last number is `last`; raises `FleetError` where they are not as many."""
    for step in proof:
        if last == 0:
            raise FleetError("the proof is longer than the tree is high")
        left = node & 1 == 1 or node == last
        yield step, left
        while left and not node & 1 and node:
            node, last = node >> 1, last >> 1
        node, last = node >> 1, last >> 1
    if last != 0:
        raise FleetError("the proof is shorter than the tree is high")


def consistency_proof(size: int, leaves: Sequence[bytes]) -> list[bytes]:
    """PROOF of section 2.1.2: that the tree of the first `size` leaves is the beginning of this."""
    if not 0 < size <= len(leaves):
        raise FleetError(f"a tree of {size} is no beginning of one of {len(leaves)}")
    return _subproof(size, leaves, whole=True)


def _subproof(size: int, leaves: Sequence[bytes], *, whole: bool) -> list[bytes]:
    if size == len(leaves):
        return [] if whole else [root(leaves)]
    k = _split(len(leaves))
    if size <= k:
        return [*_subproof(size, leaves[:k], whole=whole), root(leaves[k:])]
    return [*_subproof(size - k, leaves[k:], whole=False), root(leaves[:k])]


def check_consistency(
    size1: int, size2: int, head1: bytes, head2: bytes, proof: Sequence[bytes]
) -> None:
    """Raise `FleetError` unless the tree of `size1` leaves is the beginning of that of `size2`."""
    _lengths((head1, head2, *proof))
    if size1 <= 0:
        raise FleetError("a checkpoint of no leaves: from it everything follows, so it is refused")
    if size1 > size2:
        raise FleetError(f"the older checkpoint has {size1} leaves, the newer {size2}")
    if size1 == size2:
        if proof or head1 != head2:
            raise FleetError("two checkpoints of one size with different roots")
        return
    steps = list(proof)
    if size1 & (size1 - 1) == 0:
        # the old tree is a whole subtree of the new one, so its head is where the proof begins
        steps.insert(0, head1)
    if not steps:
        raise FleetError("the proof is empty")
    node, last = size1 - 1, size2 - 1
    while node & 1:
        node, last = node >> 1, last >> 1
    old = new = steps[0]
    for step, left in _climb(node, last, steps[1:]):
        if left:
            old, new = node_hash(step, old), node_hash(step, new)
        else:
            new = node_hash(new, step)
    if old != head1:
        raise FleetError("the proof does not lead to the older checkpoint's root")
    if new != head2:
        raise FleetError("the proof does not lead to the newer checkpoint's root")


def _lengths(hashes: Sequence[bytes]) -> None:
    if any(len(value) != HASH_BYTES for value in hashes):
        raise FleetError(f"a hash is not {HASH_BYTES} bytes long")
