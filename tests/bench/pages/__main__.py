"""CPU per transit page, our way and as Markdown: ``python -m tests.bench.pages [COUNT ...]``.

A page is rendering, the drawings of both sides and the QR, written to disk; solving stands apart. The other
way is the same pages as Markdown files outside the navigation, through MkDocs and mkdocs-material, in the same
run: each is the drawn page's main element as one block of HTML, which is the cheapest Markdown there is. What
is printed is for a person to read; no test is decided by it.
"""

import logging
import sys
import time
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from mkdocs.commands.build import build
from mkdocs.config.defaults import MkDocsConfig

from generator.model.pack import WorkPack
from generator.pages.render import Pages
from generator.workpack import load
from tests.bench.pages.copies import many

DEMO = Path(__file__).parents[3] / "workpacks" / "tide-gate"
COUNTS = (200, 1000, 3000)
TARGET_MS = 5
TARGET_RATIO = 4


def cpu_ms(run: Callable[[], None], count: int) -> float:
    """Return the CPU time of ``run`` in ms for each of ``count`` pages."""
    began = time.process_time()
    run()
    return (time.process_time() - began) * 1000 / count


def write_ours(work: WorkPack, out: Path) -> None:
    """Write every transit's page as the site has it."""
    pages = Pages(work, "en")
    for transit_id in work.transits:
        path = out / "T" / transit_id / "index.html"
        path.parent.mkdir(parents=True)
        path.write_bytes(pages.transit(transit_id).encode("utf-8"))


def write_markdown(pages: Path, docs: Path) -> None:
    """Write the pages below ``pages`` as Markdown files: what the crew reads, without the frame around it."""
    docs.mkdir()
    (docs / "index.md").write_text("# Job\n", encoding="utf-8")
    for page in pages.glob("T/*/index.html"):
        html = page.read_text(encoding="utf-8")
        main = html[html.index("<main") : html.index("</main>") + len("</main>")]
        text = "\n".join(line for line in main.splitlines() if line.strip())
        (docs / f"{page.parent.name}.md").write_text(f"# {page.parent.name}\n\n{text}\n", encoding="utf-8")


def build_markdown(docs: Path, out: Path) -> None:
    """Build the Markdown files with MkDocs and its theme, in no navigation, without search."""
    config = MkDocsConfig(config_file_path=str(docs.parent / "mkdocs.yml"))
    config.load_dict(
        {
            "site_name": "Bench",
            "docs_dir": str(docs),
            "site_dir": str(out),
            "theme": {"name": "material", "font": False},
            "plugins": [],
            "nav": ["index.md"],
            "not_in_nav": "/*.md",
        }
    )
    config.validate()
    build(config)


def measure(work: WorkPack, count: int) -> tuple[float, float, int]:
    """Return CPU ms a page our way, as Markdown, and the bytes of a page our way."""
    copies = many(work, count)
    with TemporaryDirectory() as top:
        folder = Path(top)
        ours = cpu_ms(lambda: write_ours(copies, folder / "ours"), count)
        size = sum(path.stat().st_size for path in (folder / "ours").rglob("*.html")) // count
        write_markdown(folder / "ours", folder / "docs")
        markdown = cpu_ms(lambda: build_markdown(folder / "docs", folder / "out"), count)
        assert len(list((folder / "out").glob("*/index.html"))) == count
    return ours, markdown, size


def main(counts: tuple[int, ...]) -> None:
    """Measure at each count and print a table."""
    logging.getLogger("mkdocs").setLevel(logging.ERROR)
    began = time.process_time()
    work = load(DEMO)
    solving = (time.process_time() - began) * 1000 / len(work.transits)
    print(f"solving and planning, apart: {solving:.1f} ms a transit (the demo's {len(work.transits)})")
    measure(work, 20)  # warm: imports, templates, the first drawing
    print("transits   ours ms/page   Markdown ms/page   Markdown/ours   bytes/page")
    found = []
    for count in counts:
        ours, markdown, size = measure(work, count)
        found.append(ours)
        print(f"{count:8}   {ours:12.2f}   {markdown:16.2f}   {markdown / ours:13.1f}   {size:10}", flush=True)
    print(
        f"target: at most {TARGET_MS} ms a page, Markdown at least {TARGET_RATIO} times as much;"
        f" linear: the last page costs {found[-1] / found[0]:.2f} of the first"
    )


if __name__ == "__main__":
    main(tuple(int(count) for count in sys.argv[1:]) or COUNTS)
