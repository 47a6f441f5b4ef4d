"""Random order with a recorded seed: the same on every machine and with every library.

The random numbers come from SHA-256, not from a library's generator, so that a plan of today
can be made again in ten years.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TypeVar

from validate.vocabulary.bench import Position

Item = TypeVar("Item")
_WORD = 1 << 64
_SEEDS = 1_000_000


@dataclass(frozen=True)
class Seed:
    """The seed of an order, and whence it is."""

    value: int
    origin: str


@dataclass(frozen=True)
class Placed:
    """A position with its code, in bench order."""

    code: str
    position: Position


def seed_of(identification: str, edition: str, given: int | None) -> Seed:
    """The seed that the protocol gives, else one from 0 to 999999 made from its id and edition."""
    if given is not None:
        return Seed(given, "as the protocol says")
    digest = hashlib.sha256(f"{identification}\n{edition}".encode()).digest()
    return Seed(int.from_bytes(digest[:8], "big") % _SEEDS, "made from the protocol's id and edition")


def arranged(positions: Sequence[Position], *, seed: int, study: str, letter: str) -> tuple[Placed, ...]:
    """Positions by day and analyst, in random order within each, coded `A-001`, `A-002`, … in bench order.

    Each block has random numbers of its own, made from seed, study, day and analyst: adding
    a study or a day leaves the order of the others as it is.
    """
    by_block = sorted(positions, key=_block)
    ordered = [
        position
        for block, members in groupby(by_block, key=_block)
        for position in shuffled(list(members), f"{seed}/{study}/{block[0]}/{block[1]}")
    ]
    width = max(3, len(str(len(ordered))))
    return tuple(Placed(f"{letter}-{number:0{width}d}", position) for number, position in enumerate(ordered, start=1))


def shuffled(items: Sequence[Item], key: str) -> list[Item]:
    """A uniform random permutation of `items` that depends on `key` alone (Fisher and Yates).

    >>> shuffled("abcdef", "20310303/recovery/1/1")
    ['c', 'a', 'e', 'b', 'd', 'f']
    """
    mixed, numbers = list(items), _numbers(key)
    for last in range(len(mixed) - 1, 0, -1):
        chosen = _below(last + 1, numbers)
        mixed[last], mixed[chosen] = mixed[chosen], mixed[last]
    return mixed


def letters(number: int) -> str:
    """Letter of a study for its codes: 0 → A, 25 → Z, 26 → AA."""
    name = ""
    while number >= 0:
        name, number = chr(ord("A") + number % 26) + name, number // 26 - 1
    return name


def _block(position: Position) -> tuple[int, int]:
    return position.day, position.analyst or 0


def _numbers(key: str) -> Iterator[int]:
    """64-bit numbers: SHA-256 of key and counter, four to a digest."""
    counter = 0
    while True:
        digest = hashlib.sha256(f"{key}#{counter}".encode()).digest()
        yield from (int.from_bytes(digest[i : i + 8], "big") for i in range(0, 32, 8))
        counter += 1


def _below(count: int, numbers: Iterator[int]) -> int:
    """A number from 0 to count − 1, each equally likely: numbers past the last full round are passed over."""
    limit = _WORD - _WORD % count
    return next(number for number in numbers if number < limit) % count
