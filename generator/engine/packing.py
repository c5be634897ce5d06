"""Packing: exact layouts of a frame's bays, or a reason why there is none.

A bay of width W and height H is filled without void or overlap. Rows span its width, each of one height,
the side of some block or filler; row plates lie between rows, one more under the clamping unit where the
bay says so: sum of row heights + plates + clamping unit = H. A row is cut into columns: one block as high as
the row, or, where the bay allows stacking, equal smaller blocks stacked to just that height.

Every block is a cable's, a spare asked for, or fills the bay: with its plug in where the catalogue has a
plug in that size (one more spare), else a filler of that size. A size with neither never fills.

The objective, in this order:

1. growth: the sum over the cables of their block's side less the side of their smallest block;
2. pieces: blocks and row plates together;
3. different sizes of blocks;
4. rows above the spares: the sum over the spares of the rows between them and the clamping unit;
5. pairs of rows with the taller one above.

A layout is ``proven`` when nothing is better in 1 to 3, over all bays together. 4 and 5 are sought among the
layouts with the same rows in every bay, in a fixed number of steps. The rest is a rule: of cables with the
same choice of blocks the thickest take the larger ones; cables stand from the bottom row up, spares above
them; in a row classes stand together, in the order of the schedule, from left to right; what fills comes
last. The same input gives the same layout, whatever the order of the catalogue.
"""

from collections.abc import Sequence

from generator.engine.place import lay_out
from generator.engine.reasons import explain, give_up, missing
from generator.engine.solver.promotion import solve
from generator.engine.solver.steps_left import OutOfSteps, StepsLeft
from generator.engine.units import Demand, FrameInUnits
from generator.model.catalogue import Catalogue, Frame
from generator.model.job import Spare
from generator.model.layout import Layout, NoLayout

__all__ = ["Demand", "pack_frame"]


def pack_frame(
    frame: Frame, catalogue: Catalogue, demands: Sequence[Demand], spares: Sequence[Spare], limit: int
) -> Layout | NoLayout:
    """Fill all bays of a frame with the blocks of its cables, the best way there is.

    Lengths in mm, from the lower left of each bay, seen from the working side; rows bottom to top, blocks in
    the order of insertion. The objective and what ``proven`` covers stand above. ``limit`` bounds the search
    in steps, the same on every machine: past it the best found, not proven, with a note; or a NoLayout that
    gave up. A NoLayout that did not give up is a proof.
    """
    nothing = missing(catalogue, demands, spares)
    if nothing is not None:
        return nothing
    units = FrameInUnits(frame, catalogue, demands, spares)
    try:
        outcome = solve(units.task, units.ask, StepsLeft(limit))
    except OutOfSteps:
        return give_up(limit)
    return lay_out(units, outcome) if outcome is not None else explain(units, spares, limit)
