"""Fit: which blocks close around a cable, and how many layers to peel at which reading.

Lengths in mm, exact decimals. Every figure comes from the catalogue (bore, layer, window, or its table)
and from the job (step and error of the instrument); there is no default here.

What a Fit promises, for a cable whose true diameter lies anywhere from ``least`` to ``most``:

1. *It can be closed.* Every diameter of the range has a number of layers whose gap lies in the window.
2. *The card knows it.* Every reading the instrument may show for such a diameter stands in the block's
   diameter table: with its answer, or between two answers as "measure again, try the gap". A cable whose
   readings may run past either end of the table is not said to fit, although the rubber might close: at
   the wall nobody could tell.

A reading is answered only when one number of layers holds every diameter the reading may stand for, so a
reading between two answers never becomes a guess. The gap itself is the acceptance, at the wall.

A cable that is known to be out of round asks for a block that allows as much.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from itertools import pairwise

from generator.model.catalogue import Block, Catalogue, PeelLayers, PeelRow, PeelRule, SplitSeal
from generator.model.job import Cable, Job, Reading, Tape
from generator.model.layout import DiameterRow, DiameterTable, Fit, NoFit, Peel
from generator.model.scalars import Window, format_mm

PI_BETWEEN = (Decimal("3.14159265358979"), Decimal("3.14159265358980"))
"""Two bounds of π."""
_EXACT_TO = Decimal("0.001")
_NEAR = Decimal("1e-9")  # so that equal distances compare equal after a division


@dataclass(frozen=True, slots=True)
class _Answer:
    """Layers to peel from each half, the diameters they close around, and the gap along those (mm)."""

    a: int
    b: int
    least: Decimal
    most: Decimal
    gap: Window

    @property
    def _is_interpolated(self) -> bool:
        """Only a table can say that a millimetre of diameter is not a millimetre of gap."""
        return self.most - self.least != self.gap.most - self.gap.least

    def _gap(self, diameter: Decimal) -> Decimal:
        span, rise = self.most - self.least, self.gap.most - self.gap.least
        if not self._is_interpolated:
            return self.gap.least + diameter - self.least
        if span == 0:
            return (self.gap.least + self.gap.most) / 2
        return (self.gap.least + (diameter - self.least) * rise / span).quantize(_NEAR)

    def gap_at(self, diameter: Decimal) -> Decimal:
        """Return the gap to expect: it runs from the window's least to its most along the diameters."""
        gap = self._gap(diameter)
        return gap.quantize(_EXACT_TO) if self._is_interpolated else gap

    def rank(self, diameter: Decimal) -> tuple[Decimal, int, int]:
        """Order answers to one diameter: gap nearest the window's middle, then fewer layers."""
        middle = (self.gap.least + self.gap.most) / 2
        return abs(self._gap(diameter) - middle), self.a + self.b, self.a

    def peel_at(self, diameter: Decimal) -> Peel:
        return Peel(a=self.a, b=self.b, gap=self.gap_at(diameter))


@dataclass(frozen=True, slots=True)
class _Card:
    """Every reading from the first answered to the last, and its answer; both empty when there is none."""

    readings: tuple[Decimal, ...]
    answers: tuple[_Answer | None, ...]


def fit_cable(cable: Cable, catalogue: Catalogue, job: Job) -> tuple[Fit, ...]:
    """List every block that holds the whole range of a cable, smallest first; () when there is none.

    Among blocks of one size those come first that can do nothing the cable does not ask for (a block that
    bonds is not spent on a plain cable), then part numbers in order. What a Fit promises stands above.
    """
    found = [
        (block.size, block.bonds and not cable.bonded, block.pipes and cable.service != "pipe", part, block)
        for part, block in catalogue.single_blocks.items()
        if _refusal(cable, block, job) is None
    ]
    return tuple(
        _make_fit(cable, part, size, block, job) for size, _, _, part, block in sorted(found, key=lambda f: f[:4])
    )


def fit_seal(cable: Cable, part: str, seal: SplitSeal, job: Job) -> Fit | NoFit:
    """Fit one cable into a split seal: the same promise as for a block, or why it cannot be given."""
    refusal = _refusal(cable, seal, job)
    if refusal is None:
        return _make_fit(cable, part, seal.diameter, seal, job)
    return NoFit(
        cable=cable.tag,
        what=f"{_name(cable)} does not fit the split seal {part}",
        why=f"{part} {_reach(seal)}: {refusal.why}",
        mend=refusal.mend or "choose another split seal, or a frame",
    )


def fit_shared(cables: Sequence[Cable], part: str, catalogue: Catalogue, job: Job) -> tuple[Fit | NoFit, ...]:
    """Fit cables into the bores of one block, in their order: a Fit for each, or why it cannot be given.

    Beside what a Fit promises for each bore: its halves close as one, so however each bore is peeled by its own
    reading, the gaps of any two bores differ by no more than the catalogue allows (``bores_differ``). The gap to
    expect is that of the block, for each bore the same: its halves come to rest on the bore with the largest.
    Where single bores hold and the block as a whole does not, the first cable has the NoFit.
    """
    block = catalogue.blocks[part]
    found: list[Fit | NoFit] = []
    for cable in cables:
        refusal = _refusal(cable, block, job)
        if refusal is None:
            found.append(_make_fit(cable, part, block.size, block, job))
        else:
            mend = refusal.mend or "give it a block of its own"
            what = f"{_name(cable)} does not fit a bore of {part}"
            found.append(NoFit(cable=cable.tag, what=what, why=f"{part} {_reach(block)}: {refusal.why}", mend=mend))
    fits = [fit for fit in found if isinstance(fit, Fit)]
    if len(fits) < len(found):
        return tuple(found)
    gaps = [(cable, _gaps_left(cable, block, job)) for cable in cables]
    allowed = block.bores_differ or Decimal(0)
    apart, one, two = max(
        ((a.most - b.least, x, y) for x, a in gaps for y, b in gaps if x is not y), key=lambda found: found[0]
    )
    if apart > allowed:
        no = NoFit(
            cable=cables[0].tag,
            what=f"cables {', '.join(cable.tag for cable in cables)} cannot share block {part}",
            why=f"its halves close as one, and the gaps of {one.tag} and {two.tag}, each peeled by its own reading,"
            f" may come {format_mm(apart)} mm apart: it allows {format_mm(allowed)} mm",
            mend="measure the drums and narrow their ranges, let others share it, or give each a block of its own",
        )
        return (no, *fits[1:])
    widest = max(fit.likely.gap for fit in fits)
    return tuple(fit.model_copy(update={"likely": fit.likely.model_copy(update={"gap": widest})}) for fit in fits)


def _gaps_left(cable: Cable, rule: PeelRule, job: Job) -> Window:
    """Return the gaps that may come of peeling for a cable by any of its readings, mm.

    A reading without an answer is peeled until the gap lies in its window, so any gap of a window may come of it.
    """
    card = _card(rule.layers, rule.table, job.readings)
    at = dict(zip(card.readings, card.answers, strict=True))
    errors = dict(_readings(card.readings[0], card.readings[-1], job.readings))
    gaps: list[Decimal] = []
    for reading in _readings_of(cable.least, cable.most, job.readings):
        answer = at[reading]
        low, high = max(cable.least, reading - errors[reading]), min(cable.most, reading + errors[reading])
        if answer is not None:
            gaps += (answer.gap_at(low), answer.gap_at(high))
        else:
            held = [a for a in _answers(rule.layers, rule.table) if a.least <= high and low <= a.most]
            gaps += (gap for a in held for gap in (a.gap.least, a.gap.most))
    return Window(least=min(gaps), most=max(gaps))


def diameter_table(part: str, size: Decimal, rule: PeelRule, job: Job) -> DiameterTable:
    """Tabulate reading -> layers for one block or split seal, from its least answered reading to its most.

    Rows hold consecutive readings with the same answer; between two rows there is no reading. A row without
    an answer holds readings that no number of layers holds wholly: "measure again, try the gap". A reading
    stands for every diameter within the instrument's error; where two bands of the job meet, a reading that
    either may show takes the larger error. Without an answer at all there are no rows. Where the job has a
    plain tape, its readings are tabulated too: girth = π · diameter, so its error is carried divided by π.
    """
    card = _card(rule.layers, rule.table, job.readings)
    pairs = _pairs(rule.layers, rule.table, job.readings, rule.not_round)
    windows = [answer.gap for answer in _answers(rule.layers, rule.table)]
    window = Window(least=min(w.least for w in windows), most=max(w.most for w in windows))
    return DiameterTable(
        part=part,
        size=size,
        window=window,
        rows=_rows(card, lambda reading: reading),
        pairs=_rows(pairs, lambda reading: reading / 2),
        tape=_rows(_around(rule.layers, rule.table, job.tape), _of_girth) if job.tape else (),
    )


def _of_girth(girth: Decimal) -> Decimal:
    return (girth / PI_BETWEEN[0]).quantize(_EXACT_TO)


def _rows(card: _Card, diameter: Callable[[Decimal], Decimal]) -> tuple[DiameterRow, ...]:
    """Join consecutive readings with one answer to rows. ``diameter`` is what a reading stands for."""
    runs: list[tuple[Decimal, Decimal, _Answer | None]] = []
    for reading, answer in zip(card.readings, card.answers, strict=True):
        if runs and runs[-1][2] is answer:
            runs[-1] = (runs[-1][0], reading, answer)
        else:
            runs.append((reading, reading, answer))
    return tuple(
        DiameterRow(least=least, most=most, peel=None)
        if answer is None
        else DiameterRow(
            least=least,
            most=most,
            peel=answer.peel_at(diameter((least + most) / 2)),
            gap_least=answer.gap_at(diameter(least)),
            gap_most=answer.gap_at(diameter(most)),
        )
        for least, most, answer in runs
    )


def expected_rows(table: DiameterTable, least: Decimal, most: Decimal, job: Job) -> tuple[DiameterRow, ...]:
    """Return the rows of a table that hold a reading which may be shown for a diameter from ``least`` to ``most``.

    Diameters in mm; the instrument's error widens the range on both sides.
    """
    shown = _readings_of(least, most, job.readings)
    return tuple(row for row in table.rows if any(row.least <= reading <= row.most for reading in shown))


def unanswered(rule: PeelRule, job: Job) -> tuple[tuple[Decimal, Decimal], ...]:
    """List the readings between the least and the most answered one that no number of layers holds.

    Each entry is a run of consecutive readings, its first and last, mm.
    """
    table = diameter_table("-", Decimal(1), rule, job)
    return tuple((row.least, row.most) for row in table.rows if row.peel is None)


def explain_no_fit(cable: Cable, catalogue: Catalogue, job: Job) -> NoFit:
    """Say why no block holds a cable: the nearest smaller and larger block, their ranges, and a mend.

    Raises ValueError when a block does hold it: the caller's fault.
    """
    refusals = [(part, block, _refusal(cable, block, job)) for part, block in catalogue.sized_blocks()]
    refused = [(part, block, refusal) for part, block, refusal in refusals if refusal is not None]
    if len(refused) < len(refusals):
        raise ValueError(f"cable {cable.tag} fits a block")
    what = f"{_name(cable)} fits no block"
    if not refused:
        return NoFit(cable=cable.tag, what=what, why="the sealing system has no blocks", mend="choose another system")

    # A block that is barred from this cable whatever its diameter explains nothing while another is not.
    open_to_it = [entry for entry in refused if not entry[2].barred]
    if not open_to_it:
        refusal = refused[0][2]
        return NoFit(cable=cable.tag, what=what, why=f"no block of the system {refusal.barred}", mend=refusal.mend)
    # Of the blocks too small for it the one that reaches highest, of those too large the one that starts lowest.
    smaller = [entry for entry in open_to_it if entry[2].side <= 0]
    larger = [entry for entry in open_to_it if entry[2].side > 0]
    near = [max(smaller, key=lambda entry: (_span(entry[1])[1], -entry[1].size))] if smaller else []
    near += [min(larger, key=lambda entry: (_span(entry[1])[0], entry[1].size))] if larger else []
    why = "; ".join(f"{part} ({format_mm(block.size)} mm) {_reach(block)}: {no.why}" for part, block, no in near)
    overlapping = [entry for entry in near if entry[2].overlaps]
    if len(near) > 1 and len(overlapping) == len(near):
        spans = [(part, *_span(block)) for part, block, _ in near]
        choices = "; ".join(
            f"from {format_mm(low)} to {format_mm(high)} mm it takes {part}" for part, low, high in spans
        )
        mend = f"measure the drum and narrow its range, allowing for the reading: {choices}"
    elif near[0][2].side == 0 or overlapping:  # not its size: a hole, or the instrument
        mend = (near[0] if near[0][2].side == 0 else overlapping[0])[2].mend
    elif len(near) > 1:
        mend = "no block of the system closes around it: check its diameter, or choose another system"
    else:
        mend = near[0][2].mend
    return NoFit(cable=cable.tag, what=what, why=why, mend=mend)


# -- answers ---------------------------------------------------------------------------------------


@lru_cache(maxsize=1024)
def _answers(layers: PeelLayers | None, table: tuple[PeelRow, ...] | None) -> tuple[_Answer, ...]:
    """List every number of layers with the diameters it holds, thinnest first.

    The table rules where there is one. Formula: gap = diameter - (bore + layer · k), to lie in the window.
    """
    found: list[_Answer] = []
    if table:
        found = [_Answer(row.a, row.b, row.least, row.most, row.gap) for row in table]
    elif layers is not None:
        for k in range(2 * layers.layers_per_half + 1):
            if k % 2 and layers.halves_differ_by == 0:
                continue
            more, fewer = (k + 1) // 2, k // 2
            a, b = (more, fewer) if layers.odd_layer == "A" else (fewer, more)
            bore = layers.bore + layers.layer * k
            found.append(_Answer(a, b, bore + layers.gap.least, bore + layers.gap.most, layers.gap))
    return tuple(sorted(found, key=lambda answer: (answer.least, answer.most, answer.a + answer.b, answer.a)))


def _best(answers: Iterable[_Answer], diameter: Decimal) -> _Answer | None:
    return min(answers, key=lambda answer: answer.rank(diameter), default=None)


def _spans(rule: PeelRule) -> list[tuple[Decimal, Decimal]]:
    """Return the connected ranges of diameters that have an answer, thinnest first."""
    spans: list[tuple[Decimal, Decimal]] = []
    for answer in _answers(rule.layers, rule.table):
        if spans and answer.least <= spans[-1][1]:
            spans[-1] = (spans[-1][0], max(spans[-1][1], answer.most))
        else:
            spans.append((answer.least, answer.most))
    return spans


def _span(rule: PeelRule) -> tuple[Decimal, Decimal]:
    spans = _spans(rule)
    return spans[0][0], spans[-1][1]


# -- readings --------------------------------------------------------------------------------------


def _reading_error(reading: Decimal, bands: Sequence[Reading]) -> Decimal | None:
    """Return how far a reading may be out, or None when no instrument of the job shows it.

    A reading belongs to the band it lies in, and to a neighbour too when that one's instrument may show it
    for a diameter of its own: a tape read to 0.5 mm shows 25.0 for 25.2.
    """
    errors: list[Decimal] = []
    own = False
    above: Decimal = Decimal(0)
    for band in bands:
        if reading % band.step == 0:
            inside = above < reading and (band.up_to is None or reading <= band.up_to)
            near = above < reading + band.error and (band.up_to is None or reading - band.error <= band.up_to)
            own = own or inside
            if inside or near:
                errors.append(band.error)
        above = band.up_to if band.up_to is not None else above
    return max(errors) if own else None


def _readings(least: Decimal, most: Decimal, bands: Sequence[Reading]) -> list[tuple[Decimal, Decimal]]:
    """List the readings from ``least`` to ``most`` that the job's instruments show, each with its error."""
    found: list[tuple[Decimal, Decimal]] = []
    above = Decimal(0)
    for band in bands:
        end = most if band.up_to is None else min(most, band.up_to)
        count = max(-(-least // band.step), above // band.step + 1)
        while (reading := count * band.step) <= end:
            error = _reading_error(reading, bands)
            if error is not None:
                found.append((reading, error))
            count += 1
        if band.up_to is not None:
            above = band.up_to
    return found


def _readings_of(least: Decimal, most: Decimal, bands: Sequence[Reading]) -> list[Decimal]:
    """List the readings that may be shown for a diameter from ``least`` to ``most``."""
    reach = max(band.error for band in bands)
    return [
        reading
        for reading, error in _readings(least - reach, most + reach, bands)
        if reading + error >= least and reading - error <= most
    ]


@lru_cache(maxsize=1024)
def _card(layers: PeelLayers | None, table: tuple[PeelRow, ...] | None, bands: tuple[Reading, ...]) -> _Card:
    answers = _answers(layers, table)
    least, most = answers[0].least, max(answer.most for answer in answers)
    found = [
        (
            reading,
            _best((a for a in answers if a.least <= reading - error and reading + error <= a.most), reading),
        )
        for reading, error in _readings(least, most, bands)
    ]
    return _trimmed(found)


def _trimmed(found: list[tuple[Decimal, _Answer | None]]) -> _Card:
    answered = [index for index, (_, answer) in enumerate(found) if answer is not None]
    kept = found[answered[0] : answered[-1] + 1] if answered else []
    return _Card(tuple(reading for reading, _ in kept), tuple(answer for _, answer in kept))


@lru_cache(maxsize=1024)
def _pairs(
    layers: PeelLayers | None,
    table: tuple[PeelRow, ...] | None,
    bands: tuple[Reading, ...],
    not_round: Decimal | None,
) -> _Card:
    """Answer the sum of two readings across one cable. Their middle stands for the diameter.

    The middle of two readings is out by no more than the worse of them, so it takes the largest error of the
    bands in which either may lie: they are at most ``not_round`` apart, or anywhere where no limit is given.
    """
    answers = _answers(layers, table)
    least, most = answers[0].least, max(answer.most for answer in answers)
    step = min(band.step for band in bands)
    found: list[tuple[Decimal, _Answer | None]] = []
    count = -(-2 * least // step)
    while (total := count * step) <= 2 * most:
        middle = total / 2
        error = _largest_error(middle, bands, not_round)
        held = (a for a in answers if a.least <= middle - error and middle + error <= a.most)
        found.append((total, _best(held, middle)))
        count += 1
    return _trimmed(found)


@lru_cache(maxsize=1024)
def _around(layers: PeelLayers | None, table: tuple[PeelRow, ...] | None, tape: Tape) -> _Card:
    """Answer the girth that a plain tape shows. It counts when an answer holds every girth it may stand for.

    Girths are compared with π times diameters, between bounds of π: no reading is ever answered that is not held.
    """
    answers = _answers(layers, table)
    under, over = PI_BETWEEN
    least, most = answers[0].least * under, max(answer.most for answer in answers) * over
    found: list[tuple[Decimal, _Answer | None]] = []
    count = -(-least // tape.step)
    while (reading := count * tape.step) <= most:
        low, high = reading - tape.error, reading + tape.error
        held = (a for a in answers if a.least * over <= low and high <= a.most * under)
        found.append((reading, _best(held, reading / under)))
        count += 1
    return _trimmed(found)


def _largest_error(middle: Decimal, bands: Sequence[Reading], not_round: Decimal | None) -> Decimal:
    if not_round is None:
        return max(band.error for band in bands)
    errors: list[Decimal] = []
    above: Decimal = Decimal(0)
    for band in bands:
        # The other band's instrument may show the same cable, as for a single reading.
        reach = not_round / 2 + band.error
        if above < middle + reach and (band.up_to is None or middle - reach <= band.up_to):
            errors.append(band.error)
        above = band.up_to if band.up_to is not None else above
    return max(errors)


# -- one cable, one rule ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Refusal:
    """Why a block does not hold a cable. ``side``: -1 it is too small for it, 1 too large, 0 neither.

    ``barred`` says what no diameter can mend; ``overlaps`` that it holds a part of the cable's range.
    """

    why: str
    side: int
    mend: str = ""
    overlaps: bool = False
    barred: str = ""


def _refusal(cable: Cable, rule: Block | SplitSeal, job: Job) -> _Refusal | None:
    """Judge one block or split seal against the promise; None when it can be given."""
    if cable.service == "pipe" and not rule.pipes:
        return _Refusal(
            "it is not allowed around pipes",
            0,
            "choose a system with a part for pipes (pipes: yes)",
            barred="is allowed around pipes",
        )
    if cable.bonded and not rule.bonds:
        return _Refusal(
            "it cannot bond or seal a braid or screen",
            0,
            "choose a system with a part that can (bonds: yes)",
            barred="can bond or seal a braid or screen",
        )
    least, most = _span(rule)
    if cable.most < least:
        return _Refusal("the cable is too thin for it", 1, "choose a system with blocks for thinner cables")
    if cable.least > most:
        return _Refusal("the cable is too thick for it", -1, "choose a system with blocks for thicker cables")
    narrow = "measure the drum and narrow its range"
    if cable.most > most:
        return _Refusal(
            f"the cable may be as thick as {format_mm(cable.most)} mm",
            -1,
            f"{narrow}: this one ends at {format_mm(most)} mm",
            overlaps=True,
        )
    if cable.least < least:
        return _Refusal(
            f"the cable may be as thin as {format_mm(cable.least)} mm",
            1,
            f"{narrow}: this one starts at {format_mm(least)} mm",
            overlaps=True,
        )
    for (_, before), (after, _) in pairwise(_spans(rule)):
        if before < cable.most and cable.least < after:
            return _Refusal(
                f"between {format_mm(before)} and {format_mm(after)} mm no number of layers closes to its window",
                0,
                narrow,
                overlaps=True,
            )
    card = _card(rule.layers, rule.table, job.readings)
    possible = _readings_of(cable.least, cable.most, job.readings)
    if not card.readings:
        return _Refusal(
            "its window is narrower than the instrument's error, so no reading has an answer",
            0,
            "measure with a finer instrument (readings: in job.yaml)",
        )
    if not possible:
        return _Refusal(
            "the instrument shows no reading for it",
            0,
            "give the readings in job.yaml an error of at least half their step",
        )
    if possible[-1] > card.readings[-1] or possible[0] < card.readings[0]:
        high = possible[-1] > card.readings[-1]
        return _Refusal(
            f"a reading of {format_mm(possible[-1] if high else possible[0])} mm has no answer, "
            f"its answered readings run from {format_mm(card.readings[0])} to {format_mm(card.readings[-1])} mm",
            -1 if high else 1,
            f"{narrow}, or measure with a finer instrument",
            overlaps=True,
        )
    flat, allowed = cable.out_of_round_mm, rule.not_round
    if flat is not None and allowed is not None and flat > allowed:
        return _Refusal(
            f"two diameters across the cable may differ by {format_mm(flat)} mm, it allows {format_mm(allowed)} mm",
            0,
            "the cable is not round enough: ask its maker for one that is, or choose a system that allows more",
        )
    return None


def _make_fit(cable: Cable, part: str, size: Decimal, rule: PeelRule, job: Job) -> Fit:
    likely = cable.likely
    best = _best((a for a in _answers(rule.layers, rule.table) if a.least <= likely <= a.most), likely)
    if best is None:
        raise ValueError(f"cable {cable.tag}: its likely diameter lies outside its range")
    card = _card(rule.layers, rule.table, job.readings)
    at = dict(zip(card.readings, card.answers, strict=True))
    answers = {at[reading] for reading in _readings_of(cable.least, cable.most, job.readings)}
    return Fit(part=part, size=size, window=best.gap, likely=best.peel_at(likely), measure=answers != {best})


# -- words -----------------------------------------------------------------------------------------


def _name(cable: Cable) -> str:
    kind = "pipe" if cable.service == "pipe" else "cable"
    if cable.least == cable.most:
        return f"{kind} {cable.tag} ({format_mm(cable.least)} mm)"
    return f"{kind} {cable.tag} ({format_mm(cable.least)} to {format_mm(cable.most)} mm)"


def _reach(rule: PeelRule) -> str:
    least, most = _span(rule)
    return f"closes around {format_mm(least)} to {format_mm(most)} mm"
