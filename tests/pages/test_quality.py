"""The quality plan: points against a list made by hand, defects against the steps and functions they name."""

import re
from importlib import import_module
from typing import Any

import pytest

from generator.engine.asbuilt import as_built
from generator.model.pack import WorkPack
from generator.model.record import VERSIONS, KeptRecord
from generator.pages import addresses
from generator.pages.quality import Quality, belongs, job_points, list_defects, points_of
from generator.pages.render import Pages
from generator.pages.words import Words
from tests.demo import demo
from tests.engine.situations import shipped
from tests.pages.desk_samples import pack_work
from tests.pages.reading import Document
from tests.records_made import UID, full_record
from tests.sample_packs import WALL

# What issue 5 calls the usual defects found at surveys, one name each here; the plate with the ID comes from design.
USUAL = [
    "plate-missing",
    "layers-wrong",
    "gap-out",
    "dry-blocks",
    "cable-at-an-angle",
    "halves-damaged",
    "systems-mixed",
    "two-cables-in-a-bore",
    "foreign-sealant",
    "plug-missing",
    "paint-inside",
    "not-closed",
    "far-side-unseen",
    "cable-not-registered",
    "insulation-missing",
    "jacket-cut",
    "certificate-wrong",
    "nameplate-missing",
]


@pytest.fixture(scope="module")
def work() -> WorkPack:
    return demo()


# -- defects


def test_the_usual_defects_are_there_and_nothing_is_named_twice() -> None:
    assert [rule.id for rule in shipped().defects] == USUAL


@pytest.mark.parametrize("name", USUAL)
def test_a_defect_names_steps_and_computations_that_exist(name: str) -> None:
    (rule,) = (rule for rule in shipped().defects if rule.id == name)
    known = {step.id for step in shipped().steps}
    assert rule.steps and set(rule.steps) <= known
    order = [step.id for step in shipped().steps]
    for judge in rule.computed:
        module, function = judge.by.rsplit(".", 1)
        assert callable(getattr(import_module(f"generator.{module}"), function)), judge.by
    assert rule.source
    phases = [phase.id for phase in shipped().phases]
    when = [phases.index(shipped().steps[order.index(step)].phase) for step in rule.steps]
    assert when == sorted(when), f"{name}: the steps stand in the order of the work"


def test_every_step_that_catches_a_defect_really_stands_on_the_page_it_leads_to(work: WorkPack) -> None:
    pages = Pages(work, "en")
    seen: dict[str, str] = {}
    defects = list_defects(work)
    assert [defect.rule.id for defect in defects] == USUAL
    for defect in defects:
        assert defect.steps, defect.rule.id
        for step in defect.steps:
            assert step.at, f"{defect.rule.id}: no transit of the demo has it"
            transit, number = step.at
            html = seen.setdefault(transit, pages.transit(transit))
            assert f'id="step-{number}"' in html
            (real,) = (one for one in work.transits[transit].steps if one.number == number)
            assert real.rule in defect.rule.steps
            assert str(real.title.text) == step.title.text


def test_the_table_of_defects_links_each_step(work: WorkPack) -> None:
    page = Document(str(Quality(work, Words("en")).job()))
    entries = page.all("article", "defect-entry")
    assert [entry.attributes["id"].removeprefix("defect-") for entry in entries] == USUAL
    for entry in entries:
        links = [item.attributes["href"] for item in entry.inside if item.name == "a"]
        assert links and all(re.fullmatch(r"\.\./T/[A-Z0-9-]+/index\.html#step-\d+", link) for link in links)
    caught = {entry.attributes["id"]: entry.text for entry in entries}
    assert "engine.check.check_layout" in caught["defect-plate-missing"]
    assert "only eyes find it" in caught["defect-jacket-cut"]


# -- points


def test_a_welded_frame_has_the_hold_points_of_the_design(work: WorkPack) -> None:
    # By hand, from design 4.8: approvals and both sides, position, the weld, the frame, tags, packed, closed; and
    # what this wall and job add (structural, insulated, rules for hot work: a watch after each kind of it). The count before closing stands between tags and closed.
    holds = [step.rule for step in work.transits["B2-017"].steps if step.kind == "hold"]
    assert holds == [
        "permits", "permit-hot", "hot-rules", "structure-approval", "compare", "both-sides", "position",
        "watch-cut-named", "fire-watch-named", "weld-look", "weld-repair-named",
        "frame-ready", "tags", "packed", "closed", "insulation-back",
    ]  # fmt: skip
    points = points_of(work.transits["B2-017"])
    assert [point.number for point in points if point.kind == "hold"] == [
        step.number for step in work.transits["B2-017"].steps if step.kind == "hold"
    ]


def test_counts_before_closing_stand_in_the_plan_as_they_were_counted_by_hand(work: WorkPack) -> None:
    # Counted by hand on the approved picture b2-017-a4: rows 1 to 3 hold 5, 6 and 8 blocks; 1.5, 2.6 and 3.6 to 3.8
    # are spares; a plate lies on each row, one of them under the clamping unit.
    (packed,) = (p for p in points_of(work.transits["B2-017"]) if "is packed" in p.title.text)
    said = [str(read) for read in packed.reads]
    assert said[:5] == [
        "rows: 3",
        "row plates: 3",
        "blocks in two halves, spares included: 19",
        "of these spares, plug in: 5",
        "fillers: 0",
    ]
    assert said[5:7] == ["photo from Pump hall", "photo from Cable cellar"]


def test_the_plan_has_what_the_issue_asks_for_at_every_transit(work: WorkPack) -> None:
    for pack in work.transits.values():
        rules = {step.rule for step in pack.steps if belongs(step)}
        assert {"plates", "photos", "closed", "tags", "both-sides", "permits"} <= rules
        assert {"packed", "packed-seal"} & rules
        if "closing:yes" in pack.facts:
            assert {"protrusion", "torque"} & rules
            again = {"protrusion-again", "torque-again", "protrusion-later", "torque-later"}
            assert again & rules, f"{pack.id}: bolts are read a second time"
        # The job says how it is tested, so no step asks for the plan.
        assert ("test-water-plan" in rules) == ("demand:water" in pack.facts) and "test-water" not in rules
        assert ("test-gas-plan" in rules) == ("demand:gas" in pack.facts) and "test-gas" not in rules


def test_conditions_decide(work: WorkPack) -> None:
    # By hand: a split seal in a wall that is cut now has no bay to count and no weld to examine; the frame in halves
    # round cables that are there, in an opening that is there, has nothing to approve before a cut.
    rules = {
        name: {step.rule for step in work.transits[name].steps if belongs(step)} for name in ("B2-022", "B4-036")
    }
    assert {"position", "packed-seal", "torque-again", "insulation-back"} <= rules["B2-022"]
    assert not {"packed", "weld-look", "frame-ready", "permit-hot"} & rules["B2-022"]
    assert {"position-existing", "frame-ready-cables", "packed", "test-gas-plan"} <= rules["B4-036"]
    assert (
        not {"position", "structure-approval", "packed-seal", "test-water-plan", "insulation-back"} & rules["B4-036"]
    )
    where = {point.rule.id: point.transits for point in job_points(work)}
    assert "B2-022" in where["packed-seal"] and "B2-022" not in where["packed"]


def test_a_job_without_a_layout_has_no_plan_and_still_shows_the_defects() -> None:
    bare = pack_work({}, {"W3": WALL}, problems=()).model_copy(update={"procedure": shipped()})
    page = Document(str(Quality(bare, Words("en")).job()))
    assert "No transit has a layout" in page.text
    entries = page.all("article", "defect-entry")
    assert len(entries) == len(USUAL)
    assert all("at no transit of this job" in entry.text and "{" not in entry.text for entry in entries)
    assert "No transit passes this wall." in Document(str(Quality(bare, Words("en")).wall("W3"))).text


def test_measured_types_are_one_line_and_bolts_stay_one_each(work: WorkPack) -> None:
    pack = work.transits["B2-017"]
    of_types = [step.number for step in pack.steps if step.is_of_type and step.kind == "measure"]
    (line,) = (point for point in points_of(pack) if point.many > 1)
    assert (line.number, line.last, line.many) == (of_types[0], of_types[-1], len(of_types))
    bolts = pack.catalogue.clamping_units[pack.layout.bays[0].unit.part].tightening.bolts  # type: ignore[union-attr]
    (again,) = (p for p in points_of(pack) if "every bolt again" in p.title.text)
    assert sum("second reading" in read.text for read in again.reads) == bolts


def test_a_wall_has_a_section_for_every_transit_with_a_row_for_every_point(work: WorkPack) -> None:
    quality = Quality(work, Words("en"))
    for wall_id in work.definition.walls:
        page = Document(str(quality.wall(wall_id)))
        sections = {section.attributes["id"]: section for section in page.all("section", "plan")}
        assert list(sections) == [pack.id for pack in work.on_wall(wall_id)]
        for pack in work.on_wall(wall_id):
            rows = [row for row in sections[pack.id].inside if row.name == "tr" and not row.classes & {"on-paper"}]
            assert len(rows) - 1 == len(points_of(pack)) > 10
    assert addresses.quality_section("W3", "B2-017") == "W/W3/quality.html#B2-017"


# -- what records say


def recorded(work: WorkPack, *changes: dict[str, Any]) -> WorkPack:
    """Return the demo with a record of B2-017 for each of ``changes``, as planned but for them."""
    pack = work.transits["B2-017"]
    kept = []
    for number, change in enumerate(changes):
        fields = {**full_record(pack), "record": UID[:-1] + str(number), **change}
        record = VERSIONS[1].model_validate(fields)
        name = str(number) * 64
        kept.append(KeptRecord(transit=pack.id, format=1, digest=name, file=f"records/{name}.zip", record=record))
    return work.model_copy(update={"as_built": {pack.id: as_built(pack, {}, kept)}})


def said_at(work: WorkPack, rule: str) -> str:
    """Return the last cell of the row of a point of B2-017, as its wall's plan shows it."""
    (number,) = (step.number for step in work.transits["B2-017"].steps if step.rule == rule)
    page = Document(str(Quality(work, Words("en")).wall("W3")))
    (section,) = (one for one in page.all("section", "plan") if one.attributes["id"] == "B2-017")
    (row,) = (
        item
        for item in section.inside
        if item.name == "tr" and any(a.attributes.get("href", "").endswith(f"#step-{number}") for a in item.inside)
    )
    (cell,) = (item for item in row.inside if item.name == "td" and "sign-here" in item.classes)
    return " ".join(cell.text.split())


def entry(**fields: Any) -> dict[str, Any]:
    return {"done": True, "at": "2031-05-14T09:30:00+01:00", "by": "qa", **fields}


def test_the_plan_shows_who_released_a_hold_and_when(work: WorkPack) -> None:
    values = [{"read": line, "value": "Noor Haddad"} for line in (1, 2)]
    here = recorded(work, {"steps": {"closed": entry(note="Entered by Ada Pegg", values=values)}})
    assert said_at(here, "closed").startswith(
        "released Noor Haddad, quality inspector 2031-05-14 09:30:00+01:00 checked from Pump hall by: Noor Haddad"
    )
    assert said_at(here, "closed").endswith("Entered by Ada Pegg")
    assert said_at(here, "packed") == "left free to sign"
    assert said_at(work, "closed") == "left free to sign"
    unnamed = {"steps": {"closed": {"done": True}}}
    assert said_at(recorded(work, unnamed), "closed") == (
        "released no name was given no time was given Not entered at step 84"
        " checked from Pump hall by; checked from Cable cellar by; name of who released it"
    )


def test_the_plan_says_what_a_measuring_point_lacks(work: WorkPack) -> None:
    """B2-017 has two closing bolts: the record has the first reading of both and the second of none."""
    bolts = [{"of": "closing", "bay": 1, "bolt": bolt, "protrusion": "15"} for bolt in (1, 2)]
    here = recorded(work, {"bolts": bolts})
    assert said_at(here, "protrusion") == "left free to sign"
    assert said_at(here, "protrusion-again") == (
        "Not entered at step 83 second reading, thread past the nut, bolt 1: 14–16 mm;"
        " second reading, thread past the nut, bolt 2: 14–16 mm"
    )
    other = recorded(work, {"bolts": bolts, "work": "e" * 64})
    assert said_at(other, "protrusion-again") == "left free to sign"  # what other work asks for is not told here


def test_a_witness_is_named_as_they_were_written_down(work: WorkPack) -> None:
    (step,) = (step for step in work.transits["B2-017"].steps if step.rule == "test-water-plan")
    (line,) = (number for number, read in enumerate(step.reads, 1) if read.text == "witnessed by")
    values = [{"read": line, "value": "Ivo Marsh"}, {"read": 1, "value": "0.5 bar"}]
    here = recorded(work, {"steps": {step.key: entry(by="f2", values=values)}})
    assert said_at(here, "test-water-plan") == (
        "witnessed Ada Pegg, fitter 2031-05-14 09:30:00+01:00 witnessed by: Ivo Marsh"
    )


def test_what_is_not_done_releases_nothing(work: WorkPack) -> None:
    # The phone makes an entry that is not done as soon as a figure is written down: that says nothing yet.
    begun = {"closed": entry(done=False), "packed.1": entry(done=False, reason="rain came in")}
    here = recorded(work, {"steps": begun})
    assert said_at(here, "closed") == "left free to sign"
    assert said_at(here, "packed").startswith("not released Noor Haddad, quality inspector")
    assert said_at(here, "packed").endswith("Reason: rain came in")


def test_two_records_stand_side_by_side_and_one_of_other_work_says_so(work: WorkPack) -> None:
    first = {"steps": {"closed": entry()}}
    other = {"steps": {"closed": entry(by="own")}, "work": "e" * 64, "revision": "A"}
    said = said_at(recorded(work, first, other), "closed")
    assert "released Noor Haddad" in said and "released Ivo Marsh, owner" in said
    assert said.count("recorded against revision A, not this work") == 1


def test_released_holds_are_counted_by_wall(work: WorkPack) -> None:
    """Three holds with an entry: one released, one left out by a second phone, one of other work; so one counts."""

    def counted(*changes: dict[str, Any]) -> list[str]:
        page = Document(str(Quality(recorded(work, *changes), Words("en")).job()))
        (table,) = page.all("table", "list")
        rows = [[c.text for c in row.inside if c.name in ("th", "td")] for row in table.inside if row.name == "tr"]
        assert rows[0][-1] == "Holds released"
        return [row[-1] for row in rows[1:] if row[0] == "W3"]

    first = {"steps": {"closed": entry(), "packed.1": entry()}}
    second = {"steps": {"packed.1": entry(done=False, reason="a plug was missing")}}
    other = {"steps": {"tags": entry()}, "work": "e" * 64}
    assert counted(first, second, other) == ["1"]
    everything = sum(step.kind == "hold" for step in work.transits["B2-017"].steps)
    assert counted({}) == [str(everything)] == ["16"]
    assert "Holds released" not in str(Quality(work, Words("en")).job())


def test_what_a_record_says_is_text_and_nothing_else(work: WorkPack) -> None:
    nasty = "</bdi><script>alert(1)</script>{at}"
    change = {
        "people": {"qa": {"name": nasty, "role": nasty}},
        "steps": {"closed": entry(note=nasty), "packed.1": entry(done=False, reason=nasty)},
    }
    bare: dict[str, Any] = {key: [] for key in ("measured", "rows", "counts", "photos", "bolts", "tests")}
    html = str(Quality(recorded(work, {**bare, **change}), Words("en")).wall("W3"))
    assert "<script" not in html
    assert html.count("&lt;/bdi&gt;&lt;script&gt;alert(1)&lt;/script&gt;") == 6
