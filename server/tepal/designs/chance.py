"""Chance that can be repeated: bounded whole numbers and shuffles from the raw output of PCG64.

numpy promises that a bit generator's raw stream stays the same for a seed, and does not promise
it for `Generator.permutation` and its kin. So the step from raw 64-bit words to a layout is ours,
and pinned by tests: a seed printed on a trial report gives the same layout in twenty years.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import numpy as np

from tepal.domain.errors import OutOfRangeError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

T = TypeVar("T")

#: Seeds travel as JSON numbers, which are exact only below 2**53.
SEED_LIMIT = 2**53
_WORDS = 2**64


def checked_seed(seed: int) -> int:
    """Return `seed` if it is a whole number from 0 to 2**53 - 1, else raise OutOfRangeError."""
    if isinstance(seed, bool) or not isinstance(seed, int) or not 0 <= seed < SEED_LIMIT:
        raise OutOfRangeError(
            "designs.seed_out_of_range",
            f"Seed {seed!r} is not a whole number from 0 to {SEED_LIMIT - 1}; choose one that is.",
            seed=str(seed),
            limit=SEED_LIMIT - 1,
        )
    return seed


class Chance:
    """A stream of fair choices that depends on the seed alone.

    Parameters
    ----------
    seed : int, 0 to 2**53 - 1      Given to numpy's PCG64 through its SeedSequence.

    Notes
    -----
    INVARIANT: the number and order of draws of each method is part of the layout algorithm's name
    (`layouts.ALGORITHM`); a change here needs a new name.

    References
    ----------
    [1] O'Neill 2014, PCG: a family of simple fast space-efficient statistically good algorithms
        for random number generation. HMC-CS-2014-0905.
    """

    def __init__(self, seed: int) -> None:
        self._bits = np.random.PCG64(checked_seed(seed))

    def below(self, n: int) -> int:
        """Return a whole number from 0 to n - 1, each equally likely (n from 1 to 2**64).

        Raw words at or above the largest multiple of n are thrown away: taking the remainder of
        all words would favour the small numbers.
        """
        if not 1 <= n <= _WORDS:
            raise OutOfRangeError(
                "designs.choice_out_of_range",
                f"Cannot choose one of {n} things; there must be at least one.",
                n=n,
            )
        limit = _WORDS - _WORDS % n
        while True:
            word = int(self._bits.random_raw())
            if word < limit:
                return word % n

    def choice(self, things: Sequence[T]) -> T:
        """Return one of `things`, each equally likely."""
        return things[self.below(len(things))]

    def shuffled(self, things: Iterable[T]) -> list[T]:
        """Return the things in an order that is equally likely to be any of their orders.

        Fisher-Yates from the end: position i gets one of the things 0..i.

        References
        ----------
        [1] Durstenfeld 1964, Algorithm 235: random permutation. Commun. ACM 7:420.
        """
        order = list(things)
        for i in range(len(order) - 1, 0, -1):
            j = self.below(i + 1)
            order[i], order[j] = order[j], order[i]
        return order
