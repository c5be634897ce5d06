"""Places on a wall. The judge of every distance is shapely; of every finding, arithmetic worked out beside it."""

from decimal import Decimal
from itertools import product
from typing import Any

import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from generator.engine.marking import distance, from_edges, judge_places, mark_out, outline_of, overlap
from generator.engine.marking import outline_of_keep_out as kept
from generator.errors import Finding
from generator.model.catalogue import Catalogue, Opening
from generator.model.job import Definition, KeepOut, Transit, Wall
from generator.model.marking import Outline
from tests import sample_packs

PACK, ROUND, SEAL = sample_packs.welded(), sample_packs.round_frame(), sample_packs.split_seal()
mm = st.decimals(min_value=1, max_value=900, places=1)
place = st.decimals(min_value=-900, max_value=900, places=1)


@st.composite
def outlines(draw: st.DrawFn) -> Outline:
    round_one, wide = draw(st.booleans()), draw(mm)
    return Outline(x=draw(place), y=draw(place), width=wide, height=wide if round_one else draw(mm), round=round_one)


def drawn(outline: Outline) -> shapely.Geometry:
    """Draw an outline with shapely; a circle as 4 x 512 chords, 0.003 mm inside it at a radius of 450."""
    x, y, w, h = (float(v) for v in (outline.x, outline.y, outline.width, outline.height))
    if outline.round:
        return shapely.Point(x, y).buffer(w / 2, quad_segs=512)
    return shapely.box(x - w / 2, y - h / 2, x + w / 2, y + h / 2)


@given(outlines(), outlines())
def test_distances_are_those_of_shapely(one: Outline, other: Outline) -> None:
    judge = drawn(one).distance(drawn(other))
    assert float(distance(one, other)) == pytest.approx(judge, abs=0.01)
    assert distance(one, other) == distance(other, one)


@given(outlines(), outlines())
def test_overlaps_are_those_of_shapely(one: Outline, other: Outline) -> None:
    shared = drawn(one).intersection(drawn(other)).area
    if shared > 5:  # chords take a little off a circle, so a sliver may go either way
        assert overlap(one, other)
    if drawn(one).distance(drawn(other)) > 0.01:
        assert not overlap(one, other)


def test_the_edges_of_an_opening_come_from_its_spot() -> None:
    rectangle = Opening.model_validate({"width": 170, "height": 206, "plus": 2, "minus": 2})
    corner = outline_of(PACK.transit, rectangle)  # at 2300, 2480 to its lower left
    assert (corner.x, corner.y) == (Decimal(2385), Decimal(2583))  # 2300 + 85, 2480 + 103
    hole = Opening.model_validate({"diameter": 68, "plus": 1, "minus": 0})
    spot = SEAL.transit.at  # a corner of the square that a circle fills lies half a diameter from its middle
    centre = outline_of(SEAL.transit.model_copy(update={"at": spot.model_copy(update={"to": "centre"})}), hole)
    assert (centre.x, centre.y, centre.round) == (spot.x, spot.y, True)
    cornered = outline_of(SEAL.transit.model_copy(update={"at": spot.model_copy(update={"to": "lower-left"})}), hole)
    assert (cornered.x, cornered.y) == (spot.x + 34, spot.y + 34)
    assert from_edges(corner, WALL) == {"left": 2300, "right": 7330, "lower": 2480, "upper": 1614}  # 9800 and 4300


WALL = Wall.model_validate({**sample_packs.WALL.model_dump(), "width": 9800, "height": 4300})
FRAME = PACK.transit.frame or ""


def definition(
    spots: dict[str, tuple[int, int]],
    wall: dict[str, Any] | None = None,
    fixing: dict[str, Any] | None = None,
    transit: dict[str, Any] | None = None,
    frame: dict[str, Any] | None = None,
    factors: dict[str, str] | None = None,
) -> Definition:
    """A wall of 9800 x 4300 with welded frames (opening 170 x 206) whose lower left corners are at ``spots``."""
    catalogue = PACK.catalogue.model_dump()
    catalogue["frames"][FRAME].update(frame or {})
    catalogue["frames"][FRAME]["fixings"]["welded"].update(fixing or {})
    asked = {**PACK.transit.model_dump(), **(transit or {}), "wall": "W3", "catalogue": None}
    return Definition(
        job=PACK.job,
        catalogues={PACK.job.catalogues[0]: Catalogue.model_validate(catalogue)},
        walls={"W3": Wall.model_validate({**WALL.model_dump(), **(wall or {})})},
        transits={
            name: Transit.model_validate({**asked, "at": {"x": x, "y": y, "to": "lower-left"}})
            for name, (x, y) in spots.items()
        },
        cables=tuple(
            cable.model_copy(update={"transits": tuple(spots), "bend_factor": Decimal(factor) if factor else None})
            for cable in PACK.cables
            for factor in [(factors or {}).get(cable.tag, "")]
        ),
    )


def said(findings: tuple[Finding, ...], severity: str = "stop") -> list[str]:
    return [finding.what for finding in findings if finding.severity == severity]


def judge(asked: Definition, name: str = "B2-017") -> tuple[Finding, ...]:
    return judge_places("W3", asked)[name]


ONE = {"B2-017": (2300, 2480)}
POST: dict[str, Any] = {"kind": "other", "x": 2590, "y": 0, "width": 80, "height": 4000, "clear": 120}


@pytest.mark.parametrize(("clear", "refused"), [(120, False), (121, True), (0, False)])
def test_a_keep_out_keeps_its_clearance_to_the_millimetre(clear: int, refused: bool) -> None:
    # The opening ends at 2300 + 170 = 2470, the post begins at 2590: 120 apart.
    findings = judge(definition(ONE, {"keep_outs": {"post": {**POST, "clear": clear}}}))
    assert said(findings) == (["the opening of B2-017 is 120 mm from post"] if refused else [])
    if refused:
        assert findings[0].mend == "make its x smaller by 1 mm, or choose another place"
        assert findings[0].why == "post is a keep-out of W3 (other) and keeps 121 mm clear round it"


def test_a_pipe_is_kept_clear_by_the_diagonal() -> None:
    # Corner at 2470, 2686 (2480 + 206). A pipe of 100 whose middle is 90 right and 120 up of it: the diagonal
    # of 90 and 120 is 150, less its radius 50 leaves 100.
    pipe = {"kind": "service", "x": 2560, "y": 2806, "diameter": 100, "clear": 100}
    assert said(judge(definition(ONE, {"keep_outs": {"pipe": pipe}}))) == []
    found = said(judge(definition(ONE, {"keep_outs": {"pipe": {**pipe, "clear": "100.1"}}})))
    assert found == ["the opening of B2-017 is 100 mm from pipe"]


def test_an_opening_in_a_keep_out_says_the_way_out() -> None:
    door = {"kind": "door", "x": 2400, "y": 0, "width": 900, "height": 2500, "clear": 50}
    (found,) = judge(definition(ONE, {"keep_outs": {"door": door}}))
    assert found.what == "the opening of B2-017 reaches into door"
    # Up: the door ends at 2500, 50 more are 2550, the opening begins at 2480: 70. Left: 2470 - 2400 + 50 = 120.
    assert found.mend == "make its y larger by 70 mm, or choose another place"
    moved = {"B2-017": (2300, 2550)}
    assert judge(definition(moved, {"keep_outs": {"door": door}})) == ()
    assert said(judge(definition(ONE, {"keep_outs": {"door": door}}, transit={"existing_opening": True}))) == []


def test_a_frame_must_fit_the_flat_between_stiffeners() -> None:
    # Stiffeners of 12 at 2200 and 2480, 20 clear of each: the flat runs from 2232 to 2460 = 228. The opening, larger
    # than the frame, takes 170.
    def between(right: int) -> dict[str, Any]:
        bar = {"kind": "stiffener", "y": 0, "width": 12, "height": 4300, "clear": 20}
        return {"keep_outs": {"S1": {**bar, "x": 2200}, "S2": {**bar, "x": right}}}

    spot = {"B2-017": (2261, 2480)}  # in the middle of it
    assert judge(definition(spot, between(2480))) == ()
    # The right one at 2410: 2410 - 20 - 2232 = 158 are less than 170.
    (found,) = judge(definition(spot, between(2410)))
    assert found.what == f"{FRAME} of B2-017 takes 170 mm across, and the flat between S1 and S2 has 158 mm"
    assert found.mend == "choose a narrower frame, or a place with a wider flat"
    # A flat that is wide enough, and an opening that stands too far to the right in it.
    (found,) = judge(definition({"B2-017": (2295, 2480)}, between(2480)))
    assert found.what == "the opening of B2-017 is 15 mm from S2"  # 2480 - (2295 + 170)


def test_a_flange_may_not_lie_on_a_weld_seam() -> None:
    # A frame of 226 over an opening of 170 reaches 28 beyond it on each side: from 2272 to 2498.
    seam = {"kind": "weld-seam", "x": 2490, "y": 0, "width": 4, "height": 4300, "clear": 10}
    wide = {
        "width": 226,
        "height": 262,
        "bays": [{**PACK.catalogue.frames[FRAME].bays[0].model_dump(), "x": 41, "y": 41}],
    }
    assert said(judge(definition(ONE, {"keep_outs": {"seam": seam}}))) == []
    (found,) = judge(definition(ONE, {"keep_outs": {"seam": seam}}, frame=wide))
    assert found.what == f"{FRAME} of B2-017 is larger than its opening and lies on seam"
    assert found.mend == "make its x smaller by 8 mm, or choose another place"  # 2498 - 2490


def test_openings_keep_the_distance_that_asks_for_most() -> None:
    two = {"B2-017": (2300, 2480), "B2-018": (2670, 2480)}  # 2670 - 2470 = 200 apart
    assert said(judge(definition(two))) == []
    assert said(judge(definition(two, {"opening_distance": 200}))) == []
    for name, other in (("B2-017", "B2-018"), ("B2-018", "B2-017")):
        (found,) = judge(definition(two, {"opening_distance": 150}, {"opening_distance": 250}), name)
        assert found.what == f"the openings of {name} and {other} are 200 mm apart"
        assert found.why == f"the fixing welded of {name} asks for 250 mm between openings"
        assert found.mend == f"make its x {'smaller' if name < other else 'larger'} by 50 mm, or choose another place"
    (found,) = judge(definition({"B2-017": (2300, 2480), "B2-018": (2400, 2600)}))
    assert found.what == "the openings of B2-017 and B2-018 overlap"


def test_openings_keep_off_the_edges() -> None:
    asked = {"edge_distance": 150}
    assert said(judge(definition({"B2-017": (150, 150)}, asked))) == []
    found = judge(definition({"B2-017": (149, 3980)}, asked))
    # 4300 - (3980 + 206) = 114, 36 short of 150.
    assert said(found) == [
        "the opening of B2-017 is 149 mm from the left edge of W3",
        "the opening of B2-017 is 114 mm from the upper edge of W3",
    ]
    assert [f.mend for f in found] == [
        "make its x larger by 1 mm, or choose another place",
        "make its y smaller by 36 mm, or choose another place",
    ]
    (found_,) = judge(definition({"B2-017": (9700, 2480)}))
    assert found_.what == "the opening of B2-017 reaches 70 mm beyond the right edge of W3"  # 9700 + 170 - 9800
    unknown = {"width": None, "height": None, **asked}
    assert said(judge(definition({"B2-017": (-400, 2480)}, unknown))) == []  # no edge is known


def test_room_on_each_side() -> None:
    reach = {"reach": {"working": 600, "far": 400}}
    side = PACK.transit.working_side
    far = next(room for room in WALL.sides if room != side)
    first = side == WALL.sides[0]

    def room(working: int, far_side: int) -> dict[str, Any]:
        return {
            "room": dict(zip(("first", "second"), (working, far_side) if first else (far_side, working), strict=True))
        }

    assert judge(definition(ONE, room(600, 400), reach)) == ()
    assert judge(definition(ONE, room(10, 10))) == ()  # no fixing that asks
    (found,) = judge(definition(ONE, room(400, 600), reach))
    assert found.what == f"B2-017 has 400 mm of room in {side}, and its fixing needs 600 mm"
    assert found.mend == f"work from {far}, where there is room, if the wall allows it"
    (found,) = judge(definition(ONE, room(600, 390), reach))
    assert found.what == f"B2-017 has 390 mm of room in {far}, and its fixing needs 400 mm"
    assert found.mend == "clear the place, choose another, or choose another fixing"
    assert judge(definition(ONE, room(10, 10), reach, transit=room(600, 400))) == ()  # the place's own rules
    (found,) = judge(definition(ONE, {}, reach))
    assert (found.severity, found.what) == ("look", "nobody has said how much room there is in front of B2-017")


def test_bends_suit_the_stiffest_cable() -> None:
    tags = {cable.tag: cable.most for cable in PACK.cables}
    thick = max(tags, key=lambda tag: tags[tag])
    thin = min(tags, key=lambda tag: tags[tag])
    factors = dict.fromkeys(tags, "4") | {thick: "6"}
    need = 6 * tags[thick]
    assert judge(definition(ONE, transit={"bend": need}, factors=factors)) == ()
    (found,) = judge(definition(ONE, transit={"bend": need - 1}, factors=factors))
    assert found.what == f"{thick} bends to {need - 1:f} mm beside B2-017, and may bend to {need:f} mm"
    # A thin cable that hardly bends is stiffer than a thick one that does.
    stiff = 20 * tags[thin]
    (found,) = judge(definition(ONE, transit={"bend": 1}, factors={**dict.fromkeys(tags, "0.5"), thin: "20"}))
    assert stiff > tags[thick] / 2 and found.what.startswith(f"{thin} bends to 1 mm")
    (found,) = judge(definition(ONE, transit={"bend": 900}, factors={**factors, thin: ""}))
    assert (found.severity, found.what) == (
        "look",
        f"{thin} of B2-017 cannot be held against the bend of 900 mm",
    )


@given(
    st.lists(st.tuples(st.integers(0, 1500), st.integers(0, 900)), min_size=1, max_size=5, unique=True),
    st.lists(outlines(), max_size=4),
    st.integers(0, 300),
    st.integers(0, 300),
)
def test_whatever_is_refused_shapely_refuses_too(
    spots: list[tuple[int, int]], bars: list[Outline], clear: int, between: int
) -> None:
    """Brute force: each opening against each keep-out and each other one, all by shapely."""
    keep_outs: dict[str, Any] = {}
    for number, bar in enumerate(bars):
        size = {"diameter": bar.width} if bar.round else {"width": bar.width, "height": bar.height}
        corner = (bar.x, bar.y) if bar.round else (bar.x - bar.width / 2, bar.y - bar.height / 2)
        keep_outs[f"K{number}"] = {"kind": "other", "x": corner[0], "y": corner[1], "clear": clear, **size}
    names = {f"T{number}": spot for number, spot in enumerate(spots)}
    asked = definition(names, {"keep_outs": keep_outs, "opening_distance": between})
    judged = judge_places("W3", asked)
    holes = {name: shapely.box(x, y, x + 170, y + 206) for name, (x, y) in names.items()}
    doubt = Decimal("0.02")
    for name, findings in judged.items():
        told = " | ".join(finding.what for finding in findings)
        for kept_name, bar in zip(keep_outs, bars, strict=True):
            away = holes[name].distance(drawn(bar))
            if abs(away - clear) > doubt and away > doubt:
                assert (f" {kept_name}" in told) == (away < clear), (told, away)
        for other, hole in holes.items():
            away = holes[name].distance(hole)
            if other != name and away > 0:
                assert (f"{name} and {other} are" in told) == (away < between)


def test_the_nearest_is_named() -> None:
    wall = WALL.model_copy(update={"keep_outs": {"post": KeepOut.model_validate(POST)}})
    near = PACK.model_copy(
        update={
            "id": "B2-018",
            "transit": PACK.transit.model_copy(
                update={"at": PACK.transit.at.model_copy(update={"x": Decimal(2000)})}
            ),
        }
    )
    marks = mark_out(wall, [PACK, near])
    # To the post 2590 - 2470 = 120; to B2-018, from 2000 to 2170: 130.
    assert str(marks["B2-017"].nearest) == "what='keep-out' name='post' distance=Decimal('120')"
    assert str(marks["B2-018"].nearest) == "what='opening' name='B2-017' distance=Decimal('130')"
    alone = mark_out(sample_packs.WALL.model_copy(update={"width": None, "height": None}), [PACK])
    assert alone["B2-017"].nearest is None


def test_a_keep_out_is_where_it_is_written() -> None:
    for x, y in product((-40, 300), (0, 70)):
        box = kept(KeepOut.model_validate({"kind": "door", "x": x, "y": y, "width": 900, "height": 2000, "clear": 0}))
        assert (box.x - box.width / 2, box.y - box.height / 2) == (x, y)
