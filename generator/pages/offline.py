"""What a phone keeps: the packs, the list of all of them with their digests, and the worker that answers from them.

The list is the build's identity: two sites with the same identity keep the same on a phone. What is printed at
a desk (cards, labels, marking-out sheets), the register and photos are not taken along.
"""

import json
from collections.abc import Iterable, Iterator, Sequence
from importlib.resources import files
from pathlib import Path

from generator.model.pack import WorkPack
from generator.pages import addresses
from generator.pages.packs import digest, pack, share_out

_PACKED = {".css", ".html", ".js", ".svg"}
_LEFT = {addresses.REGISTER}
_FIRST = tuple(
    f"{addresses.ASSETS}/{name}" for name in ("transit-page.", "wallwork.js", "print.css", "icons/plate.svg")
)


def write_offline(site: Path, work: WorkPack, pages: Iterable[str], languages: Sequence[str]) -> None:
    """Write packs, list and worker into a finished site, beside the files they are made of.

    ``pages`` are the addresses of the site's pages that belong to no wall: the overview, the planner's own
    and the like. ``languages`` are those of the transits' pages, the first first.
    """
    kept = [page for page in pages if page not in _LEFT and not page.startswith("W/")]
    assets = [path.relative_to(site).as_posix() for path in (site / addresses.ASSETS).rglob("*") if path.is_file()]
    answers = [page for language in languages for page in addresses.answer_pages(_code(language, languages))]
    common = sorted({*kept, addresses.FINDER_DATA, *answers, *assets})
    text = [path for path in common if Path(path).suffix in _PACKED]
    # What a transit's page loads is a pack of its own: a phone that was just switched on unpacks no more than that.
    first = [path for path in text if path.startswith(_FIRST)]
    rest = _packed(site, [path for path in text if path not in first])
    loaded = _packed(site, first) | {"pages": first}
    fonts = [_file(site, path, (site / path).read_bytes()) for path in common if path.endswith(".woff2")]
    packs: list[dict[str, object]] = []
    transits: dict[str, list[int | str]] = {}
    for number, load in enumerate(share_out(_walls(work))):
        taken = [addresses.wall_page(wall) for wall in load.walls]
        for transit in load.transits:
            taken += _pages_of(work, transit, languages)
            older = [old.revision for old in work.superseded.get(transit, ())]
            transits[transit] = [number, work.pack_of(transit).revision, *older]
        of_load = {"area": load.area, "walls": list(load.walls), "transits": len(load.transits)}
        packs.append(_packed(site, taken) | of_load)
    content = _json({"common": [rest, loaded, *fonts], "packs": packs, "transits": transits})
    build = digest(content)
    about = {"build": build, "job": work.definition.job.uid, "list": _file(site, addresses.LIST, content)}
    (site / addresses.LIST).write_bytes(content)
    (site / addresses.BUILD).write_bytes(_json({"build": build}))
    worker = (files("site_templates") / "worker" / "worker.js").read_text(encoding="utf-8")
    strict = '"use strict";\n'
    worker = worker.replace(strict, f"{strict}const SITE = {_json(about).decode()};\n", 1)
    (site / addresses.WORKER).write_bytes(worker.encode("utf-8"))


def _walls(work: WorkPack) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    placed: dict[str, list[str]] = {wall_id: [] for wall_id in sorted(work.definition.walls)}
    for transit_id, pack_of in sorted(work.transits.items()):
        placed[pack_of.wall_id].append(transit_id)
    for transit_id, gone in sorted(work.gone.items()) if placed else ():
        # A phone that kept the wall may meet its label. Where the wall is gone too, it lies with any other.
        placed[gone.wall_id if gone.wall_id in placed else next(iter(placed))].append(transit_id)
    for wall_id, transits in placed.items():
        yield work.definition.walls[wall_id].area, wall_id, tuple(transits)


def _pages_of(work: WorkPack, transit: str, languages: Sequence[str]) -> Iterator[str]:
    # The current revision has no page of its own here: the worker itself leads from its label to the transit.
    for language in languages:
        code = _code(language, languages)
        yield addresses.transit_page(transit, code)
        for old in work.superseded.get(transit, ()):
            yield addresses.revision_page(transit, old.revision, code)


def _code(language: str, languages: Sequence[str]) -> str:
    return "" if language == languages[0] else language


def _packed(site: Path, paths: Sequence[str]) -> dict[str, object]:
    content = pack({path: (site / path).read_text(encoding="utf-8") for path in paths})
    path = addresses.pack_file(digest(content))
    (site / path).parent.mkdir(exist_ok=True)
    (site / path).write_bytes(content)
    return _file(site, path, content)


def _file(site: Path, path: str, content: bytes) -> dict[str, object]:
    return {"file": path, "bytes": len(content), "sum": digest(content)}


def _json(data: object) -> bytes:
    return json.dumps(data, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode("utf-8")
