"""The benchmark measures what it says: distinct pages, both ways. Its times decide nothing."""

from pathlib import Path

from generator.workpack import load
from tests.bench.pages.__main__ import DEMO, measure, write_ours
from tests.bench.pages.copies import many


def test_copies_have_ids_and_tags_of_their_own(tmp_path: Path) -> None:
    work = many(load(DEMO), 40)
    assert len(work.transits) == 40
    tags = [cable.tag for pack in work.transits.values() for cable in pack.cables]
    assert len(set(tags)) == len(tags) > 200
    write_ours(work, tmp_path)
    for transit_id, pack in work.transits.items():
        page = (tmp_path / "T" / transit_id / "index.html").read_text(encoding="utf-8")
        assert f"<bdi>{transit_id}</bdi>" in page
        assert all(cable.tag in page for cable in pack.cables)


def test_both_ways_are_measured() -> None:
    ours, markdown, size = measure(load(DEMO), 6)
    assert ours > 0 and markdown > 0 and size > 1000
