"""As built: what the records of one transit come to, held against the work they were made against."""

from typing import Literal

from generator.model.layout import AnyLayout
from generator.model.procedure import Message
from generator.model.record import KeptRecord
from generator.model.scalars import Model

State = Literal["planned", "issued", "cut", "packed", "closed", "recorded", "withdrawn"]
"""How far a transit is: each word includes the ones before it. ``recorded`` is closed with nothing open.

Pages show ``withdrawn`` instead, however far it was, where what was issued was called off.
"""

Verdict = Literal["within", "outside", ""]
"""Whether a value lies in its window; '' where there is no window to judge it by."""


class Line(Model):
    """One thing of a record as it is shown: what, its value, the window it had to lie in, who and when."""

    what: Message
    value: Message | None = None
    window: str = ""
    verdict: Verdict = ""
    by: str = ""
    at: str = ""
    reason: str = ""
    note: str = ""
    photos: tuple[str, ...] = ()
    step: int | None = None


class Group(Model):
    """Lines under a heading."""

    title: Message
    lines: tuple[Line, ...]


class Deviation(Model):
    """What is not as planned, or was not entered. It is open while nobody has given a reason.

    Where a step was ticked without what it asks for, ``of`` has what is missing in the step's own words, ``about``
    its title and ``step`` its number, among the steps of the work it is held against.
    """

    says: Message
    reason: str = ""
    by: str = ""
    at: str = ""
    about: Message | None = None
    of: tuple[Message, ...] = ()
    step: int | None = None

    def __str__(self) -> str:
        """The whole of it in English."""
        about = f" ({self.about})" if self.about else ""
        return f"{self.says}{about}" + (f": {'; '.join(map(str, self.of))}" if self.of else "")

    @property
    def open(self) -> bool:
        """Nobody has said why."""
        return not self.reason


class Sheet(Model):
    """One record as it is shown. ``judged_by`` is the revision whose windows it is held against ('' for none).

    ``current`` says that it was made against the very work that holds now.
    """

    kept: KeptRecord
    judged_by: str = ""
    current: bool
    groups: tuple[Group, ...]


class AsBuilt(Model):
    """What the records of a transit come to.

    ``sheets`` has the last export of every device's record; ``older`` the earlier exports that they replace,
    ``newer`` records of a format that this program can't read. ``layout`` is that of the work recorded
    against (revision ``judged_by``) with the changes it had on site, where those can be drawn. ``photos``
    goes by digest to the file that holds each.
    """

    state: State
    sheets: tuple[Sheet, ...] = ()
    older: tuple[KeptRecord, ...] = ()
    newer: tuple[KeptRecord, ...] = ()
    deviations: tuple[Deviation, ...] = ()
    closed_on: str = ""
    closed_by: str = ""
    layout: AnyLayout | None = None
    judged_by: str = ""
    judged_now: bool = False
    side_changed: bool = False
    photos: dict[str, str] = {}

    @property
    def open(self) -> tuple[Deviation, ...]:
        """The deviations for which nobody has given a reason."""
        return tuple(deviation for deviation in self.deviations if deviation.open)
