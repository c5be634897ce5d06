"""What is wrong, where, why, and how to mend it: errors are part of the product."""

from dataclasses import dataclass
from typing import Literal

Severity = Literal["stop", "look"]


@dataclass(frozen=True, order=True)
class Where:
    """A place in a file of the job. Lines and columns count from 1, columns in characters.

    ``file`` is relative to the job folder, with forward slashes on every system.
    """

    file: str
    line: int = 1
    column: int = 1

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, order=True)
class Problem:
    """One thing the author of a job can mend.

    ``what`` says what stands there, ``why`` names the rule, ``mend`` says what to write instead.
    A ``stop`` ends the work (nothing is built); a ``look`` is shown beside the result. ``transit``
    is the ID of the transit it belongs to, where there is one.
    """

    where: Where
    what: str
    why: str
    mend: str
    severity: Severity = "stop"
    transit: str | None = None

    def __str__(self) -> str:
        return f"{self.where}: {self.what}\n  why:  {self.why}\n  mend: {self.mend}"


class WorkPackError(Exception):
    """A stage ended with problems: all of them, in the order of their places."""

    def __init__(self, problems: list[Problem]) -> None:
        self.problems = tuple(sorted(problems))
        super().__init__("\n".join(str(problem) for problem in self.problems))


@dataclass(frozen=True)
class Finding:
    """What the engine has to say against a transit: a Problem that has no place in a file yet.

    ``field`` names the key of the transit (or of the wall or cable named by ``kind`` and ``key``) it
    points at; whoever knows the files supplies the line.
    """

    what: str
    why: str
    mend: str
    severity: Severity = "stop"
    kind: Literal["transit", "wall", "cable", "placeholder", "catalogue", "part", "step", "caution"] = "transit"
    key: str = ""
    field: str = ""
