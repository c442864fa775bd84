"""The hash tree of RFC 6962, 2.1: one root for any number of records, and proofs that a longer list of
records begins with a shorter one.

A leaf is SHA-256 of 0x00 and the record, a node of 0x01 and its two branches; a list of n is cut at the
largest power of two below n.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from hashlib import sha256
from typing import NamedTuple

EMPTY_ROOT = sha256().digest()


def leaf_hash(record: bytes) -> bytes:
    """Of one record."""
    return sha256(b"\x00" + record).digest()


def _node(left: bytes, right: bytes) -> bytes:
    return sha256(b"\x01" + left + right).digest()


class Frontier(NamedTuple):
    """A tree as far as it must be kept to grow: the roots of its whole subtrees, the largest first."""

    size: int = 0
    roots: tuple[bytes, ...] = ()

    def grown(self, record: bytes) -> Frontier:
        """With one more record."""
        new, left, size = leaf_hash(record), len(self.roots), self.size
        while size & 1:  # a whole subtree of this height is there already: the two become one
            left, size = left - 1, size >> 1
            new = _node(self.roots[left], new)
        return Frontier(self.size + 1, (*self.roots[:left], new))

    def root(self) -> bytes:
        """Of all records so far."""
        if not self.roots:
            return EMPTY_ROOT
        *lower, root = self.roots
        for left in reversed(lower):
            root = _node(left, root)
        return root


def grown_from(records: Iterable[bytes]) -> Frontier:
    """The tree of these records."""
    tree = Frontier()
    for record in records:
        tree = tree.grown(record)
    return tree


def consistency_proof(records: Sequence[bytes], size: int) -> list[bytes]:
    """PROOF(size, records) of RFC 6962, 2.1.2: the hashes that show that these records begin with the first
    `size` of them. 0 < size <= len(records)."""
    if size == len(records):
        return []
    return _subproof(size, records, is_known=True)


def _subproof(size: int, records: Sequence[bytes], *, is_known: bool) -> list[bytes]:
    n = len(records)
    if size == n:
        return [] if is_known else [grown_from(records).root()]
    cut = 1 << (n - 1).bit_length() - 1
    left, right = records[:cut], records[cut:]
    if size <= cut:
        return [*_subproof(size, left, is_known=is_known), grown_from(right).root()]
    return [*_subproof(size - cut, right, is_known=False), grown_from(left).root()]


def is_consistent(old_size: int, old_root: bytes, size: int, root: bytes, proof: Sequence[bytes]) -> bool:
    """Whether a proof shows that the tree of `size` begins with the one of `old_size` (RFC 9162, 2.1.4.2)."""
    if not 0 < old_size <= size:
        return False
    if old_size == size:
        return old_root == root and not proof
    path = list(proof)
    if old_size & (old_size - 1) == 0:
        path.insert(0, old_root)
    if not path:
        return False
    fn, sn = old_size - 1, size - 1
    while fn & 1:
        fn, sn = fn >> 1, sn >> 1
    old = new = path[0]
    for one in path[1:]:
        if sn == 0:
            return False
        if fn & 1 or fn == sn:
            old, new = _node(one, old), _node(one, new)
            while fn and not fn & 1:
                fn, sn = fn >> 1, sn >> 1
        else:
            new = _node(new, one)
        fn, sn = fn >> 1, sn >> 1
    return sn == 0 and old == old_root and new == root
