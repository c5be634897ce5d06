"""The work pack: for every transit what was asked for and all that was computed from it."""

from generator.errors import Problem
from generator.model.catalogue import Catalogue
from generator.model.job import Cable, Definition, Job, Transit, Wall
from generator.model.layout import AnyLayout, DiameterTable, Fit, NoFit, NoLayout
from generator.model.procedure import Bring, Caution, Phase, Step
from generator.model.scalars import Model


class Work(Model):
    """The work at one transit: what was asked for and all that was computed. Issuing pins this.

    ``fits`` goes by cable tag; ``tables`` has one table per block in use (and per split seal). Where
    ``layout`` is a NoLayout there are no steps.
    """

    id: str
    transit: Transit
    wall_id: str
    wall: Wall
    catalogue: Catalogue
    cables: tuple[Cable, ...]
    fits: dict[str, Fit | NoFit]
    layout: AnyLayout
    tables: tuple[DiameterTable, ...]
    facts: frozenset[str]
    phases: tuple[Phase, ...]
    steps: tuple[Step, ...]
    cautions: tuple[Caution, ...]
    bring: tuple[Bring, ...]


class TransitPack(Work):
    """One transit, complete: a page is made of this and nothing else.

    ``problems`` are this transit's own. ``digest`` is its work digest ('' where nobody asked for it).
    """

    job: Job
    problems: tuple[Problem, ...]
    digest: str = ""

    @property
    def can_be_built(self) -> bool:
        """There is a layout, judged right, and no problem stops the work."""
        return not isinstance(self.layout, NoLayout) and not any(p.severity == "stop" for p in self.problems)

    @property
    def far_side(self) -> str:
        """The room on the other side."""
        first, second = self.wall.sides
        return second if self.transit.working_side == first else first

    @property
    def working_side_is_first(self) -> bool:
        """Tell whether blocks go in from the wall's first side."""
        return self.transit.working_side == self.wall.sides[0]

    @property
    def landmarks(self) -> tuple[str, str]:
        """What lies at the left and at the right, seen from the working side."""
        marks = self.wall.landmarks
        return (marks.left, marks.right) if self.working_side_is_first else (marks.right, marks.left)


class WorkPack(Model):
    """A whole job, computed. ``problems`` has every transit's and the job's own."""

    definition: Definition
    transits: dict[str, TransitPack]
    phases: tuple[Phase, ...]
    problems: tuple[Problem, ...]

    def on_wall(self, wall_id: str) -> tuple[TransitPack, ...]:
        """Return the transits of a wall in the order of their IDs."""
        return tuple(pack for _, pack in sorted(self.transits.items()) if pack.wall_id == wall_id)
