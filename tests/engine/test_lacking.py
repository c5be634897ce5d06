"""What a record lacks: any single entry that a step asks for, taken out of a whole record, is missed and named."""

from collections.abc import Callable, Iterator
from copy import deepcopy
from functools import cache
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from generator.engine.asbuilt import as_built
from generator.model.asbuilt import AsBuilt
from generator.model.pack import TransitPack
from generator.model.record import VERSIONS, KeptRecord
from tests.demo import demo
from tests.records_made import COUNTS, UID, full_record, photo

KINDS = {
    "B2-017": "frame welded in, in a wall that is cut",
    "B2-022": "split seal in a wall that is cut",
    "B4-036": "frame in halves round cables",
    "B5-041": "round frame in a sleeve",
    "B7-061": "cables that share blocks",
}
PHOTOS = (photo(), photo((9, 9, 9)))

Fields = dict[str, Any]
Drop = tuple[str, Callable[[Fields], object], str]
"""A name, what takes the entry out of a record, and words by which it must then be told."""


@cache
def packs() -> dict[str, TransitPack]:
    return demo().transits


def built(pack: TransitPack, *records: Fields) -> AsBuilt:
    kept = []
    for number, fields in enumerate(records):
        named = {**fields, "record": UID[:-1] + str(number)}
        record = VERSIONS[fields["format"]].model_validate(named)
        name = str(number) * 64
        kept.append(KeptRecord(transit=pack.id, format=1, digest=name, file=f"records/{name}.zip", record=record))
    return as_built(pack, {}, kept)


def whole(transit: str) -> Fields:
    return deepcopy(_whole(transit))


@cache
def _whole(transit: str) -> Fields:
    return full_record(packs()[transit], PHOTOS)


def told(found: AsBuilt) -> list[str]:
    return [str(deviation) for deviation in found.open]


def drops(transit: str) -> Iterator[Drop]:
    """Yield every single entry of a whole record that must not be missing, read off the steps' own words."""
    pack, fields = packs()[transit], _whole(transit)
    for step in pack.steps:
        key, at = step.key, f"Not entered at step {step.number} "
        is_judged = step.kind in ("hold", "witness")
        persons = sum(read.text.endswith(" by") for read in step.reads)
        yield key, lambda f, key=key: f["steps"].pop(key), f"No entry at step {step.number}: {step.title}"
        if is_judged or step.kind == "review":
            yield f"{key} by", lambda f, key=key: f["steps"][key].pop("by"), f"{at}({step.title}): name of who "
        for place, value in enumerate(fields["steps"][key]["values"]):
            read = step.reads[value["read"] - 1]
            if is_judged and persons == 1 and read.text.endswith(" by"):
                continue  # the tick itself has the name
            yield (
                f"{key} {read}",
                lambda f, key=key, place=place: f["steps"][key]["values"].pop(place),
                f"{at}({step.title}): {read}",
            )
        for read in step.reads:
            figure = next((figure for figure in COUNTS if figure in read.values), None)
            bay = step.bay or 1
            if figure:
                field = COUNTS[figure]

                def drop_count(f: Fields, bay: int = bay, field: str = field) -> None:
                    next(count for count in f["counts"] if count["bay"] == bay).pop(field)

                yield f"{key} {field}", drop_count, f"{at}({step.title}): {read}"
            if read.text.startswith("photo from"):
                side = "working" if "{working_side}" in read.text else "far"

                def drop_photo(f: Fields, key: str = key, side: str = side) -> None:
                    f["photos"] = [p for p in f["photos"] if (p["step"], p["side"]) != (key, side)]

                yield f"{key} {side}", drop_photo, f"{at}({step.title}): {read}"
            of = "closing" if "{closing_bolt}" in read.text else "holding" if "{holding_bolt}" in read.text else ""
            if of and "as found" not in read.text:
                which = (of, bay, int(read.values[f"{of}_bolt"].rpartition(".")[2]), "second" in read.text)

                def drop_bolt(f: Fields, which: tuple[str, int, int, bool] = which) -> None:
                    kept = [b for b in f["bolts"] if (b["of"], b["bay"], b["bolt"], b.get("again", False)) != which]
                    assert len(kept) == len(f["bolts"]) - 1
                    f["bolts"] = kept

                yield f"{key} {which}", drop_bolt, f"{at}({step.title}): {read}"
        if "type_cables" in step.text.values:
            for place, entry in enumerate(fields["measured"]):
                (tag,) = entry["cables"]
                cables = step.text.values["type_cables"]
                if tag not in cables.split(", "):
                    continue
                head = f"Not entered at step {step.number}"
                head += f" ({step.title})" if cables == tag else f" for {tag} ({step.title})"
                first, second, third = (str(read) for read in step.reads)
                yield f"{tag}", lambda f, n=place: f["measured"].pop(n), f"{head}: {first}; {second}; {third}"
                for name, read in (("diameters", first), ("a", second), ("b", second), ("gaps", third)):
                    yield f"{tag} {name}", lambda f, n=place, name=name: f["measured"][n].pop(name), f"{head}: {read}"
                yield f"{tag} one", lambda f, n=place: f["measured"][n]["diameters"].pop(), f"{head}: {first}"
    for row in fields.get("rows", ()):
        (step,) = (s for s in pack.steps if s.rule == "place-row" and (s.bay, s.row) == (row["bay"], row["row"]))
        if _has_known_cable(pack, row):
            yield (
                f"row {row['bay']}.{row['row']}",
                lambda f, row=row: f["rows"].remove(row),
                f"Not entered at step {step.number} ({step.title}): gaps of its blocks",
            )
    for place, test in enumerate(fields["tests"]):
        (step,) = (s for s in pack.steps if s.key == test["kind"])
        said = f"Not entered at step {step.number} ({step.title}): result of the test"
        if len(fields["tests"]) > 1:
            said = "ask for a test each, results entered: 1"
        yield f"test {test['kind']}", lambda f, n=place: f["tests"].pop(n), said
        words = f"Not entered for the test {test['kind']}: pressure and time"
        yield f"test {test['kind']} figures", lambda f, n=place: f["tests"][n].pop("figures"), words


def _has_known_cable(pack: TransitPack, row: Fields) -> bool:
    known = {cable.tag for cable in pack.cables if not cable.assumed}
    (laid,) = (r for r in pack.layout.bays[row["bay"] - 1].rows if r.number == row["row"])  # type: ignore[union-attr]
    return any(tag in known for placed in laid.placements for tag in placed.cables)


@pytest.mark.parametrize("transit", KINDS)
def test_each_entry_that_is_missing_is_named_and_holds_the_transit_open(transit: str) -> None:
    pack = packs()[transit]
    assert told(built(pack, whole(transit))) == [] and built(pack, whole(transit)).state == "recorded"
    wanted = list(drops(transit))
    assert len({name for name, _drop, _words in wanted}) == len(wanted) > 90
    wrong = []
    for name, drop, words in wanted:
        fields = whole(transit)
        drop(fields)
        found = built(pack, fields)
        if found.state == "recorded" or not any(words in line for line in told(found)):
            wrong.append((name, words, found.state, told(found)))
    assert wrong == []


@settings(max_examples=60)
@given(st.data())
def test_of_many_missing_entries_none_is_passed_over(data: st.DataObject) -> None:
    transit = data.draw(st.sampled_from(sorted(KINDS)))
    every = [drop for drop in drops(transit) if drop[0] not in _whole(transit)["steps"] and drop[0][:5] != "test "]
    # Values, photos and bolts go from lists by their places: one of a list at a time.
    chosen = data.draw(
        st.lists(st.sampled_from(every), min_size=2, max_size=8, unique_by=lambda d: d[2].split(":")[0])
    )
    fields = whole(transit)
    for _name, drop, _words in sorted(chosen, key=lambda d: -_place(transit, d[0])):
        drop(fields)
    lines = told(built(packs()[transit], fields))
    for _name, _drop, words in chosen:
        head, _, what = words.partition("): ")
        assert any(line.startswith(head.split(" for ")[0]) and what in line for line in lines), (words, lines)


def _place(transit: str, name: str) -> int:
    """Return where the entry of a name stands in its list, so that later ones are taken out first."""
    tags = [entry["cables"][0] for entry in _whole(transit)["measured"]]
    first = name.split(" ")[0]
    return tags.index(first) if first in tags else 0


def test_what_one_device_lacks_another_has() -> None:
    pack, one, other = packs()["B2-017"], whole("B2-017"), whole("B2-017")
    one["bolts"], other["counts"] = [], []
    one["steps"]["thickness"].update(done=False)
    assert built(pack, one).state == "closed" and built(pack, other).state == "closed"
    both = built(pack, one, other)
    assert both.state == "recorded", told(both)


def test_a_reason_on_the_step_answers_for_what_it_lacks() -> None:
    pack, fields = packs()["B2-017"], whole("B2-017")
    fields["photos"] = [p for p in fields["photos"] if p["step"] != "photos"]
    fields["steps"]["photos"]["reason"] = "no photo is allowed in the cable cellar"
    found = built(pack, fields)
    assert found.state == "recorded"
    (one,) = found.deviations
    assert one.reason == "no photo is allowed in the cable cellar" and len(one.of) == 2


def test_a_cable_that_was_not_pulled_or_lies_elsewhere_is_not_measured() -> None:
    pack, fields = packs()["B2-017"], whole("B2-017")
    fields["measured"] = [m for m in fields["measured"] if m["cables"] not in (["C-202"], ["P-101"])]
    place = next(p.position for p in pack.layout.placements if "P-101" in p.cables)  # type: ignore[union-attr]
    fields["not_pulled"] = [{"tag": "C-202", "reason": "drum too short"}]
    fields["places"] = [{"position": place, "role": "spare", "reason": "left shut"}]
    assert built(pack, fields).state == "recorded", told(built(pack, fields))
    del fields["not_pulled"]
    (step,) = (s for s in pack.steps if s.text.values.get("type_cables") == "C-202")
    assert [line.partition(":")[0] for line in told(built(pack, fields))] == [
        f"Not entered at step {step.number} ({step.title})".partition(":")[0]
    ]


def test_one_who_does_all_the_work_releases_nothing() -> None:
    pack, fields = packs()["B2-017"], whole("B2-017")
    for step in fields["steps"].values():
        step["by"] = "f2"
    lines = told(built(pack, fields))
    others = [s for s in pack.steps if s.kind in ("hold", "witness") and s.party != "crew"]
    assert len(lines) == len(others) > 5
    assert all("name of a second person: Ada Pegg did the work too" in line for line in lines)
    fields["steps"]["tidy"]["by"] = "own"  # two at work: which of them looked at whose work, no record says
    assert built(pack, fields).state == "recorded"


def test_while_the_work_goes_on_only_what_was_passed_over_is_missed() -> None:
    pack, fields = packs()["B2-017"], whole("B2-017")
    phases = ("prepare", "opening")
    keys = [step.key for step in pack.steps if step.phase in phases]
    so_far = {**fields, "steps": {key: fields["steps"][key] for key in keys}}
    for later in ("measured", "bolts", "tests", "photos", "counts", "rows"):
        so_far.pop(later, None)
    assert (built(pack, so_far).state, told(built(pack, so_far))) == ("cut", [])
    number = next(step.number for step in pack.steps if step.key == "gear")
    del so_far["steps"]["gear"]
    (line,) = told(built(pack, so_far))
    assert line.startswith(f"No entry at step {number}: Put on your protection")


def test_ticks_alone_are_no_record() -> None:
    for transit in KINDS:
        fields = whole(transit)
        for step in fields["steps"].values():
            step["values"] = []
        bare = {
            k: v for k, v in fields.items() if k not in ("measured", "bolts", "tests", "photos", "counts", "rows")
        }
        pack = packs()[transit]
        found = built(pack, bare)
        asking = {step.number for step in pack.steps if step.reads}
        silent = {s.number for s in pack.steps if s.kind in ("hold", "witness") and len(s.reads) == 1}
        assert found.state == "closed"
        assert {deviation.step for deviation in found.open} >= asking - silent, transit
