"""Packing: exact layouts of a frame's bays, or a reason why there is none.

**A layout.** A bay of width W and height H is filled without void or overlap. Rows span its width, each of one
height, the side of some block or filler; row plates lie between rows, one more under the clamping unit where the
bay says so: sum of row heights + plates + clamping unit = H. A row of height h is cut into columns, a column is

* one block of side h;
* *stacked*, where the bay allows stacking: h / s equal blocks of side s, one on the other;
* *nested*, where the bay allows nesting: a column whose width w is the side of some block or filler, w <= h, cut
  over its whole width into rows whose heights are sides of blocks or fillers and come to h, without row plates;
  each of these is cut over w into columns as high as it: one block or, where the bay allows stacking, a stacked
  column, but no nested one again.

Every block is a cable's, a spare, or a filler. What is neither a cable's nor asked for fills the bay: with its
plug in where the catalogue has a block with a plug in that size (one more spare), else a filler of that size; a
size with neither never fills. Where the transit's rest is *solid* what fills is always a filler (a size without
a filler never fills), and the spares are just those asked for.

**Hard rules.** A layout keeps all of these, or it is none:

1. Every cable stands in one block that holds its whole range (its *options*). Cables that share a block with
   several bores are as one cable here, with that block as its only option; no other cable stands in such a block,
   and no such block fills or is a spare.
2. *Circuits.* All cables with the same ``circuit`` lie in one bay, unless the frame says that its webs are not
   magnetic (``webs_not_magnetic``): then in any bays. The bays of one frame, a row of frames among them, lie in one
   opening of the wall; a magnetic web between two bays makes a ring round each. A circuit whose cables the
   schedule leads to different transits is judged by ``engine.circuits``.
3. *What stays.* For each entry of ``keep`` a block of just that side has its lower left corner at x, y of that bay
   and holds that cable, or is a spare where no cable is named. Nothing else is fixed by it: the row and the column
   it stands in are any that fit.
4. *Classes apart.* For each rule of the job or the transit, with its classes: ``bay``: no bay has cables of two of
   them; ``row``: no row has; ``zone``: a column of a row that has a cable of one of them has no cable of any other
   class, named in the rule or not, and in each row the columns of each of them stand side by side (a zone: a
   connected group of columns of one class in a row). A nested column is one column. Spares and fillers have no
   class and may stand in any column.
5. *Spares.* Of each size at least as many as asked: the sum over the entries with that size of ``count``, or of
   share / 100 times the number of cables whose smallest option has that size, rounded up for each entry. For an
   entry with a share and no size: all spares of the layout, asked for or filling, of whatever size, cover
   together at least share / 100 times the area of all cables' smallest options (sum of side²). Each such entry is
   met by itself, so the largest share decides. Kept spares count. Where the rest is solid: of each size just as
   many as asked, or as many as are kept where those are more.

**Wishes**, in this order:

1. growth: the sum over the cables of their block's side less the side of their smallest option;
2. pieces: blocks and row plates together;
3. different sizes: how many sides the blocks have, cables', spares and fillers alike;
4. rows above the spares: the sum over the spares of the rows between them and the clamping unit;
5. the ladder: pairs of cables that cross. Two cables with different ``ladder`` figures cross when the one with the
   lower figure has its middle farther right, bay.x + x + side / 2; with their middles above one another they do not;
6. pairs of rows of a bay with the taller one above.

A layout is ``proven`` when all hard rules are kept and nothing that keeps them is better in 1 to 3, over all bays
together. 4 to 6 are sought among the layouts with the same rows in every bay, filled alike, in a fixed number of
steps. The rest is a rule: of cables with the same choice of blocks the thickest take the larger ones; cables stand
from the bottom row up, spares above them; in a row classes stand together, in the order of the schedule, from left
to right (but where the ladder says otherwise); what fills comes last. The same input gives the same layout, whatever
the order of the catalogue. Every frame is laid out by itself: a change in one transit never moves another.
"""

from collections.abc import Sequence

from generator.engine.place import lay_out
from generator.engine.reasons import explain, give_up, missing, no_room
from generator.engine.solver.promotion import solve
from generator.engine.solver.steps_left import OutOfSteps, StepsLeft
from generator.engine.units import Demand, FrameInUnits, Rules
from generator.model.catalogue import Catalogue, Frame
from generator.model.job import Spare
from generator.model.layout import Layout, NoLayout

__all__ = ["Demand", "Rules", "pack_frame", "pack_somehow"]


def pack_frame(
    frame: Frame,
    catalogue: Catalogue,
    demands: Sequence[Demand],
    spares: Sequence[Spare],
    limit: int,
    rules: Rules = Rules(),  # noqa: B008 (frozen)
    reasons: bool = True,
) -> Layout | NoLayout:
    """Fill all bays of a frame with the blocks of its cables, the best way there is.

    Lengths in mm, from the lower left of each bay, seen from the working side; rows bottom to top, blocks in
    the order of insertion. The objective and what ``proven`` covers stand above. ``limit`` bounds the search
    in steps, the same on every machine: past it the best found, not proven, with a note; or a NoLayout that
    gave up. A NoLayout that did not give up is a proof. Without ``reasons`` it says only that: to look for what
    mends it takes far longer than the proof.
    """
    nothing = missing(catalogue, demands, spares, rules)
    if nothing is not None:
        return nothing
    units = FrameInUnits(frame, catalogue, demands, spares, rules)
    try:
        outcome = solve(units.task, units.ask, StepsLeft(limit))
    except OutOfSteps:
        return give_up(limit)
    if outcome is not None:
        return lay_out(units, outcome)
    return explain(units, spares, limit) if reasons else no_room()


def pack_somehow(
    frame: Frame,
    catalogue: Catalogue,
    demands: Sequence[Demand],
    spares: Sequence[Spare],
    limit: int,
    rules: Rules = Rules(),  # noqa: B008 (frozen)
) -> Layout | NoLayout:
    """Fill all bays of a frame in any way that keeps the hard rules, where only that is asked: much faster.

    As ``pack_frame``, but the layout is the first that was found and never proven, and a NoLayout has no reasons.
    """
    nothing = missing(catalogue, demands, spares, rules)
    if nothing is not None:
        return nothing
    units = FrameInUnits(frame, catalogue, demands, spares, rules)
    try:
        outcome = solve(units.task, units.ask, StepsLeft(limit), first=True)
    except OutOfSteps:
        return give_up(limit)
    if outcome is None:
        return no_room()
    return lay_out(units, outcome).model_copy(update={"proven": False, "note": "Any layout was asked for."})
