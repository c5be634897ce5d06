"""A work limit counted in steps, so that the same input ends at the same place on every machine."""


class OutOfSteps(Exception):
    """The limit was reached."""


class StepsLeft:
    """Counts down; every search takes from it."""

    def __init__(self, limit: int) -> None:
        self.limit = limit
        self.left = limit
        self._paid: set[object] = set()

    @property
    def taken(self) -> int:
        """Steps taken so far."""
        return self.limit - self.left

    def take(self, count: int) -> None:
        """Take steps. Raises OutOfSteps when there are none left."""
        self.left -= count
        if self.left < 0:
            raise OutOfSteps

    def pay_once(self, key: object, count: int) -> None:
        """Take the steps of a result that is kept, the first time this search asks for it."""
        if key not in self._paid:
            self._paid.add(key)
            self.take(count)
