"""The work digest tells work from words: both ways, for every field there is and for files as people write them.

Outside judge of the hash itself: ``hashlib`` on bytes spelled out here by hand. That the same work keeps its
digest has no judge but the definition of "same" in the module's docstring, field by field.
"""

import csv
import hashlib
import random
import re
from collections.abc import Callable, Iterator
from datetime import date
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any, get_args

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from generator.engine.digest import COUNTED, LEFT_OUT, canonical_work, parts_in_use, thousandths, work_digest
from generator.model.canonical import canonical
from generator.model.pack import TransitPack, Work
from generator.model.procedure import Message
from generator.pages.starter import write_starter
from generator.workpack import load
from tests.demo import demo as whole_demo

READ_WHOLE = {"Message"}  # words and figures: the digest takes the figures, one by one


@cache
def demo() -> dict[str, TransitPack]:
    """Return the transits of the demo, each with what it uses of the catalogue."""
    packs = whole_demo().transits
    return {name: pack.model_copy(update={"catalogue": parts_in_use(pack)}) for name, pack in packs.items()}


def test_parts_that_are_not_in_it_are_no_work() -> None:
    for name, pack in whole_demo().transits.items():
        assert work_digest(pack) == work_digest(demo()[name])


# -- every field ------------------------------------------------------------------------------------


def reachable(model: type[BaseModel]) -> set[type[BaseModel]]:
    found: set[type[BaseModel]] = set()
    waiting = [model]
    while waiting:
        kind = waiting.pop()
        if kind in found:
            continue
        found.add(kind)
        for field in kind.model_fields.values():
            pending = [field.annotation]
            while pending:
                part = pending.pop()
                if isinstance(part, type) and issubclass(part, BaseModel):
                    waiting.append(part)
                pending += get_args(part)
    return found


NOT_READ = {
    "Spare",
    "Placeholder",
    "Certificate",
    "NoFit",
    "Phase",
    "Bring",
    "KeepOut",
    "Room",
    "Reach",
    "Kept",
    "Shared",
    "Apart",
    "BayClosing",
    "Bolts",
    "GapSum",
    "Cover",
    "Thickness",
    "Comparison",
    "ComparedLine",
    "Trial",
}


def test_every_field_of_every_model_is_decided() -> None:
    whole = {Work}
    undecided = []
    for model in reachable(Work) - whole:
        if model.__name__ in READ_WHOLE:
            continue
        counted, left = set(COUNTED.get(model, ())), set(LEFT_OUT.get(model, ()))
        if model not in COUNTED:
            # Not read at all: the models of what was asked for and came to nothing, and of what is listed.
            assert model.__name__ in NOT_READ, model
            continue
        assert not counted & left, model
        undecided += [f"{model.__name__}.{name}" for name in set(model.model_fields) ^ (counted | left)]
    assert undecided == []


Path_ = tuple[str | int, ...]


def models_in(value: Any, path: Path_ = ()) -> Iterator[tuple[Path_, BaseModel]]:
    if isinstance(value, BaseModel):
        yield path, value
        for name in type(value).model_fields:
            yield from models_in(getattr(value, name), (*path, name))
    elif isinstance(value, tuple):
        for index, item in enumerate(value):
            yield from models_in(item, (*path, index))
    elif isinstance(value, dict):
        for key, item in value.items():
            yield from models_in(item, (*path, key))


def put(value: Any, path: Path_, new: Any) -> Any:
    if not path:
        return new
    step, rest = path[0], path[1:]
    if isinstance(value, BaseModel):
        return value.model_copy(update={str(step): put(getattr(value, str(step)), rest, new)})
    if isinstance(value, dict):
        return {**value, step: put(value[step], rest, new)}
    items = list(value)
    items[int(step)] = put(items[int(step)], rest, new)
    return tuple(items)


def other(value: Any) -> Any:
    """Return another value of the kind of ``value``; None where there is none of a kind that is known."""
    if isinstance(value, bool):
        return not value
    if isinstance(value, Decimal):
        return value + Decimal("0.001")
    if isinstance(value, int):
        return value + 1
    if isinstance(value, str):
        return value + "x"
    if isinstance(value, date):
        return date(2040, 1, 1)
    if isinstance(value, Message):
        return value.model_copy(update={"text": value.text + "x"})
    if isinstance(value, tuple) and value and isinstance(value[0], str):
        return (*value[:-1], f"{value[-1]}x")
    if isinstance(value, tuple) and value and not isinstance(value[0], str):
        return value[:-1]
    return None


def mutations(table: dict[type[BaseModel], tuple[str, ...]]) -> Iterator[tuple[str, str, Path_, Any]]:
    """For each model and field one place in the demo where it stands, and another value for it."""
    seen = set()
    for pack in demo().values():
        for path, model in models_in(pack):
            if path and path[0] in ("job", "fits", "bring", "phases", "problems", "cautions"):
                continue
            if "certificate" in path:  # no certificate is work; what it shares with the wall's demands is tried there
                continue
            for name in table.get(type(model), ()):
                value = other(getattr(model, name))
                if (type(model), name) not in seen and value is not None:
                    seen.add((type(model), name))
                    yield f"{type(model).__name__}.{name}", pack.id, (*path, name), value


@cache
def digest_of_demo(transit: str) -> str:
    return work_digest(demo()[transit])


def test_a_change_that_matters_is_another_work() -> None:
    """Every counted field that the demo has a value for, changed by itself."""
    same = [
        name
        for name, transit, path, value in mutations(COUNTED)
        if work_digest(put(demo()[transit], path, value)) == digest_of_demo(transit)
    ]
    assert same == []


def test_words_are_no_work() -> None:
    """Every field that is left out, changed by itself; values to write down and cautions are counted, not read."""
    wrong = []
    for name, transit, path, value in mutations(LEFT_OUT):
        pack = demo()[transit]
        if name == "Step.tools":  # a tool without a figure is words
            worded = next(step for step in pack.steps if step.tools and not step.tools[-1].values)
            path, value = ("steps", pack.steps.index(worded), "tools"), worded.tools[:-1]
        is_same = work_digest(put(pack, path, value)) == digest_of_demo(transit)
        # One value less to write down, one caution less: another work.
        if is_same == (name in {"Step.reads", "Step.cautions"}):
            wrong.append(name)
    assert wrong == []


def test_most_fields_were_tried() -> None:
    tried = {case[0] for case in mutations(COUNTED)}
    fields = {f"{model.__name__}.{name}" for model, names in COUNTED.items() for name in names}
    # What the demo has no value for: listed, so that it can't grow unseen.
    assert fields - tried <= {
        "Wall.landmarks", "Wall.datum", "Wall.demands", "Transit.at", "Transit.split_seal", "Transit.conditions",
        "Catalogue.blocks", "Catalogue.fillers", "Catalogue.row_plates", "Catalogue.clamping_units",
        "Catalogue.frames", "Catalogue.sleeves", "Catalogue.split_seals", "Catalogue.consumables",
        "PeelLayers.gap", "PeelRow.gap", "Block.layers", "Block.table", "SplitSeal.layers", "SplitSeal.table",
        "ClampingUnit.tightening", "ClampingUnit.travel", "Travel.pressing", "Tightening.protrusion", "Fixing.opening", "Fixing.plate", "Fixing.weld",
        "Fixing.tightening", "Frame.fixings", "Sleeve.opening", "Sleeve.plate", "Sleeve.tightening",
        "SplitSeal.fixings", "Fit.window", "Fit.likely", "DiameterRow.peel", "DiameterTable.window",
        "Placement.fit", "Bore.fit", "BayLayout.unit", "SealLayout.fit", "NoLayout.kind",
        "PeelRow.least", "PeelRow.most", "PeelRow.a", "PeelRow.b",
        "Demands.water_bar", "Demands.l_rating", "Wall.insulation", "Transit.authority_accepts", "Frame.split", "Frame.row", "Fixing.flange", "Fixing.setting", "Setting.joint",
    }  # fmt: skip


@pytest.mark.parametrize("transit", ["B2-017", "B2-022", "D1-001"])
def test_figures_and_steps_count(transit: str) -> None:
    pack = demo()[transit]
    before = work_digest(pack)
    index, step = next((i, s) for i, s in enumerate(pack.steps) if "opening" in s.title.values or s.text.values)
    message = step.text.model_copy(update={"values": {**step.text.values, next(iter(step.text.values)): "999 mm"}})
    assert work_digest(put(pack, ("steps", index, "text"), message)) != before
    assert work_digest(pack.model_copy(update={"steps": pack.steps[1:]})) != before
    swapped = (pack.steps[1], pack.steps[0], *pack.steps[2:])
    assert work_digest(pack.model_copy(update={"steps": swapped})) != before


def test_order_of_cables_and_of_types_is_no_work() -> None:
    pack = demo()["B2-017"]
    types = [step for step in pack.steps if step.bay is None and "." in step.key]
    start = pack.steps.index(types[0])
    assert pack.steps[start : start + len(types)] == tuple(types)
    names = list(dict.fromkeys(step.key.rpartition(".")[2] for step in types))
    turned = tuple(step for name in reversed(names) for step in types if step.key.endswith(name))
    assert turned != tuple(types)
    steps = (*pack.steps[:start], *turned, *pack.steps[start + len(types) :])
    cables = tuple(reversed(pack.cables))
    assert work_digest(pack.model_copy(update={"steps": steps, "cables": cables})) == work_digest(pack)


# -- the form itself --------------------------------------------------------------------------------


def test_a_length_is_a_whole_number_of_thousandths() -> None:
    assert [thousandths(Decimal(text)) for text in ("8", "8.0", "8.000", "0.001", "-12.5")] == [
        8000, 8000, 8000, 1, -12500,
    ]  # fmt: skip
    with pytest.raises(ValueError, match="between two thousandths"):
        thousandths(Decimal("0.0005"))


def test_canonical_json_is_what_stands_here_by_hand() -> None:
    value = {"b": [Decimal("8.50"), Decimal("0"), 3, True], "a": {"ø": "Ø\n", "none": None}, "d": date(2031, 5, 14)}
    by_hand = '{"a":{"ø":"Ø\\n"},"b":["8.5","0",3,true],"d":"2031-05-14"}'.encode()
    assert canonical(value) == by_hand
    pack = demo()["B2-022"]
    assert work_digest(pack) == hashlib.sha256(canonical(canonical_work(pack))).hexdigest()


# -- files as people write them ---------------------------------------------------------------------

LENGTHS = {"thickness", "x", "y", "width", "height", "bore", "layer", "size", "least", "most", "plus", "minus", "key"}


class Respelled:
    """Writes the files of a job anew: the same job in other words, orders and spellings."""

    def __init__(self, chance: random.Random) -> None:
        self.chance = chance

    def number(self, text: str) -> str:
        return text + self.chance.choice(["", ".0", ".00", ".000"]) if re.fullmatch(r"[0-9]+", text) else text

    def node(self, value: Any, key: str = "") -> Any:
        if isinstance(value, dict):
            items = list(value.items())
            if key not in ("placeholders",):  # their order is the order of the schedule: it can move blocks
                self.chance.shuffle(items)
            return {name: self.node(item, name) for name, item in items}
        if isinstance(value, list):
            return [self.node(item, key) for item in value]
        return self.number(value) if key in LENGTHS else value

    def ending(self, text: str) -> bytes:
        text = self.chance.choice(["", "\ufeff"]) + text
        return text.replace("\n", self.chance.choice(["\n", "\r\n"])).encode()

    def yaml(self, path: Path, change: Callable[[Any], None] = lambda data: None) -> None:
        data = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
        change(data)
        text = yaml.safe_dump(
            self.node(data),
            sort_keys=False,
            allow_unicode=True,
            width=self.chance.choice([40, 200]),
            default_style=self.chance.choice([None, '"']),
        )
        path.write_bytes(self.ending(self.chance.choice(["", "# a remark\n"]) + text))

    def csv(self, path: Path) -> None:
        rows = list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))
        names = list(rows[0])
        self.chance.shuffle(names)
        lines = [",".join(names)]
        for row in rows:
            row = {k: self.number(v) if k.endswith("_mm") and v else v for k, v in row.items()}
            row["note"] = self.chance.choice(["", "keep clear"])
            lines.append(",".join(f'"{row[name]}"' if self.chance.random() < 0.3 else row[name] for name in names))
        path.write_bytes(self.ending("\n".join(lines) + "\n"))


def words_of(transit: dict[str, str], chance: random.Random) -> None:
    transit["note"] = chance.choice(["Another note.", "Noch eine."])
    transit["tag"] = chance.choice(["Feed", "Speisung"])
    transit["day"] = "2031-06-01"


@given(seed=st.integers(0, 2**32))
@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_same_work_in_other_files(tmp_path_factory: pytest.TempPathFactory, seed: int) -> None:
    job = tmp_path_factory.mktemp("job") / "harbour"
    write_starter(job)
    before = {name: work_digest(pack) for name, pack in load(job).transits.items()}
    chance = random.Random(seed)
    spelled = Respelled(chance)

    def rename(data: Any) -> None:
        data["job"].update(name="Hafen", number="0815", client="Jemand", languages=["de", "en"], note="Anders.")
        data["job"]["catalogues"] = ["renamed"]

    def reword(data: Any) -> None:
        for transit in data["transits"].values():
            words_of(transit, chance)
            transit.pop("catalogue", None)

    spelled.yaml(job / "job.yaml", rename)
    (job / "catalogues" / "sedge.yaml").rename(job / "catalogues" / "renamed.yaml")
    spelled.yaml(job / "catalogues" / "renamed.yaml", lambda data: data["catalogue"].update(source="Elsewhere."))
    spelled.yaml(job / "walls.yaml", lambda data: [w.update(name="Wand", area="X") for w in data["walls"].values()])
    spelled.yaml(job / "transits.yaml", reword)
    spelled.csv(job / "cables.csv")
    if chance.random() < 0.5:  # a file for each transit instead of one for all
        whole = yaml.load((job / "transits.yaml").read_text(encoding="utf-8-sig"), Loader=yaml.BaseLoader)
        (job / "transits.yaml").unlink()
        (job / "transits").mkdir()
        for name, transit in whole["transits"].items():
            path = job / "transits" / f"{chance.randrange(10**6)}-{name}.yaml"
            path.write_text(yaml.safe_dump({"transits": {name: transit}}), encoding="utf-8")
    (job / "procedure.yaml").unlink(missing_ok=True)
    assert {name: work_digest(pack) for name, pack in load(job).transits.items()} == before
