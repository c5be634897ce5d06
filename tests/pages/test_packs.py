"""Packs hold pages to the letter; the judges are the standard library's gzip and json."""

import gzip
import json
import re
from itertools import accumulate
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from generator.pages import addresses
from generator.pages.offline import write_offline
from generator.pages.packs import PLACES, digest, pack, share_out
from generator.pages.publish import build_site
from generator.pages.starter import write_starter

PAGES = some.dictionaries(
    some.text(min_size=1, max_size=8),
    some.text(some.sampled_from('<trgpli >\n\r"\\\x00é€𝄞&'), max_size=60),
    max_size=5,
)


def unpacked(content: bytes) -> dict[str, str]:
    found = json.loads(gzip.decompress(content))
    return {
        page: "".join(found["pieces"][number] for number in accumulate(steps))
        for page, steps in found["pages"].items()
    }


@given(PAGES)
def test_what_is_packed_comes_out_to_the_letter(pages: dict[str, str]) -> None:
    assert unpacked(pack(pages)) == pages


def test_a_pack_has_no_date_and_pages_alike_take_little_room() -> None:
    # RFC 1952, 2.3: bytes 4 to 7 of a gzip file are its time.
    page = "".join(f"<p>line {number * 7919 % 10007} of many</p>\n" for number in range(3000))
    one, ten = pack({"a": page}), pack({f"{number}": page.replace("line 0", f"{number}") for number in range(10)})
    assert one[4:8] == ten[4:8] == bytes(4)
    assert len(ten) < 2 * len(one) < len(gzip.compress(page.encode() * 10))


@given(
    some.lists(some.tuples(some.sampled_from("AB"), some.integers(0, 130)), max_size=6),
    some.integers(1, 60),
)
def test_every_wall_and_transit_is_in_a_pack_of_its_area(walls: list[tuple[str, int]], places: int) -> None:
    asked = [(area, f"W{n}", tuple(f"T{n}-{m}" for m in range(count))) for n, (area, count) in enumerate(walls)]
    loads = list(share_out(asked, places))
    assert [load.area for load in loads] == sorted(load.area for load in loads)
    assert sorted(t for load in loads for t in load.transits) == sorted(t for _, _, of in asked for t in of)
    for area, wall, transits in asked:
        having = [load for load in loads if wall in load.walls]
        assert having and {load.area for load in having} == {area}
        assert set(transits) <= {transit for load in having for transit in load.transits}
    assert all(len(load.transits) <= places for load in loads)


def test_a_thousand_transits_are_few_requests() -> None:
    walls = [("A", f"W{n}", (f"T{n}-1", f"T{n}-2", f"T{n}-3", f"T{n}-4")) for n in range(250)]
    assert len(list(share_out(walls))) == 1000 / PLACES == 20


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("packed")
    write_starter(folder / "job")
    build_site(folder / "job", folder / "site")
    return folder / "site"


def test_the_list_names_every_file_that_is_kept(site: Path) -> None:
    listed = json.loads((site / addresses.LIST).read_text(encoding="utf-8"))
    files = [*listed["common"], *listed["packs"]]
    for file in files:
        content = (site / file["file"]).read_bytes()
        assert (file["bytes"], file["sum"]) == (len(content), digest(content))
    pages = {}
    for file in files:
        if file["file"].endswith(".pack"):
            pages |= unpacked((site / file["file"]).read_bytes())
    assert pages == {page: (site / page).read_text(encoding="utf-8") for page in pages}
    kept = {path.relative_to(site).as_posix() for path in site.rglob("*.html")} - pages.keys()
    assert kept == {"404.html", "register/index.html"} | {
        page
        for page in kept
        if page.endswith(("card.html", "/quality.html")) or "/labels" in page or "/marking" in page
    }
    assert {"index.html", "notes.html", "W/W1/index.html", "T/A1-001/index.html"} < pages.keys()
    # What a transit's page loads is together in one small pack, and all of it.
    (loaded,) = [file for file in listed["common"] if "pages" in file]
    assert sorted(unpacked((site / loaded["file"]).read_bytes())) == loaded["pages"]
    asked = re.findall(r'(?:src|href)="../../(assets/[^"]+)"', pages["T/A1-001/index.html"])
    assert len(asked) >= 4 and {path for path in asked if not path.endswith(".woff2")} <= set(loaded["pages"])
    assert {path.name for path in site.rglob("*.woff2")} == {
        file["file"].rpartition("/")[2] for file in listed["common"] if file["file"].endswith(".woff2")
    }
    worker = (site / addresses.WORKER).read_text(encoding="utf-8")
    build = json.loads((site / addresses.BUILD).read_text(encoding="utf-8"))["build"]
    assert build == digest((site / addresses.LIST).read_bytes()) and build in worker


def test_a_page_that_changes_is_another_build(site: Path, tmp_path: Path) -> None:
    before = (site / addresses.BUILD).read_bytes()
    work = build_site(site.parent / "job", tmp_path / "site")
    assert (tmp_path / "site" / addresses.BUILD).read_bytes() == before  # and the same is the same
    page = tmp_path / "site" / "T" / "A1-002" / "index.html"
    page.write_text(page.read_text(encoding="utf-8") + "\n", encoding="utf-8", newline="\n")
    pages = ["index.html", "find/index.html", "safety/index.html", "notes.html"]
    write_offline(tmp_path / "site", work, pages, ["en"])
    assert (tmp_path / "site" / addresses.BUILD).read_bytes() != before
