"""A work limit counted in steps, so that the same input ends at the same place on every machine.

A step stands for about as much work as one node of a search: whoever loops over more than a handful of things at one
node takes steps for them, so that a limit bounds time and memory whatever the sizes and bays. What is kept from one
search to the next costs each search the steps that making it took (``kept``), whether or not it was there.
"""

from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

P = ParamSpec("P")
T = TypeVar("T")


class OutOfSteps(Exception):
    """The limit was reached."""


class StepsLeft:
    """Counts down; every search takes from it."""

    def __init__(self, limit: int) -> None:
        self.limit = limit
        self.left = limit
        self._paid: set[object] = set()
        self._up_to: dict[object, list[int]] = {}

    @property
    def taken(self) -> int:
        """Steps taken so far."""
        return self.limit - self.left

    def take(self, count: int) -> None:
        """Take steps. Raises OutOfSteps when there are none left."""
        self.left -= count
        if self.left < 0:
            raise OutOfSteps

    def paid_up_to(self, key: object) -> list[int]:
        """Return how many of a growing list this search has paid for, to be counted on by whoever goes on."""
        return self._up_to.setdefault(key, [0])

    def pay_once(self, key: object, make: "Callable[[StepsLeft], tuple[T, int]]") -> T:
        """Return what is made, or was, with the steps it takes; take them the first time this search asks for it.

        It is made with no more steps than are left: that it takes more is then known, too.
        """
        if key in self._paid:
            return make(StepsLeft(self.limit))[0]
        try:
            found, cost = make(StepsLeft(self.left))
        except OutOfSteps:
            self.left = -1
            raise
        self._paid.add(key)
        self.take(cost)
        return found


def kept(most: int) -> "Callable[[Callable[P, T]], Callable[P, T]]":
    """Keep up to so many results of a function whose last argument is the steps it may take."""

    def keep(make: "Callable[P, T]") -> "Callable[P, T]":
        known: dict[object, tuple[T, int]] = {}

        @wraps(make)
        def ask(*arguments: P.args, **named: P.kwargs) -> T:
            *asked, steps = arguments
            assert isinstance(steps, StepsLeft)
            key = tuple(asked)

            def made(own: StepsLeft) -> tuple[T, int]:
                found = known.get(key)
                if found is None:
                    result = make(*asked, own)  # type: ignore[arg-type, call-arg]
                    if len(known) >= most:
                        del known[next(iter(known))]
                    found = known[key] = result, own.taken
                return found

            return steps.pay_once((make, key), made)

        ask.cache_clear = known.clear  # type: ignore[attr-defined]
        return ask

    return keep
