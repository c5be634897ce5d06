"""Issued work stays: pins are written once, chains are one line, and the definition only says what it would give."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from generator.cli import main
from generator.errors import WorkPackError
from generator.issue import issue
from generator.keep import Held, holding, keep, points_of_all
from generator.model.canonical import canonical, digest_of_plain
from generator.model.issued import find_edit
from generator.pages.publish import build_site
from generator.pages.starter import write_starter
from generator.source.pins import read_pins
from generator.workpack import load

ROOT = Path(__file__).parents[1]


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "harbour"
    write_starter(folder)
    return folder


def change(job: Path, file: str, old: str, new: str) -> None:
    text = (job / file).read_text(encoding="utf-8")
    assert old in text
    (job / file).write_text(text.replace(old, new, 1), encoding="utf-8")


THICKER = ("cables.csv", "D4,8.0,0.2", "D4,9.5,0.2")


def test_what_is_issued_does_not_move_and_the_definition_says_what_it_would_give(job: Path) -> None:
    done = issue(job, [], "A")
    assert [item.id for item in done.issued] == ["A1-001", "A1-002"]
    before = load(job).transits["A1-001"]
    assert before.revision == "A" and before.standing and before.standing.now == ()
    change(job, *THICKER)
    change(job, "transits.yaml", "day: 2031-04-07", "day: 2031-04-09\n    note: Mind the new handrail.")
    after = load(job)
    pack = after.transits["A1-001"]
    assert (pack.layout, pack.fits, pack.tables, pack.steps) == (
        before.layout,
        before.fits,
        before.tables,
        before.steps,
    )
    assert pack.transit.note == "Mind the new handrail."  # words are of today: they move nothing
    assert pack.standing
    told = [str(item.says) for item in pack.standing.now]
    assert "D-001 measures 9.5 (9.3–9.7) mm, it was 8 (7.8–8.2) mm" in told
    assert any("A1-001 is issued as A; the definition has changed since" in p.what for p in after.problems)
    assert after.transits["A1-002"].standing and after.transits["A1-002"].standing.now == ()


def test_only_what_changed_is_issued_again(job: Path) -> None:
    issue(job, [], "A")
    change(job, *THICKER)
    pin = (job / "issued/A1-002/A.json").read_bytes()
    done = issue(job, [], "B")
    assert [(item.id, item.replaces, item.wall) for item in done.issued] == [("A1-001", "A", "W1")]
    assert done.unchanged == (("A1-002", "A"),)
    assert not (job / "issued/A1-002/B.json").exists() and (job / "issued/A1-002/A.json").read_bytes() == pin
    work = load(job)
    assert work.transits["A1-001"].revision == "B"
    (old,) = work.superseded["A1-001"]
    assert old.revision == "A" and old.later[0][0] == "B" and old.later[0][1]
    again = issue(job, [], "C")
    assert again.issued == () and len(again.unchanged) == 2


OWN_STEP = """\
steps:
  - id: ask-for-the-key
    phase: prepare
    after: permits
    kind: do
    party: crew
    title: Fetch the key
    text: The gate keeper has it.
"""


def test_other_words_for_the_same_work_are_told_and_issued_when_asked(job: Path, tmp_path: Path) -> None:
    (job / "procedure.yaml").write_text(OWN_STEP, encoding="utf-8")
    issue(job, [], "A")
    plain = issue(job, [], "B")
    assert (plain.issued, plain.words) == ((), ()) and len(plain.unchanged) == 2
    change(job, "procedure.yaml", "The gate keeper has it.", "Ask the porter at the east gate.")
    kept = issue(job, [], "B")
    assert (kept.issued, kept.words) == ((), ("A1-001", "A1-002"))
    work = load(job)
    told = ["The work is the same: only words have changed", "Other words in the step: Fetch the key"]
    for pack in work.transits.values():
        assert pack.standing and pack.standing.now == () and pack.revision == "A"
        assert [str(item.says) for item in pack.standing.words] == told
        assert any("The gate keeper has it." in str(step.text) for step in pack.steps)  # crews read what was issued
    assert work.problems == ()
    again = issue(job, ["A1-001"], "B", words=True)
    (item,) = again.issued
    assert (item.replaces, [str(one.says) for one in item.changes]) == ("A", told)
    assert issue(job, ["A1-001"], "B", words=True).unchanged == (("A1-001", "B"),)  # given again: nothing to do
    work = load(job)
    first, second = work.transits["A1-001"], work.transits["A1-002"]
    assert first.standing and [str(one.says) for one in first.standing.since] == told and first.standing.words == ()
    assert first.digest == work.superseded["A1-001"][0].pack.digest  # a record made by A is of this very work
    assert [str(one.says) for one in work.superseded["A1-001"][0].later[0][1]] == told
    assert second.revision == "A" and second.standing and second.standing.words
    build_site(job, tmp_path / "site")
    page = (tmp_path / "site/T/A1-002/index.html").read_text(encoding="utf-8")
    assert "The same work would now be said in other words: work by this page" in page
    assert "The work is the same: only words have changed" in (tmp_path / "site/T/A1-001/A/index.html").read_text(
        encoding="utf-8"
    )


def test_the_command_says_where_only_words_have_changed(job: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (job / "procedure.yaml").write_text(OWN_STEP, encoding="utf-8")
    assert main(["issue", str(job), "--rev", "A"]) == 0
    change(job, "procedure.yaml", "The gate keeper has it.", "Ask the porter.")
    capsys.readouterr()
    assert main(["issue", str(job), "--rev", "B"]) == 0
    assert "the same work in other words: A1-001, A1-002; their pages keep the old ones" in capsys.readouterr().out
    assert main(["issue", str(job), "--rev", "B", "--words"]) == 0
    assert "A1-001 (A by B)" in capsys.readouterr().out


def test_a_pin_is_canonical_and_says_all(job: Path) -> None:
    issue(job, ["A1-001"], "A")
    data = (job / "issued/A1-001/A.json").read_bytes()
    fields = json.loads(data)
    assert data == canonical(fields) + b"\n"
    assert fields["digest"] == digest_of_plain({k: v for k, v in fields.items() if k != "digest"})
    assert set(fields) == {
        "format", "job", "id", "revision", "made_by", "work_digest", "instrument", "readings", "work", "marks", "digest",
    }  # fmt: skip
    issue(job, [], "A2")
    change(job, *THICKER)
    issue(job, ["A1-001"], "B")
    second = json.loads((job / "issued/A1-001/B.json").read_bytes())
    assert second["replaces"] == {"revision": "A", "digest": fields["digest"]}


def edited(job: Path) -> None:
    change(job, "issued/A1-001/A.json", '"id":"A1-001"', '"id":"A1-002"')


def find_in(text: str, path: tuple[int | str, ...]) -> int:
    """Return where a value begins in canonical JSON, by decoding what stands before it: none of the program's code."""
    decode = json.JSONDecoder().raw_decode
    here = 0
    for step in path:
        here += 1  # the bracket
        for count in range(10_000):
            key: object = count
            if isinstance(step, str):
                key, here = decode(text, here)
                here += 1  # the colon
            if key == step:
                break
            here = decode(text, here)[1] + 1  # the value and its comma
    return here


def values_of(value: object, path: tuple[int | str, ...] = ()) -> Iterator[tuple[int | str, ...]]:
    if isinstance(value, dict) and value:
        for key, item in value.items():
            yield from values_of(item, (*path, key))
    elif isinstance(value, list) and value:
        for place, item in enumerate(value):
            yield from values_of(item, (*path, place))
    else:
        yield path


@pytest.fixture(scope="module")
def pinned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pinned") / "harbour"
    write_starter(folder)
    issue(folder, ["A1-002"], "A")
    return folder


@settings(max_examples=40, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_each_single_value_that_is_altered_is_found_where_it_stands(pinned: Path, data: st.DataObject) -> None:
    """Never missed, never pointed at wrongly; a mark of two digits says no place for one edit in 256."""
    path = pinned / "issued/A1-002/A.json"
    good = path.read_bytes()
    text = good.decode("utf-8")
    fields = json.loads(text)
    where = data.draw(st.sampled_from([p for p in values_of(fields) if p[0] not in ("digest", "marks", "format")]))
    start = find_in(text, where)
    old, end = json.JSONDecoder().raw_decode(text, start)
    new = data.draw(
        st.sampled_from([f"{old}x", "", 7, True, None, "12.5", [], f"{old}"[:-1]]).filter(lambda v: v != old)
    )
    spoilt = text[:start] + json.dumps(new, ensure_ascii=False) + text[end:]
    pretty = data.draw(st.booleans())
    try:
        path.write_text(json.dumps(json.loads(spoilt), indent=1) if pretty else spoilt, encoding="utf-8")
        with pytest.raises(WorkPackError) as caught:
            read_pins(pinned, fields["job"], ["A1-002"])
    finally:
        path.write_bytes(good)
    (problem,) = caught.value.problems
    assert problem.what.startswith("the pin was edited")
    if " at /" in problem.what:
        assert problem.what.startswith(f"the pin was edited at /{'/'.join(map(str, where))}, ")
        assert (problem.where.line, problem.where.column) == (1, start + 1) or pretty
        assert not pretty or problem.where.line > 1
    else:
        assert problem.where.line == problem.where.column == 1


def test_nearly_every_edit_has_its_place(pinned: Path) -> None:
    """Of a pin's values, each with an x behind it: 255 of 256 are pointed at, here every eighth is tried."""
    fields = json.loads((pinned / "issued/A1-002/A.json").read_bytes())
    paths = [path for path in values_of(fields) if path[0] not in ("digest", "marks")][::8]
    found = 0
    for path in paths:
        *above, last = path
        holder = fields
        for step in above:
            holder = holder[step]
        old, holder[last] = holder[last], f"{holder[last]}x"
        place = find_edit(fields)
        holder[last] = old
        assert place in (path, ())
        found += place == path
    assert len(paths) > 200 and found > 0.96 * len(paths)


def test_a_pin_without_marks_is_read_as_before(job: Path) -> None:
    issue(job, [], "A")
    path = job / "issued/A1-001/A.json"
    fields = {name: value for name, value in json.loads(path.read_bytes()).items() if name not in ("marks", "digest")}
    path.write_bytes(canonical({**fields, "digest": digest_of_plain(fields)}))
    assert load(job).transits["A1-001"].revision == "A"
    edited(job)
    with pytest.raises(WorkPackError, match="the pin was edited") as caught:
        load(job)
    assert str(caught.value.problems[0].where) == "issued/A1-001/A.json:1:1"


def half_a_character(job: Path) -> None:
    change(job, "issued/A1-001/A.json", '"made_by":"', '"made_by":"\\ud800')


def cut_short(job: Path) -> None:
    path = job / "issued/A1-001/A.json"
    path.write_bytes(path.read_bytes()[:5000])


def two_successors(job: Path) -> None:
    change(job, *THICKER)
    issue(job, ["A1-001"], "B")
    b = (job / "issued/A1-001/B.json").read_bytes()
    (job / "issued/A1-001/B.json").unlink()
    change(job, "cables.csv", "D4,9.5,0.2", "D4,9.9,0.2")
    issue(job, ["A1-001"], "C")
    (job / "issued/A1-001/B.json").write_bytes(b)


def two_contents(job: Path) -> None:
    change(job, *THICKER)
    issue(job, ["A1-001"], "B")
    for name in ("A", "B"):
        (job / f"issued/A1-001/{name}.json").rename(job / f"{name}.kept")
    issue(job, ["A1-001"], "A")
    (job / "B.kept").rename(job / "issued/A1-001/B.json")


def predecessor_gone(job: Path) -> None:
    change(job, *THICKER)
    issue(job, ["A1-001"], "B")
    (job / "issued/A1-001/A.json").unlink()


def two_firsts(job: Path) -> None:
    (job / "issued/A1-001/A.json").rename(job / "A.kept")
    issue(job, ["A1-001"], "B")
    (job / "A.kept").rename(job / "issued/A1-001/A.json")


def wrong_name(job: Path) -> None:
    (job / "issued/A1-001/A.json").rename(job / "issued/A1-001/A (1).json")


def wrong_folder(job: Path) -> None:
    (job / "issued/A1-001/A.json").rename(job / "issued/A1-002/B.json")


def other_job(job: Path) -> None:
    text = (job / "job.yaml").read_text(encoding="utf-8")
    uid = next(line for line in text.splitlines() if "uid:" in line)
    change(job, "job.yaml", uid, "  uid: 00000000-0000-4000-8000-000000000000")


def transit_gone(job: Path) -> None:
    change(job, "transits.yaml", "  A1-002:", "  A1-003:")
    change(job, "cables.csv", "A1-002", "A1-003")


def newer_format(job: Path) -> None:
    path = job / "issued/A1-001/A.json"
    fields = {**json.loads(path.read_bytes()), "format": 2}
    path.write_bytes(canonical(fields))


def no_file(job: Path) -> None:
    (job / "issued/A1-001/notes").mkdir()


SPOILED: list[tuple[Callable[[Path], None], str]] = [
    (edited, "the pin was edited"),
    (half_a_character, "the pin was edited"),
    (cut_short, "broken off"),
    (two_successors, "A1-001 has two revisions, B and C, that both replace A"),
    (two_contents, "A1-001 has two contents of revision A"),
    (predecessor_gone, "A1-001 B replaces A, which is not there"),
    (two_firsts, "A1-001 has two revisions, A and B, that both were issued as its first"),
    (wrong_name, 'has the name "issued/A1-001/A (1).json"'),
    (wrong_folder, 'has the name "issued/A1-002/B.json"'),
    (other_job, "the pin was issued for the job"),
    (transit_gone, "A1-002 was issued as A, and the job has no such transit"),
    (newer_format, 'the pin has the format "2"'),
    (no_file, "is no file"),
]


@pytest.mark.parametrize(("spoil", "says"), SPOILED, ids=[spoil.__name__ for spoil, _ in SPOILED])
def test_what_is_wrong_with_pins_is_a_problem(job: Path, spoil: Callable[[Path], None], says: str) -> None:
    issue(job, [], "A")
    spoil(job)
    with pytest.raises(WorkPackError) as raised:
        load(job)
    found = [problem for problem in raised.value.problems if says in problem.what]
    assert found, str(raised.value)
    assert all(p.why and p.mend and p.where.file.startswith("issued/") for p in found)


@pytest.mark.parametrize(
    ("ids", "revision", "says"),
    [(["A9-999"], "B", "the job has no transit A9-999"), (["A1-001"], "A", "A1-001 was issued as A already")],
)
def test_a_wrong_order_writes_nothing(job: Path, ids: list[str], revision: str, says: str) -> None:
    issue(job, [], "A")
    change(job, *THICKER)
    before = {path: path.read_bytes() for path in (job / "issued").rglob("*.json")}
    with pytest.raises(WorkPackError, match=says):
        issue(job, ids, revision)
    assert {path: path.read_bytes() for path in (job / "issued").rglob("*.json")} == before


def test_without_a_layout_nothing_is_issued_and_what_was_issued_stays(job: Path) -> None:
    issue(job, ["A1-001"], "A")
    change(job, "cables.csv", "D1,31.8,0.3", "D1,131.8,0.3")
    done = issue(job, [], "B")
    assert done.stuck == ("A1-001",)
    work = load(job)
    assert work.transits["A1-001"].can_be_built and work.transits["A1-001"].revision == "A"
    assert any(p.transit == "A1-001" and "is issued as A" in p.what for p in work.problems)


KILLED = """
import os, signal, sys
from pathlib import Path
from generator.issue import issue

job, proof, point = sys.argv[1:]

def at(reached):
    if reached == point:
        Path(proof).write_text(reached, encoding="utf-8")
        os.kill(os.getpid(), signal.SIGKILL)

issue(Path(job), [], "A", at=at)
"""

ALL_POINTS = points_of_all(2)


def killed_at(job: Path, proof: Path, point: str) -> None:
    run = [sys.executable, "-c", KILLED, str(job), str(proof), point]
    done = subprocess.run(run, cwd=ROOT, capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == -signal.SIGKILL and proof.read_text(encoding="utf-8") == point, done.stderr


def pins_of(job: Path) -> dict[str, bytes]:
    return {path.relative_to(job).as_posix(): path.read_bytes() for path in (job / "issued").glob("*/*.json")}


@pytest.mark.parametrize("point", ALL_POINTS)
def test_killed_at_any_point_all_is_issued_or_nothing(job: Path, tmp_path: Path, point: str) -> None:
    """Both pins or none: where it was killed between them nothing is built, and the next order finishes it."""
    killed_at(job, tmp_path / "proof", point)
    reached = ALL_POINTS.index(point)
    ordered, cleared = ALL_POINTS.index("ordered"), ALL_POINTS.index("cleared away")
    if ordered <= reached < cleared:
        with pytest.raises(WorkPackError, match="an order to issue was cut short"):
            load(job)
    else:
        revisions = {pack.revision for pack in load(job).transits.values()}
        assert revisions == ({"A"} if reached >= cleared else {""})
    before = pins_of(job)
    with holding(job / "issued"):
        done = issue(job, [], "A")
    assert bool(done.completed) == (ordered <= reached < cleared)
    assert len(done.issued) == (2 if reached < ordered else 0)
    assert {pack.revision for pack in load(job).transits.values()} == {"A"}
    after = pins_of(job)
    assert sorted(after) == ["issued/A1-001/A.json", "issued/A1-002/A.json"] and before.items() <= after.items()
    assert sorted(path.name for path in (job / "issued").rglob("*") if path.is_file()) == ["A.json", "A.json"]
    assert sorted(path.name for path in (job / "issued").iterdir()) == ["A1-001", "A1-002"]


def test_every_name_is_forced_to_the_disk_before_the_next_step(job: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """After each fsync of a folder all names in it are safe: by the end those of issued/ and of the job are, too."""
    synced: list[Path] = []
    real = os.fsync

    def watched(handle: int) -> None:
        synced.append(Path(f"/proc/self/fd/{handle}").readlink())
        real(handle)

    monkeypatch.setattr(os, "fsync", watched)
    issue(job, [], "A")
    order, issued = job / "issued" / ".order", job / "issued"
    files = [order / name / "A.json" for name in ("A1-001", "A1-002")]
    assert synced[:3] == [job, *files]  # the job has the name issued/, then come the contents
    assert set(synced[3:6]) == {order, order / "A1-001", order / "A1-002"}
    assert synced[6] == issued  # the order counts
    assert synced[7:] == [issued, issued / "A1-001", issued, issued / "A1-002", issued]


def test_an_order_that_was_cut_short_never_overwrites(job: Path, tmp_path: Path) -> None:
    killed_at(job, tmp_path / "proof", "order synced")
    (job / "issued/A1-002").mkdir()
    (job / "issued/A1-002/A.json").write_bytes(b"theirs")
    with pytest.raises(WorkPackError, match=r"holds another A1-002/A\.json"):
        issue(job, [], "A")
    assert (job / "issued/A1-002/A.json").read_bytes() == b"theirs"
    (job / "issued/A1-002/A.json").unlink()
    assert issue(job, [], "A").completed == ("A1-001/A.json", "A1-002/A.json")


def test_keep_never_overwrites_and_one_holds_the_folder(tmp_path: Path) -> None:
    path = tmp_path / "kept" / "one"
    assert keep(path, b"first") and not keep(path, b"second")
    assert path.read_bytes() == b"first"

    def meanwhile(point: str) -> None:
        if point == "before naming":
            other.write_bytes(b"theirs")

    other = tmp_path / "kept" / "two"
    assert not keep(other, b"mine", meanwhile)
    assert other.read_bytes() == b"theirs" and sorted(p.name for p in other.parent.iterdir()) == ["one", "two"]
    with holding(tmp_path / "kept"), pytest.raises(Held), holding(tmp_path / "kept"):
        pass
    assert not (tmp_path / "kept" / ".lock").exists()


@pytest.mark.parametrize("name", ["issued", "records", "issued/A1-001", "records/A1-001"])
def test_no_link_leads_out_of_the_job(job: Path, tmp_path: Path, name: str) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (job / name).parent.mkdir(exist_ok=True)
    (job / name).symlink_to(outside, target_is_directory=True)
    for attempt in (lambda: issue(job, [], "A"), lambda: load(job)):
        with pytest.raises(WorkPackError) as caught:
            attempt()
        assert [problem.what for problem in caught.value.problems] == [
            f"{name} is a link that leads outside the job's folder"
        ]
    assert list(outside.iterdir()) == []
