"""The work pack: for every transit what was asked for and all that was computed from it."""

from typing import Literal

from generator.errors import Problem
from generator.model.asbuilt import AsBuilt
from generator.model.catalogue import Catalogue
from generator.model.closing import BayClosing, Bolts
from generator.model.comparison import Comparison
from generator.model.job import Cable, Definition, Job, Transit, Wall
from generator.model.layout import AnyLayout, DiameterTable, Fit, NoFit, NoLayout
from generator.model.marking import Mark
from generator.model.procedure import Bring, Caution, HotRules, Message, Phase, ProcedureFile, Step
from generator.model.quantities import Quantities
from generator.model.reentry import Reentry
from generator.model.scalars import Model


class Change(Model):
    """One difference between two states of a transit's work, in words."""

    about: Literal["wall", "transit", "cable", "block", "peel", "part", "step", "other"]
    says: Message


class Standing(Model):
    """How an issued transit stands: its revision, and what has changed around it.

    ``pin`` is the digest of the pin. ``since`` is what its revision changed against ``replaces``, the one
    before. ``now`` is what the definition would give instead: nothing of that reaches the page before it is
    issued. ``words`` says where only words have. ``withdrawn`` is why it was called off.
    """

    revision: str
    pin: str
    replaces: str | None = None
    since: tuple[Change, ...] = ()
    now: tuple[Change, ...] = ()
    words: tuple[Change, ...] = ()
    withdrawn: str = ""


class Work(Model):
    """The work at one transit: what was asked for and all that was computed. Issuing pins this.

    ``fits`` goes by cable tag; ``tables`` has one table per block in use (and per split seal). Where
    ``layout`` is a NoLayout there are no steps. ``closings`` has one entry a bay: what its gaps come to.
    ``bolts`` has what is tightened, in the order of the work.
    ``comparisons`` sets what the wall demands beside what the
    certificate says.
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
    comparisons: tuple[Comparison, ...] = ()
    facts: frozenset[str]
    phases: tuple[Phase, ...]
    steps: tuple[Step, ...]
    cautions: tuple[Caution, ...]
    bring: tuple[Bring, ...]
    closings: tuple[BayClosing, ...] = ()
    bolts: tuple[Bolts, ...] = ()


class TransitPack(Work):
    """One transit, complete: a page is made of this and nothing else.

    ``problems`` are this transit's own. ``digest`` is its work digest ('' where nobody asked for it).
    ``standing`` tells its revision where it is issued: then everything else is as it was issued.
    """

    job: Job
    problems: tuple[Problem, ...]
    digest: str = ""
    standing: Standing | None = None

    @property
    def can_be_built(self) -> bool:
        """There is a layout, judged right, and no problem stops the work."""
        return not isinstance(self.layout, NoLayout) and not any(p.severity == "stop" for p in self.problems)

    @property
    def revision(self) -> str:
        """The revision it is issued as, '' where it is not."""
        return self.standing.revision if self.standing else ""

    @property
    def withdrawn(self) -> str:
        """Why what was issued of it was called off, '' where it holds."""
        return self.standing.withdrawn if self.standing else ""

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


class Superseded(Model):
    """An older revision of a transit: as it was issued, and what each later one changed, oldest first."""

    revision: str
    pack: TransitPack
    later: tuple[tuple[str, tuple[Change, ...]], ...]


class WorkPack(Model):
    """A whole job, computed. ``problems`` has every transit's and the job's own.

    ``superseded`` has the older revisions of issued transits, oldest first; ``as_built`` what the
    records of each transit come to. ``marks`` has for each transit its opening's place on its wall, ``hot_work``
    the rules for hot work that the job names.
    ``quantities`` has what the whole job needs. ``adding`` are the rules by which a closed transit is
    opened for one more cable, and ``reentries`` what that asks for in each transit, where it was worked out.
    ``procedure`` has the rules that steps, cautions and defects come from. ``gone`` are transits that were issued and
    withdrawn, and that the definition no longer has: their labels may be on site.
    """

    definition: Definition
    transits: dict[str, TransitPack]
    phases: tuple[Phase, ...]
    problems: tuple[Problem, ...]
    superseded: dict[str, tuple[Superseded, ...]] = {}
    as_built: dict[str, AsBuilt] = {}
    marks: dict[str, Mark] = {}
    hot_work: dict[str, HotRules] = {}
    quantities: Quantities = Quantities()
    adding: ProcedureFile = ProcedureFile()
    reentries: dict[str, Reentry] = {}
    procedure: ProcedureFile = ProcedureFile()
    gone: dict[str, TransitPack] = {}

    def pack_of(self, transit_id: str) -> TransitPack:
        """Return a transit of the definition, or one that is gone from it. Raises KeyError."""
        return self.transits[transit_id] if transit_id in self.transits else self.gone[transit_id]

    @property
    def withdrawn(self) -> tuple[TransitPack, ...]:
        """The transits whose issued work was called off, in the order of their IDs."""
        every = {**self.gone, **self.transits}
        return tuple(pack for _, pack in sorted(every.items()) if pack.withdrawn)

    def on_wall(self, wall_id: str) -> tuple[TransitPack, ...]:
        """Return the transits of a wall in the order of their IDs."""
        return tuple(pack for _, pack in sorted(self.transits.items()) if pack.wall_id == wall_id)
