"""What a payload could hang on: kinds of mounts, patterns of holes, ways to stack them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from itertools import combinations, product
from math import comb
from typing import Any

from isolator.mount import Mount, Place
from isolator.units import InputError

AS_GIVEN = "as given"
"""Name of the pattern that the brief itself has."""

_OWN = ("use", "inset", "height", "place", "stacking")


@dataclass(frozen=True)
class Pattern:
    """Places for mounts.

    Attributes
    ----------
    name : str
    places : sequence of Place
        Their own mounts do not count.
    rows : sequence of mappings
        The same as ``[[mounts.place]]`` of a brief, without mounts.
    """

    name: str
    places: Sequence[Place]
    rows: Sequence[Mapping[str, Any]]


@dataclass(frozen=True)
class Candidate:
    """One combination of a `Grid`.

    Attributes
    ----------
    pattern : str
    stacking : one of `mount.STACKING`
    kinds : tuple of str
        Kind of mount at each place of the pattern.
    """

    pattern: str
    stacking: str
    kinds: tuple[str, ...]

    @property
    def mounts(self) -> str:
        """The kinds in words: one name, or that of each place."""
        return self.kinds[0] if len(set(self.kinds)) == 1 else " | ".join(self.kinds)


@dataclass(frozen=True)
class Grid:
    """All that is tried: each pattern with each way to stack and each choice of kinds.

    Attributes
    ----------
    patterns : sequence of Pattern
    mounts : mapping of name to Mount
    stacking : sequence of words of `mount.STACKING`
    kinds : int
        How many different kinds a design may have.

    Raises
    ------
    InputError
        Nothing to choose from.
    """

    patterns: Sequence[Pattern]
    mounts: Mapping[str, Mount]
    stacking: Sequence[str] = ("one",)
    kinds: int = 1

    def __post_init__(self) -> None:
        if not self.mounts:
            raise InputError(
                "choose.mounts = []: no kind of mount to choose from; name some of the brief, or "
                "give mounts.table"
            )
        if not self.patterns:
            raise InputError("choose.pattern: no pattern of places; give one")

    def count(self) -> int:
        """How many candidates there are."""
        kinds = len(self.mounts)
        return len(self.stacking) * sum(
            comb(kinds, some) * _onto(len(pattern.places), some)
            for pattern in self.patterns
            for some in range(1, min(self.kinds, kinds) + 1)
        )

    def candidates(self) -> Iterator[Candidate]:
        """All of them, always in the same order: one kind first, then mixed ones."""
        for some in range(1, min(self.kinds, len(self.mounts)) + 1):
            for pattern, stacking in product(self.patterns, self.stacking):
                for names in combinations(self.mounts, some):
                    for kinds in product(names, repeat=len(pattern.places)):
                        if len(set(kinds)) == some:
                            yield Candidate(pattern.name, stacking, kinds)

    def pattern(self, name: str) -> Pattern:
        """The pattern of a name.

        Raises
        ------
        InputError
            There is none.
        """
        found = next((one for one in self.patterns if one.name == name), None)
        if found is None:
            names = ", ".join(one.name for one in self.patterns)
            raise InputError(f"pattern = {name!r}: no pattern of that name; write one of {names}")
        return found

    @cached_property
    def _stacked(self) -> dict[tuple[str, str], Mount]:
        """Kinds as they are stacked, by kind and way, as they are asked for."""
        return {}

    @cached_property
    def _placed(self) -> dict[tuple[str, int, str, str], Place]:
        """Kinds at places of patterns, likewise."""
        return {}

    def kind(self, name: str, stacking: str) -> Mount:
        """A kind as it is stacked.

        Raises
        ------
        InputError
            It cannot be stacked that way.
        """
        key = name, stacking
        if key not in self._stacked:
            self._stacked[key] = self.mounts[name].stacked(stacking)
        return self._stacked[key]

    def places(self, candidate: Candidate) -> list[Place]:
        """What a candidate hangs on.

        Raises
        ------
        InputError
            Mounts that cannot be stacked that way.
        """
        there = self.pattern(candidate.pattern).places
        out = []
        for n, (place, name) in enumerate(zip(there, candidate.kinds, strict=True)):
            key = candidate.pattern, n, name, candidate.stacking
            if key not in self._placed:
                mount = self.kind(name, candidate.stacking)
                self._placed[key] = replace(place, mount=mount)
            out.append(self._placed[key])
        return out

    def table(self, candidate: Candidate, given: Mapping[str, Any]) -> dict[str, Any]:
        """The ``[mounts]`` of a brief for a candidate, from the one that it has."""
        ways = {"stacking": candidate.stacking} if candidate.stacking != "one" else {}
        shared = {key: value for key, value in given.items() if key not in _OWN}
        rows = self.pattern(candidate.pattern).rows
        placed = [{**row, "mount": name} for row, name in zip(rows, candidate.kinds, strict=True)]
        return {**shared, **ways, "place": placed}


@cache
def _onto(places: int, kinds: int) -> int:
    """In how many ways so many kinds stand at so many places, each at one at least."""
    return sum((-1) ** i * comb(kinds, i) * (kinds - i) ** places for i in range(kinds + 1))
