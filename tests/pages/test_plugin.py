"""The site that MkDocs makes with the plugin: what is in it, what never is, and that it is the same each time."""

import os
import re
import shutil
import subprocess
import sys
import time
import urllib.request
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest

from generator.errors import WorkPackError
from generator.pages.own_pages import load_whole
from generator.pages.plugin import MARKER, write_site
from generator.pages.publish import build_site
from generator.pages.starter import write_starter
from tests.pages.site_files import digests, replace

ROOT = Path(__file__).parents[2]
DEMO = ROOT / "workpacks" / "tide-gate"


@pytest.fixture
def job(tmp_path: Path) -> Path:
    write_starter(tmp_path / "jobs" / "job")
    return tmp_path / "jobs" / "job"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("demo") / "site"
    build_site(DEMO, out)
    return out


class Seen(HTMLParser):
    """What a page leads to, asks for and runs."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.links: list[str] = []
        self.asked_for: list[str] = []
        self.scripts: list[str] = []
        self.handlers: list[str] = []
        self.ids: set[str] = set()
        self.tags: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        values = dict(attrs)
        self.handlers += [f"{tag} {name}" for name in values if name.startswith("on")]
        if values.get("id"):
            self.ids.add(str(values["id"]))
        if tag == "a" and "href" in values:
            self.links.append(values["href"] or "")
        if tag == "link" and values.get("rel") != "canonical":
            self.asked_for.append(values.get("href") or "")
        for name in ("src", "srcset", "data", "poster", "xlink:href"):
            if name in values:
                self.asked_for.append(values[name] or "")
        if tag == "script":
            kind = "data" if values.get("type") == "application/json" else "inline"
            self.scripts.append(values.get("src") or kind)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)


def pages(site: Path) -> dict[str, Seen]:
    return {
        path.relative_to(site).as_posix(): Seen(path.read_text(encoding="utf-8"))
        for path in sorted(site.rglob("*.html"))
    }


WALL_PAGES = ("index", "labels", "labels-300", "marking-a4", "marking-a3")


# -- the demo's site -------------------------------------------------------------------------------


def test_every_transit_and_wall_has_its_page(demo: Path) -> None:
    work = load_whole(DEMO)
    names = set(digests(demo))
    assert {f"T/{transit_id}/{name}.html" for transit_id in work.transits for name in ("index", "card")} <= names
    for wall_id in work.definition.walls:
        assert {f"W/{wall_id}/{name}.html" for name in WALL_PAGES} <= names
    assert {"index.html", "safety/index.html", "find/index.html", "find/find-data.js", "404.html", MARKER} <= names
    own = {path.relative_to(DEMO / "pages").with_suffix(".html").as_posix() for path in DEMO.glob("pages/*.md")}
    assert own and own <= names


def test_every_link_leads_to_a_file_of_the_site(demo: Path) -> None:
    """Files, so that the site also works from a disk."""
    seen = pages(demo)
    broken, followed = [], 0
    for name, page in seen.items():
        if name == "404.html":  # served at any address, so its links begin at the root
            continue
        for link in page.links + page.asked_for:
            parts = urlsplit(link)
            assert not parts.netloc and parts.scheme in ("", "tel", "mailto"), f"{name}: {link}"
            if parts.scheme:
                continue
            target = os.path.normpath(Path(name).parent / unquote(parts.path)) if parts.path else name
            followed += 1
            if not (demo / target).is_file():
                broken.append(f"{name}: {link}")
            elif parts.fragment and parts.fragment not in seen[Path(target).as_posix()].ids:
                broken.append(f"{name}: {link} (no such place on the page)")
    assert broken == []
    assert followed > 200


def test_nothing_is_asked_of_another_host(demo: Path) -> None:
    calls = re.compile(r"""(?:url\(|@import|src=|href=)\s*["']?(?:https?:)?//""")
    for path in demo.rglob("*"):
        if path.suffix in (".html", ".css", ".js", ".svg") and path.is_file():
            text = path.read_text(encoding="utf-8")
            text = re.sub(r'<link rel="canonical" href="[^"]*">', "", text)
            assert not calls.search(text), f"{path}: {calls.search(text)}"


def test_no_page_runs_a_script_written_into_it(demo: Path) -> None:
    for name, page in pages(demo).items():
        assert "inline" not in page.scripts, name
        assert page.handlers == [], name


def test_a_site_is_the_same_byte_for_byte(demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    copied = tmp_path / "elsewhere" / "workpacks"
    shutil.copytree(ROOT / "workpacks", copied)
    # Another process, folder, time zone and hash seed; the clock has moved on since.
    code = (
        "import sys; from pathlib import Path; from generator.pages.publish import build_site;"
        "build_site(Path(sys.argv[1]), Path(sys.argv[2]))"
    )
    subprocess.run(
        [sys.executable, "-c", code, str(copied / "tide-gate"), str(tmp_path / "site")],
        check=True,
        cwd=ROOT,
        env={**os.environ, "TZ": "Pacific/Auckland", "PYTHONHASHSEED": "7"},
    )
    assert digests(tmp_path / "site") == digests(demo)


def test_the_date_of_the_source_is_the_date_of_the_site(
    job: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1000000000")  # 2001-09-09, the second it began
    build_site(job, tmp_path / "site")
    assert "2001-09-09" in (tmp_path / "site" / "sitemap.xml").read_text(encoding="utf-8")
    packed = (tmp_path / "site" / "sitemap.xml.gz").read_bytes()
    # RFC 1952, 2.3: bytes 4 to 7 of a gzip file are its time; MkDocs gives the start of the day.
    assert int.from_bytes(packed[4:8], "little") == 1000000000 // 86400 * 86400


# -- plain MkDocs ----------------------------------------------------------------------------------


def mkdocs(*arguments: str, folder: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "mkdocs", *arguments],
        cwd=folder,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
        timeout=60,
        env={**os.environ, "PYTHONPATH": str(ROOT), "NO_MKDOCS_2_WARNING": "1"},
    )


def test_plain_mkdocs_makes_the_same_site(demo: Path, tmp_path: Path) -> None:
    done = mkdocs("build", "--strict", "--site-dir", str(tmp_path / "site"), folder=DEMO)
    assert done.returncode == 0, done.stderr
    assert digests(tmp_path / "site") == digests(demo)


def test_plain_mkdocs_says_problems_and_touches_nothing(job: Path, tmp_path: Path) -> None:
    site = tmp_path / "site"
    assert mkdocs("build", "--site-dir", str(site), folder=job).returncode == 0
    before = digests(site)
    replace(job / "transits.yaml", "fixing: welded", "fixing: wedged")
    replace(job / "walls.yaml", "division: cabinet", "division: cupboard")
    done = mkdocs("build", "--site-dir", str(site), folder=job)
    assert done.returncode == 1
    assert "wedged" in done.stderr and "cupboard" in done.stderr
    assert "Traceback" not in done.stderr
    assert digests(site) == before


@pytest.mark.parametrize(
    "settings",
    [
        "docs_dir: ..\n",
        "plugins: [wallwork, search]\n",
        "docs_dir: records\n",
        "markdown_extensions: [pymdownx.snippets]\n",
    ],
)
def test_plain_mkdocs_refuses_what_would_publish_more(job: Path, tmp_path: Path, settings: str) -> None:
    (job / "records").mkdir()
    base = "site_name: x\n" + ("" if "plugins" in settings else "plugins: [wallwork]\n")
    (job / "mkdocs.yml").write_text(base + settings, encoding="utf-8")
    done = mkdocs("build", "--site-dir", str(tmp_path / "site"), folder=job)
    assert done.returncode == 1
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "site").exists() or digests(tmp_path / "site") == {}


def test_plain_mkdocs_serves_on_through_a_broken_job(job: Path, free_port: int) -> None:
    server = subprocess.Popen(
        [sys.executable, "-m", "mkdocs", "serve", "--strict", "-a", f"127.0.0.1:{free_port}"],
        cwd=job,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": str(ROOT), "NO_MKDOCS_2_WARNING": "1"},
    )
    try:
        address = f"http://127.0.0.1:{free_port}/"
        assert "A first job" in wait_for(address, "A first job")
        replace(job / "transits.yaml", "fixing: welded", "fixing: wedged")
        assert "A first job" in wait_for(address, "problems.html")
        assert "wedged" in wait_for(address + "problems.html", "wedged")
        replace(job / "transits.yaml", "fixing: wedged", "fixing: welded")
        replace(job / "job.yaml", "A first job", "A mended job")
        wait_for(address, "A mended job")
    finally:
        server.kill()
        server.wait()


def wait_for(address: str, text: str) -> str:
    end = time.monotonic() + 25
    while time.monotonic() < end:
        try:
            with urllib.request.urlopen(address, timeout=20) as answer:
                page = str(answer.read().decode("utf-8"))
        except OSError:
            page = ""
        if text in page:
            return page
        time.sleep(0.2)
    raise AssertionError(f"{address} never said {text!r}")


# -- what is never published -----------------------------------------------------------------------

SECRET = "a secret of the job that no page may hold"


def test_nothing_but_pages_is_published(job: Path, tmp_path: Path) -> None:
    for name in ("records/A1-001/x.txt", "issued/notes.txt", "drawings/plan.txt", "notes-to-self.md", ".env"):
        (job / name).parent.mkdir(parents=True, exist_ok=True)
        (job / name).write_text(SECRET, encoding="utf-8")
    (job / "pages" / ".hidden.md").write_text(SECRET, encoding="utf-8")
    build_site(job, tmp_path / "site")
    names = digests(tmp_path / "site")
    made = {"register/register.csv", "material/material.csv", "material/material-job.csv"}
    assert not [name for name in set(names) - made if name.endswith((".yaml", ".yml", ".csv", ".md"))]
    for name in names:
        assert SECRET.encode() not in (tmp_path / "site" / name).read_bytes()


@pytest.mark.parametrize("kind", ["file", "folder", "pages", "loop", "dangling"])
def test_a_link_is_never_followed_out_of_pages(job: Path, tmp_path: Path, kind: str) -> None:
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "secret.md").write_text(SECRET, encoding="utf-8")
    own = job / "pages"
    if kind == "pages":
        shutil.rmtree(own)
        own.symlink_to(outside, target_is_directory=True)
    else:
        target = {"file": outside / "secret.md", "folder": outside, "loop": own, "dangling": outside / "none"}[kind]
        (own / "link.md").symlink_to(target)
    with pytest.raises(WorkPackError) as raised:
        build_site(job, tmp_path / "site")
    (problem,) = raised.value.problems
    assert "a link to another place" in problem.what
    assert not (tmp_path / "site").exists()


def test_a_pipe_among_the_pages_does_not_hang_a_build(job: Path, tmp_path: Path) -> None:
    os.mkfifo(job / "pages" / "pipe.txt")
    with pytest.raises(WorkPackError, match="is no file"):
        build_site(job, tmp_path / "site")


@pytest.mark.parametrize(
    "name", ["index.md", "README.md", "T/x.md", "t/x.md", "W/W1/index.md", "problems.html", MARKER]
)
def test_an_own_page_never_takes_the_place_of_a_computed_one(job: Path, tmp_path: Path, name: str) -> None:
    (job / "pages" / name).parent.mkdir(parents=True, exist_ok=True)
    (job / "pages" / name).write_text("# Mine\n", encoding="utf-8")
    with pytest.raises(WorkPackError, match="has the place of a page that Wallwork makes"):
        build_site(job, tmp_path / "site")


def test_a_job_without_own_pages_builds(job: Path, tmp_path: Path) -> None:
    shutil.rmtree(job / "pages")
    (job / "mkdocs.yml").unlink()
    build_site(job, tmp_path / "site")
    assert (tmp_path / "site" / "T" / "A1-001" / "index.html").is_file()


# -- the planner's own pages -----------------------------------------------------------------------


def own_page(job: Path, site: Path, text: str, **settings: str) -> str:
    (job / "pages" / "own.md").write_text(text, encoding="utf-8")
    build_site(job, site)
    return (site / "own.html").read_text(encoding="utf-8")


def test_html_of_an_own_page_is_text(job: Path, tmp_path: Path) -> None:
    text = (
        "---\ntitle: <script>alert(1)</script>\ndescription: '\"><script>alert(2)</script>'\n---\n"
        "# <img src=x onerror=alert(3)>\n\n<script>alert(4)</script>\n\n<div onclick='alert(5)'>x</div>\n\n"
        "Inline <b onclick=alert(6)>bold</b>, <!-- <script>alert(7)</script> -->.\n\n"
        '!!! note "<script>alert(8)</script>"\n    x\n\n```html\n<script>alert(9)</script>\n```\n'
    )
    (job / "mkdocs.yml").write_text(
        "markdown_extensions: [admonition]\n"
        "nav:\n  - <script>alert(10)</script>:\n      - <script>alert(11)</script>: own.md\n  - notes.md\n",
        encoding="utf-8",
    )
    page = own_page(job, tmp_path / "site", text)
    notes = (tmp_path / "site" / "notes.html").read_text(encoding="utf-8")
    for html in (page, notes):
        seen = Seen(html)
        assert [script.rpartition("/")[2] for script in seen.scripts] == [
            "wallwork.js",
            "copy.js",
        ] and seen.handlers == []
        assert "img" not in seen.tags
    assert "&lt;script&gt;alert(11)" in notes
    assert "&amp;lt;script" not in page + notes, "escaped once, not twice"


def test_the_navigation_may_name_computed_pages(job: Path, tmp_path: Path) -> None:
    (job / "mkdocs.yml").write_text(
        "nav:\n  - T/A1-001/index.html\n  - Bulkhead: W/W1/index.html\n  - More:\n      - Rules: notes.md\n",
        encoding="utf-8",
    )
    build_site(job, tmp_path / "site")
    links = Seen((tmp_path / "site" / "notes.html").read_text(encoding="utf-8")).links
    assert {"T/A1-001/index.html", "W/W1/index.html", "notes.html"} <= set(links)
    (job / "mkdocs.yml").write_text("nav:\n  - notes.md\n  - x: javascript:alert(1)\n  - none.md\n", encoding="utf-8")
    with pytest.raises(WorkPackError) as raised:
        build_site(job, tmp_path / "site")
    assert sorted(str(problem.where) for problem in raised.value.problems) == ["mkdocs.yml:3:8", "mkdocs.yml:4:5"]


@pytest.mark.parametrize(
    "link",
    [
        "[x](javascript:alert(1))",
        "[x](JavaScript:alert(1))",
        "[x](java&#115;cript:alert(1))",
        "[x](&#106;avascript:alert(1))",
        "[x](data:text/html,x)",
        "[x](vbscript:x)",
        "[x](<java\tscript:alert(1)>)",
        "[x][y]\n\n[y]: javascript:alert(1)",
        "![x](https://example.org/x.png)",
        "![x](//example.org/x.png)",
        "![x](/\\example.org/x.png)",
        "![x](data:image/png;base64,AAAA)",
        "[x](../job.yaml)",
        "[x](/T/A1-001/index.html)",
        "[x](T/A1-001/)",
        "[x](file:///etc/passwd)",
    ],
)
def test_a_link_that_leads_astray_stops_the_build_at_its_place(job: Path, tmp_path: Path, link: str) -> None:
    (job / "pages" / "own.md").write_text(f"# Own\n\n{link}\n", encoding="utf-8")
    with pytest.raises(WorkPackError) as raised:
        build_site(job, tmp_path / "site")
    assert {problem.where.file for problem in raised.value.problems} == {"pages/own.md"}


def test_good_links_of_an_own_page_stay(job: Path, tmp_path: Path) -> None:
    (job / "pages" / "deep").mkdir()
    (job / "pages" / "plan.png").write_bytes(b"\x89PNG\r\n")
    (job / "pages" / "deep" / "more.md").write_text(
        "# More\n\n[t](../T/A1-001/index.html) [w](../W/W1/index.html) [o](../index.html)"
        " [n](../notes.md#notes-of-the-planner) ![p](../plan.png)\n",
        encoding="utf-8",
    )
    page = own_page(
        job, tmp_path / "site", "# Own\n\n[m](deep/more.md) <tel:112> <a@example.org> [e](https://example.org)\n"
    )
    assert 'href="https://example.org"' in page
    deep = Seen((tmp_path / "site" / "deep" / "more.html").read_text(encoding="utf-8"))
    wanted = ["../T/A1-001/index.html", "../W/W1/index.html", "../index.html", "../notes.html#notes-of-the-planner"]
    assert [link for link in deep.links if link in wanted][-4:] == wanted
    assert "../plan.png" in deep.asked_for


@pytest.mark.parametrize(
    "content",
    [b"\xff\xfe", b">" * 12000 + b" x", b"# a\n" + b"[" * 3000, b"* " * 3000, b"---\n{{{\n---\n", b"\x00\x02\x03"],
)
def test_no_content_of_an_own_page_is_a_traceback(job: Path, tmp_path: Path, content: bytes) -> None:
    (job / "pages" / "own.md").write_bytes(content)
    try:
        build_site(job, tmp_path / "site")
    except WorkPackError as error:
        assert {problem.where.file for problem in error.problems} == {"pages/own.md"}


def test_pages_can_be_written_without_publishing(job: Path, tmp_path: Path) -> None:
    write_site(load_whole(job), job, tmp_path / "site", live=True)
    assert "Content-Security-Policy" not in (tmp_path / "site" / "T" / "A1-001" / "index.html").read_text(
        encoding="utf-8"
    )


@pytest.fixture
def free_port() -> int:
    import socket

    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return int(asked.getsockname()[1])
