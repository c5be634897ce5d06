"""What a wall demands beside what a certificate says: compared line by line, or not to be compared."""

from typing import Literal

from generator.model.procedure import Message
from generator.model.scalars import Model

Verdict = Literal["covered", "not covered", "not comparable"]
DemandKind = Literal["fire", "air", "w", "water", "gas", "ip", "other", "validity"]


class ComparedLine(Model):
    """One line: what is so at the wall, what the certificate says of it, and why the two differ."""

    wall: Message
    certificate: Message
    verdict: Verdict
    why: Message | None = None


class Comparison(Model):
    """One demand: first the rating itself, then every condition under which the certificate gives it."""

    about: DemandKind
    lines: tuple[ComparedLine, ...]

    @property
    def verdict(self) -> Verdict:
        """The worst of its lines."""
        verdicts = {line.verdict for line in self.lines}
        if "not covered" in verdicts:
            return "not covered"
        return "not comparable" if "not comparable" in verdicts else "covered"
