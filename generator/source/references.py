"""Names that lead from one file to another: walls, parts, fixings, transits."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from generator.errors import Problem
from generator.model.catalogue import Catalogue, Fixing, FixingKind, Frame
from generator.model.job import CHOOSE, Definition, Transit
from generator.model.scalars import format_mm, quoted
from generator.source.explain import Path, phrase, subject_of
from generator.source.lookalikes import Names, did_you_mean, listed, one_of
from generator.source.positions import Map, place_of


@dataclass(frozen=True)
class Sources:
    """What the models were read from: the tops of the files, and the rows of the schedule."""

    job: Map
    walls: Map
    transits: Mapping[str, Map]
    """The top of the file each transit stands in, by its ID."""
    catalogues: Mapping[str, Map]
    rows: Sequence[Map]
    """Rows of the schedule in the order of the definition's cables."""


def check_references(definition: Definition, sources: Sources) -> list[Problem]:
    """Return a Problem for every name that leads nowhere, or to what does not fit there."""
    problems: list[Problem] = []
    for name, catalogue in definition.catalogues.items():
        problems += _Parts(catalogue, sources.catalogues[name]).problems()
    for index, name in enumerate(definition.job.catalogues):
        if name in definition.job.catalogues[:index]:
            problems.append(
                Problem(
                    place_of(sources.job, ("job", "catalogues", index)),
                    f"catalogues names {quoted(name)} twice for the job",
                    "a sealing system is named once",
                    "remove one of the two",
                )
            )
    walls = Names(definition.walls)
    passing: dict[str, list[str]] = {}
    for cable in definition.cables:
        for transit_id in cable.transits:
            passing.setdefault(transit_id, []).append(cable.tag)
    for transit_id in definition.transits:
        problems += _TransitNames(transit_id, definition, sources, walls, passing.get(transit_id, [])).problems()
    problems += _cable_transits(definition, sources)
    return problems


class _Parts:
    """The names by which the parts of a catalogue call for each other."""

    def __init__(self, catalogue: Catalogue, root: Map) -> None:
        self.catalogue = catalogue
        self.root = root

    def problems(self) -> list[Problem]:
        found = []
        for name, frame in self.catalogue.frames.items():
            at: Path = ("catalogue", "frames", name)
            for index, bay in enumerate(frame.bays):
                plate = self.catalogue.row_plates.get(bay.row_plate)
                unit = self.catalogue.clamping_units.get(bay.clamping_unit)
                place = (*at, "bays", index, "row_plate")
                if plate is None:
                    found.append(self._unknown(place, bay.row_plate, "row_plates", "row plate"))
                elif plate.length != bay.width:
                    found.append(self._misfit(place, bay.row_plate, "row plate", "length", plate.length, bay.width))
                place = (*at, "bays", index, "clamping_unit")
                if unit is None:
                    found.append(self._unknown(place, bay.clamping_unit, "clamping_units", "clamping unit"))
                elif unit.width != bay.width:
                    found.append(
                        self._misfit(place, bay.clamping_unit, "clamping unit", "width", unit.width, bay.width)
                    )
            found += self._sleeves(at, frame.fixings)
            found += self._row(at, frame)
        for name, seal in self.catalogue.split_seals.items():
            found += self._sleeves(("catalogue", "split_seals", name), seal.fixings)
        return found

    def _row(self, at: Path, frame: Frame) -> list[Problem]:
        """Hold a row of frames against the frame it is made of: its width, height and bays follow from that."""
        row = frame.row
        if row is None:
            return []
        single = self.catalogue.frames.get(row.frame)
        if single is None:
            return [self._unknown((*at, "row", "frame"), row.frame, "frames", "frame")]
        pitch = single.width + row.joint
        width = row.count * pitch - row.joint
        bays = [
            (bay.x + number * pitch, bay.y, bay.width, bay.height)
            for number in range(row.count)
            for bay in single.bays
        ]
        own = [(bay.x, bay.y, bay.width, bay.height) for bay in frame.bays]
        if (width, single.height) != (frame.width, frame.height) or bays != own:
            said = " ".join(format_mm(x) for x, *_ in bays)
            return [
                Problem(
                    place_of(self.root, (*at, "row")),
                    self._said((*at, "row", "frame"), row.frame),
                    f"{row.count} of them with {_mm(row.joint)} between are {_mm(width)} wide and"
                    f" {_mm(single.height)} high, and their bays begin at {said}",
                    "write these as its width:, height: and bays:, or mend row:",
                )
            ]
        return []

    def _sleeves(self, at: Path, fixings: Mapping[FixingKind, Fixing]) -> list[Problem]:
        return [
            self._unknown((*at, "fixings", kind, "sleeve"), fixing.sleeve, "sleeves", "sleeve")
            for kind, fixing in fixings.items()
            if fixing.sleeve is not None and fixing.sleeve not in self.catalogue.sleeves
        ]

    def _unknown(self, path: Path, part: str, collection: str, noun: str) -> Problem:
        known = getattr(self.catalogue, collection)
        return Problem(
            place_of(self.root, path),
            self._said(path, part),
            f"{collection} of this catalogue holds no such {noun}",
            did_you_mean(part, known, f"write {one_of(known)}" if known else f"add it under {collection}:"),
        )

    def _misfit(self, path: Path, part: str, noun: str, side: str, is_mm: Decimal, bay_mm: Decimal) -> Problem:
        return Problem(
            place_of(self.root, path),
            self._said(path, part),
            f"its {side} is {_mm(is_mm)}, and the bay is {_mm(bay_mm)} wide: a {noun} spans the whole width",
            f"name a {noun} whose {side} is {_mm(bay_mm)}, or mend the figure that is wrong",
        )

    def _said(self, path: Path, part: str) -> str:
        subject, rest = subject_of(self.root, path)
        return f"{phrase(rest)} is {quoted(part)} for {subject}"


class _TransitNames:
    """The names that one transit uses."""

    def __init__(
        self, transit_id: str, definition: Definition, sources: Sources, walls: Names, tags: Sequence[str]
    ) -> None:
        self.id = transit_id
        self.walls = walls
        self.tags = tags
        self.definition = definition
        self.transit: Transit = definition.transits[transit_id]
        self.root = sources.transits[transit_id]
        self.found: list[Problem] = []

    def problems(self) -> list[Problem]:
        transit, definition = self.transit, self.definition
        wall = definition.walls.get(transit.wall)
        if wall is None:
            self._add(
                ("wall",),
                f"wall is {quoted(transit.wall)}",
                "walls.yaml has no such wall",
                self.walls.did_you_mean(transit.wall, f"write {one_of(definition.walls)}"),
            )
        elif transit.working_side not in wall.sides:
            self._add(
                ("working_side",),
                f"working_side is {quoted(transit.working_side)}",
                f"the sides of wall {transit.wall} are {quoted(wall.sides[0])} and {quoted(wall.sides[1])}",
                did_you_mean(transit.working_side, wall.sides, "write one of the two, letter by letter"),
            )
        catalogue = self._catalogue()
        if catalogue:
            self._judge_parts(catalogue)
        self._judge_cables()
        return self.found

    def _add(self, field: Path, what: str, why: str, mend: str) -> None:
        where = place_of(self.root, ("transits", self.id, *field))
        self.found.append(Problem(where, f"{what} for transit {self.id}", why, mend, transit=self.id))

    def _catalogue(self) -> Catalogue | None:
        name, names = self.transit.catalogue, self.definition.job.catalogues
        if name is None and len(set(names)) > 1:
            self._add(
                ("catalogue",),
                "catalogue is missing",
                f"the job has several: {listed(names)}",
                "add catalogue: and one of these",
            )
            return None
        if name is not None and name not in self.definition.catalogues:
            self._add(
                ("catalogue",),
                f"catalogue is {quoted(name)}",
                f"the job names {listed(names)} in job.yaml",
                did_you_mean(name, names, "write one of these, or add it to catalogues: in job.yaml"),
            )
            return None
        return self.definition.catalogue_of(self.transit)

    def _judge_parts(self, catalogue: Catalogue) -> None:
        transit = self.transit
        field, part, known = (
            ("frame", transit.frame, catalogue.frames)
            if transit.frame is not None
            else ("split_seal", transit.split_seal or "", catalogue.split_seals)
        )
        held = known.get(part)
        if held is None and part == CHOOSE and field == "frame":
            if not any(transit.fixing in frame.fixings for frame in catalogue.frames.values()):
                self._add(
                    ("fixing",),
                    f"fixing is {quoted(transit.fixing)}",
                    f"the frame is left to be chosen, and no frame of {catalogue.system} can be held this way",
                    f"write {one_of(sorted({kind for frame in catalogue.frames.values() for kind in frame.fixings}))}"
                    if catalogue.frames
                    else "choose another catalogue",
                )
        elif held is None:
            self._add(
                (field,),
                f"{field} is {quoted(part)}",
                f"the catalogue of {catalogue.system} has no such {field.replace('_', ' ')}",
                did_you_mean(part, known, f"write {one_of(known)}" if known else "choose another catalogue"),
            )
        elif transit.fixing not in held.fixings:
            self._add(
                ("fixing",),
                f"fixing is {quoted(transit.fixing)}",
                f"{part} can be held by {listed(held.fixings)}",
                "write one of these, or choose another part"
                if len(held.fixings) > 1
                else f"write {listed(held.fixings)}, or choose another part",
            )
        sizes = sorted({block.size for block in catalogue.single_blocks.values() if block.plug})
        for index, spare in enumerate(transit.spares):
            if spare.size is not None and spare.size not in sizes:
                self._add(
                    ("spares", index, "size"),
                    f"size in entry {index + 1} of spares is {quoted(format_mm(spare.size))}",
                    f"the catalogue of {catalogue.system} has no block of this size whose plug can stay in",
                    f"write {one_of(map(format_mm, sizes))}" if sizes else "remove the spares",
                )
        self._judge_shared(catalogue)
        if transit.frame in catalogue.frames:
            self._judge_kept(catalogue, catalogue.frames[transit.frame])

    def _judge_shared(self, catalogue: Catalogue) -> None:
        """Hold cables that share a block against the block, the cables that pass, and each other."""
        known = {cable.tag: cable for cable in self.definition.cables if cable.tag in set(self.tags)}
        several = {part: block for part, block in catalogue.blocks.items() if block.several_bores}
        seen: set[str] = set()
        for index, shared in enumerate(self.transit.shared):
            entry, part, at = f"entry {index + 1} of shared", quoted(shared.part), ("shared", index)
            block = several.get(shared.part)
            if block is None:
                single = shared.part in catalogue.blocks
                instead = f"write {one_of(several)}" if several else "give each cable a block of its own"
                self._add(
                    (*at, "part"),
                    f"part in {entry} is {part}",
                    "that block has one bore"
                    if single
                    else f"the catalogue of {catalogue.system} has no block with several bores called that",
                    instead if single else did_you_mean(shared.part, sorted(several), instead),
                )
            elif len(shared.cables) > (block.bores or 1):
                self._add(
                    (*at, "cables"),
                    f"{entry} has {len(shared.cables)} cables",
                    f"block {part} has {block.bores} bores",
                    "leave some out, or choose a block with more bores",
                )
            elif len(shared.cables) < (block.bores or 1) and not block.plug:
                self._add(
                    (*at, "cables"),
                    f"{entry} has {len(shared.cables)} cables",
                    f"block {part} has {block.bores} bores, and its centres can't stay in",
                    "fill every bore, or choose a block with fewer",
                )
            for number, tag in enumerate(shared.cables):
                if tag not in known:
                    self._add(
                        (*at, "cables", number),
                        f"{entry} names cable {quoted(tag)}",
                        "the schedule leads no such cable through this transit",
                        did_you_mean(tag, sorted(known), f"add {self.id} to its transits, or leave it out"),
                    )
                elif tag in seen:
                    self._add(
                        (*at, "cables", number),
                        f"{entry} names cable {quoted(tag)} a second time",
                        "a cable lies in one bore",
                        "remove one of the two",
                    )
                seen.add(tag)
            here = [known[tag] for tag in shared.cables if tag in known]
            for name, found in (
                ("classes", {cable.service for cable in here}),
                ("circuits", {cable.circuit or "none" for cable in here}),
            ):
                if len(found) > 1:
                    self._add(
                        (*at, "cables"),
                        f"{entry} has cables of {len(found)} {name}: {', '.join(sorted(found))}",
                        "cables that share a block lie together whatever is kept apart, so they are of one kind",
                        "put those of one kind together, and give the others blocks of their own",
                    )

    def _judge_kept(self, catalogue: Catalogue, frame: Frame) -> None:
        """Hold what stays where it is against the bays it lies in and the cables that pass."""
        cables = {
            *self.tags,
            *(f"{n}-{i}" for n, h in self.transit.placeholders.items() for i in range(1, h.count + 1)),
        }
        sizes = {block.size for block in catalogue.blocks.values()}
        plugs = {block.size for block in catalogue.single_blocks.values() if block.plug}
        beside = {tag: quoted(s.cables[0])[1:-1] for s in self.transit.shared for tag in s.cables[1:]}
        seen: set[str] = set()
        for index, kept in enumerate(self.transit.keep):
            entry = f"in entry {index + 1} of keep"
            if kept.bay > len(frame.bays):
                self._add(
                    ("keep", index, "bay"),
                    f"bay {entry} is {kept.bay}",
                    f"frame {self.transit.frame} has {len(frame.bays)}",
                    "write a bay that it has, counted from the left",
                )
                continue
            bay = frame.bays[kept.bay - 1]
            for field, start, end in (("x", kept.x, bay.width), ("y", kept.y, bay.height)):
                if start + kept.size > end:
                    self._add(
                        ("keep", index, field),
                        f"{field} {entry} is {quoted(format_mm(start))}",
                        f"a block of {_mm(kept.size)} there reaches out of its bay of {_mm(end)}",
                        "measure it from the lower left corner of its bay, seen from the working side",
                    )
            allowed = sizes if kept.cable is not None else plugs
            if kept.size not in allowed:
                what = "no block of this size" + ("" if kept.cable is not None else " whose plug can stay in")
                self._add(
                    ("keep", index, "size"),
                    f"size {entry} is {quoted(format_mm(kept.size))}",
                    f"the catalogue of {catalogue.system} has {what}",
                    f"write {one_of(map(format_mm, sorted(allowed)))}" if allowed else "remove the entry",
                )
            if kept.cable is None:
                continue
            if kept.cable not in cables:
                self._add(
                    ("keep", index, "cable"),
                    f"cable {entry} is {quoted(kept.cable)}",
                    "it does not pass this transit",
                    did_you_mean(kept.cable, sorted(cables), f"add {self.id} to its transits, or remove the entry"),
                )
            elif kept.cable in beside:
                self._add(
                    ("keep", index, "cable"),
                    f"cable {entry} is {quoted(kept.cable)}",
                    "it shares a block, and the block is kept by the cable at its left",
                    f"write {beside[kept.cable]}",
                )
            elif kept.cable in seen:
                self._add(
                    ("keep", index, "cable"),
                    f"cable {entry} is {quoted(kept.cable)} a second time",
                    "a cable stands in one block",
                    "remove one of the two",
                )
            seen.add(kept.cable)

    def _judge_cables(self) -> None:
        count = len(self.tags)
        if self.transit.split_seal is not None and count != 1:
            named = f" ({listed((quoted(tag)[1:-1] for tag in self.tags), 6)})" if count else ""
            self._add(
                ("split_seal",),
                f"split_seal has {count or 'no'} cables{named}",
                "a split seal closes around one cable, and cables.csv says which",
                "leave one of them in this transit, or choose a frame"
                if count
                else f"add {self.id} to the transits of its cable in cables.csv",
            )
        tags_here = set(self.tags)
        for name, hold in self.transit.placeholders.items():
            for number in range(1, hold.count + 1):
                if f"{name}-{number}" in tags_here:
                    tag = quoted(f"{name}-{number}")
                    self._add(
                        ("placeholders", name),
                        f"placeholder {quoted(name)} becomes cable {tag}, which is in cables.csv,",
                        "placeholders are numbered from 1, and a tag names one cable",
                        "rename the placeholder, or lower its count now that the cable is known",
                    )


def _cable_transits(definition: Definition, sources: Sources) -> list[Problem]:
    problems = []
    transits = Names(definition.transits)
    for cable, row in zip(definition.cables, sources.rows, strict=True):
        for index, transit_id in enumerate(cable.transits):
            if transit_id not in definition.transits:
                problems.append(
                    Problem(
                        place_of(row, ("transits", index)),
                        f"transits names {quoted(transit_id)} for cable {quoted(cable.tag)[1:-1]}",
                        "there is no such transit",
                        transits.did_you_mean(transit_id, "write the ID of a transit, or add that transit"),
                    )
                )
    return problems


def _mm(value: Decimal) -> str:
    return f"{format_mm(value)} mm"
