"""Two readings across one cable: the table of their sums is judged by brute force over true diameters and layers.

Outside judge: the formula of the fit, gap = diameter - (bore + layer · k), worked with fractions here, for every
number of layers and every diameter the two readings may stand for; nothing of the engine's own search is used.
"""

from decimal import Decimal
from fractions import Fraction

import pytest

from generator.engine.fit import diameter_table
from generator.model.catalogue import Block
from generator.model.job import Job
from generator.workpack import read
from tests.demo import DEMO

DEFINITION = read(DEMO)[0].definition
MARRAM, JOB = DEFINITION.catalogues["marram"], DEFINITION.job
COARSE = JOB.model_copy(
    update={
        "readings": tuple(
            JOB.readings[0].model_validate(band)
            for band in ({"up_to": "25", "step": "0.1", "error": "0.05"}, {"step": "0.5", "error": "0.25"})
        )
    }
)
PARTS = [part for part, block in MARRAM.blocks.items() if block.layers and not block.table]


def holding(block: Block, low: Fraction, high: Fraction) -> set[int]:
    """Return every number of layers whose gap lies in the window for both ends of a range of diameters."""
    rule = block.layers
    assert rule is not None
    found = set()
    for k in range(2 * rule.layers_per_half + 1):
        if k % 2 and rule.halves_differ_by == 0:
            continue
        bore = Fraction(rule.bore) + Fraction(rule.layer) * k
        if low - bore >= Fraction(rule.gap.least) and high - bore <= Fraction(rule.gap.most):
            found.add(k)
    return found


def worst(middle: Fraction, job: Job, apart: Decimal | None) -> Fraction:
    """Return the largest error of an instrument that may show one of two readings about their middle."""
    half = Fraction(apart) / 2 if apart is not None else Fraction(10**6)
    above, errors = Fraction(0), []
    for band in job.readings:
        top = Fraction(band.up_to) if band.up_to is not None else Fraction(10**6)
        if middle + half + Fraction(band.error) > above and middle - half - Fraction(band.error) <= top:
            errors.append(Fraction(band.error))
        above = top
    return max(errors)


@pytest.mark.parametrize("job", [JOB, COARSE], ids=["fine", "coarse"])
@pytest.mark.parametrize("part", PARTS)
def test_a_sum_is_answered_when_one_number_of_layers_holds_all_it_may_stand_for(part: str, job: Job) -> None:
    block = MARRAM.blocks[part]
    table = diameter_table(part, block.size, block, job)
    step = min(band.step for band in job.readings)
    assert table.pairs and block.layers is not None
    first, last = table.pairs[0].least, table.pairs[-1].most
    total = first - 10 * step
    while total <= last + 10 * step:
        middle = Fraction(total) / 2
        error = worst(middle, job, block.not_round)
        wanted = holding(block, middle - error, middle + error)
        row = next((row for row in table.pairs if row.least <= total <= row.most), None)
        if row is None or row.peel is None:
            assert not wanted, f"{total}: {wanted}"
        else:
            assert row.peel.a + row.peel.b in wanted, total
            rule = block.layers
            off = {k: abs(middle - Fraction(rule.bore) - Fraction(rule.layer) * k - _middle(block)) for k in wanted}
            assert off[row.peel.a + row.peel.b] == min(off.values()), total
        total += step


def _middle(block: Block) -> Fraction:
    assert block.layers is not None
    return (Fraction(block.layers.gap.least) + Fraction(block.layers.gap.most)) / 2


@pytest.mark.parametrize("part", PARTS)
def test_two_equal_readings_say_what_one_says(part: str) -> None:
    """Where one instrument reads all of it, the pair 27.6 and 27.6 must not differ from 27.6."""
    block = MARRAM.blocks[part]
    one_band = JOB.model_copy(update={"readings": (JOB.readings[-1],)})
    table = diameter_table(part, block.size, block, one_band)
    seen = 0
    for row in table.rows:
        reading = row.least
        while reading <= row.most:
            pair = next((pair for pair in table.pairs if pair.least <= 2 * reading <= pair.most), None)
            assert pair is not None and pair.peel is not None if row.peel else True, reading
            if row.peel and pair and pair.peel:
                assert (pair.peel.a, pair.peel.b) == (row.peel.a, row.peel.b), reading
            seen += 1
            reading += JOB.readings[-1].step
    assert seen > 30


def test_rows_of_sums_follow_each_other_without_a_hole() -> None:
    for part in PARTS:
        block = MARRAM.blocks[part]
        table = diameter_table(part, block.size, block, JOB)
        for before, after in zip(table.pairs, table.pairs[1:], strict=False):
            assert after.least - before.most == min(band.step for band in JOB.readings)
