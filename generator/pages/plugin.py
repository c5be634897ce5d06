"""The one door to MkDocs: a plugin that adds the job's pages, and the two ways to run it ourselves.

Under plain ``mkdocs build`` and ``mkdocs serve`` the plugin loads the job itself. ``write_site`` (for
``wallwork build``) and ``serve_site`` (for ``wallwork serve``) hand it a job that was loaded before.
"""

import json
import logging
import os
import re
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from importlib.resources import files as resources
from itertools import count
from pathlib import Path
from posixpath import dirname, normpath
from tempfile import TemporaryDirectory
from typing import Any, Literal

from jinja2 import Environment
from markupsafe import Markup, escape
from mkdocs.commands.build import build
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import MkDocsException, PluginError
from mkdocs.livereload import LiveReloadServer
from mkdocs.plugins import BasePlugin
from mkdocs.structure.files import File, Files, InclusionLevel
from mkdocs.structure.nav import Link, Navigation, Section
from mkdocs.structure.pages import Page
from mkdocs.theme import Theme
from mkdocs.utils import CountHandler

import generator
from generator.errors import Problem, Where, WorkPackError
from generator.model.pack import WorkPack
from generator.pages import addresses
from generator.pages.assets import assets, transit_scripts
from generator.pages.desk import Desk
from generator.pages.finder import finder_script
from generator.pages.labels import PRINTERS
from generator.pages.marking import SHEETS, Marking
from generator.pages.material import Material
from generator.pages.offline import write_offline
from generator.pages.own_pages import FOLDER, load_whole, problem_of
from generator.pages.prose import Prose, leads_to_a_page
from generator.pages.quality import Quality
from generator.pages.reference import figures_page
from generator.pages.register import Register
from generator.pages.render import Pages
from generator.pages.script_words import script_words
from generator.pages.words import SOURCE_LANGUAGE, Words, _, spoken
from generator.source.pictures import NoPicture, blank, shrink
from generator.source.records import photo_of
from generator.source.settings import read_settings
from generator.workpack import with_reentries

log = logging.getLogger("mkdocs.plugins.wallwork")

MARKER = "wallwork-site.json"
"""The file by which a site is known to be one, and whose it is."""

Progress = Callable[[str, int, int], None]
"""Called with what is being done, how much of it is done, and how much there is."""


Tell = Callable[[Sequence[Problem]], None]
"""Called with the problems of a build, none when it went well."""


def silent(stage: str, done: int, total: int) -> None:
    """Say nothing."""


@dataclass
class Order:
    """What ``write_site`` hands to the plugin: a work pack and how to show it."""

    work: WorkPack
    locale: str | None = None
    progress: Progress = silent
    live: bool = False


class Made(File):
    """A file of the site that is made when MkDocs copies it, so that only one is in memory at a time."""

    def __init__(self, uri: str, make: Callable[[], bytes], config: MkDocsConfig) -> None:
        super().__init__(
            uri, src_dir=None, dest_dir=config.site_dir, use_directory_urls=False, inclusion=InclusionLevel.NOT_IN_NAV
        )
        self.generated_by = "wallwork"
        self._make = make

    def is_modified(self) -> bool:
        """Say yes: whether a page is still right is not for a file's date to tell."""
        return True

    def copy_file(self, dirty: bool = False) -> None:
        """Make the file and write it."""
        path = Path(self.abs_dest_path)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(self._make())


class WallworkPlugin(BasePlugin):  # type: ignore[type-arg, no-untyped-call]
    """Adds the pages of a job's transits and walls to a MkDocs site."""

    def __init__(self) -> None:
        self.order: Order | None = None
        self.serving = False
        self.work: WorkPack | None = None
        self.problems: tuple[Problem, ...] = ()
        self.reading: str | None = None

    # -- before anything is written

    def on_startup(self, *, command: Literal["build", "gh-deploy", "serve"], dirty: bool) -> None:
        """Learn whether MkDocs serves: then a broken job must not stop it."""
        self.serving = command == "serve"

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Bring our theme and our Markdown, and name pages so that a disk serves them too."""
        if self.serving:
            # A strict MkDocs would end a rebuild that had warnings, and then answer no request any more.
            logger = logging.getLogger("mkdocs")
            for counter in [handler for handler in logger.handlers if isinstance(handler, CountHandler)]:
                logger.removeHandler(counter)
        path = Path(config.config_file_path)
        self.folder, self.settings_file = path.parent, path.name
        config.theme = _theme("en")
        config.use_directory_urls = False
        config.markdown_extensions = [*config.markdown_extensions, Prose(self._complain, self._page_named)]
        # Attributes, since the policy of the pages blocks the style= that tables would be given.
        config.mdx_configs.setdefault("tables", {})["use_align_attribute"] = True
        for level in ("not_found", "unrecognized_links", "absolute_links", "anchors"):
            config.validation.links[level] = logging.WARNING
        for level in ("not_found", "absolute_links"):
            config.validation.nav[level] = logging.WARNING
        return config

    def on_pre_build(self, *, config: MkDocsConfig) -> None:
        """Load the job while the last site is still there. Under serve a broken job changes nothing."""
        self.problems = ()
        locale = None
        if self.order is not None:
            self.work, locale = self.order.work, self.order.locale
        else:
            try:
                self.work = load_whole(self.folder, settings=self.settings_file)
            except WorkPackError as error:
                if not self.serving:
                    raise PluginError(f"this job can't be built\n\n{error}\n") from None
                log.info(f"this job can't be built; the last good pages stay\n\n{error}\n")
                self.problems = error.problems
        if self.work is not None:
            job = self.work.definition.job
            locale = locale or job.languages[0]
            # Markup, so that theme templates that escape it and those that do not show the same.
            config.site_name = Markup(escape(job.name))
            if not self._live:
                config.site_url = job.address + "/"
        self.words = Words(locale or "en")
        named = self.work.definition.job.languages if self.work is not None else ()
        self.languages = spoken((self.words.language, *named))
        config.theme = _theme(self.words.language)

    @property
    def _live(self) -> bool:
        return self.serving or (self.order is not None and self.order.live)

    def _complain(self, sentence: str) -> None:
        log.warning(f"Doc file '{self.reading}' {sentence}")

    def _page_named(self, address: str) -> str:
        """Return a link as MkDocs knows the page: ours have no Markdown file, so they are named by their address."""
        path, mark, fragment = address.partition("#")
        uri = normpath(f"{dirname(self.reading or '')}/{path.removesuffix('.html')}.md").lstrip("/")
        return f"{path.removesuffix('.html')}.md{mark}{fragment}" if uri in self.main else address

    def on_serve(
        self, server: LiveReloadServer, /, *, config: MkDocsConfig, builder: Callable[..., None]
    ) -> LiveReloadServer:
        """Watch the job, not only its own pages."""
        _watch(server, self.folder)
        return server

    # -- what the site is made of

    def on_files(self, files: Files, *, config: MkDocsConfig) -> Files:
        """Add every file that comes from the job."""
        docs = config.docs_dir
        for file in list(files):
            # The theme's own scripts and styles serve templates that ours replace; and a file of the
            # planner's that look_through refuses is here only under serve.
            if file.src_dir != docs or (self.problems and not _is_plain(Path(docs), file.src_uri)):
                files.remove(file)
        if self.problems:
            self._put(files, Made("problems.html", lambda: problems_page(self.problems).encode(), config))
        self.main: dict[str, Callable[[], Markup]] = {}
        self.titles: dict[str, str] = {}
        if self.work is None:
            self._page(files, config, "index.html", _("Problems"), lambda: problems_list(self.problems))
            return files
        work, words = self.work, self.words
        whole = with_reentries(work)
        tongues = [Pages(whole, one, policy=not self._live, languages=self.languages) for one in self.languages]
        pages = tongues[0]
        desk = Desk(work, words)
        self._page(files, config, addresses.OVERVIEW, words.say(_("Overview")), desk.overview)
        register = Register(work, words)
        self._page(files, config, addresses.REGISTER, words.say(_("Register")), register.page)
        self._made(files, config, addresses.REGISTER_CSV, register.csv)
        self._page(files, config, addresses.FINDER, words.say(_("Find")), desk.finder)
        self._page(files, config, addresses.SAFETY, words.say(_("Safety")), desk.safety)
        material = Material(work, words)
        self._page(files, config, addresses.MATERIAL, words.say(_("Material")), material.page)
        self._made(files, config, addresses.MATERIAL_CSV, material.csv)
        self._made(files, config, addresses.MATERIAL_JOB_CSV, material.job_csv)
        self._put(files, Made(addresses.MATERIAL_XLSX, material.xlsx, config))
        quality = Quality(work, words)
        self._page(files, config, addresses.QUALITY, words.say(_("Quality plan")), quality.job)
        figures = partial(figures_page, work.definition.job, words)
        self._page(files, config, addresses.FIGURES, words.say(_("Figures")), figures)
        marking = Marking(work, words, policy=not self._live)
        for wall_id in work.definition.walls:
            for sheet in SHEETS:
                self._made(
                    files, config, addresses.marking_page(wall_id, sheet), partial(marking.sheet, wall_id, sheet)
                )
            self._page(files, config, addresses.wall_page(wall_id), wall_id, partial(desk.wall, wall_id))
            plan = wall_id + ", " + words.say(_("quality plan"))
            self._page(files, config, addresses.quality_page(wall_id), plan, partial(quality.wall, wall_id))
            for dpi in PRINTERS:
                self._made(files, config, addresses.label_page(wall_id, dpi), partial(pages.labels, wall_id, dpi))
        progress = self.order.progress if self.order else silent
        total = len(work.transits) + len(work.gone)
        for done, transit_id in enumerate((*work.transits, *work.gone), 1):
            for each in tongues:
                make = partial(each.transit, transit_id)
                if each is tongues[-1]:
                    make = partial(_counted, make, progress, done, total)
                self._made(files, config, addresses.transit_page(transit_id, each.code), make)
                self._made(files, config, addresses.card_page(transit_id, each.code), partial(each.card, transit_id))
                for revision, page in each.revisions(transit_id).items():
                    self._made(files, config, addresses.revision_page(transit_id, revision, each.code), page)
        for built in work.as_built.values():
            for digest, kept in built.photos.items():
                self._photo(files, config, digest, self.folder / kept)
        self._made(files, config, addresses.FINDER_DATA, partial(finder_script, work))
        for address, content in assets():
            self._put(files, Made(address, partial(bytes, content), config))
        for each in tongues:
            if each.words.language != SOURCE_LANGUAGE:
                address = addresses.script_words(each.words.language)
                self._made(files, config, address, partial(script_words, each.words))
                address = addresses.transit_scripts(each.words.language)
                self._made(files, config, address, partial(transit_scripts, each.words))
            for address, answer in each.answers().items() if not self._live else ():
                self._made(files, config, address, answer)
        marker = {"made_by": f"wallwork {generator.__version__}", "job": work.definition.job.uid}
        self._made(files, config, MARKER, lambda: json.dumps(marker) + "\n")
        config.nav = self._nav_named(config.nav)
        return files

    def _nav_named(self, items: Any) -> Any:
        if isinstance(items, list):
            return [self._nav_named(item) for item in items]
        if isinstance(items, dict):
            return {title: self._nav_named(item) for title, item in items.items()}
        return self._page_named(items) if isinstance(items, str) else items

    def _photo(self, files: Files, config: MkDocsConfig, digest: str, file: Path) -> None:
        def small() -> bytes:
            data = photo_of(file, digest)
            try:
                return shrink(data) if data is not None else blank()
            except NoPicture:
                return blank()

        self._put(files, Made(addresses.photo_file(digest), small, config))

    def _put(self, files: Files, file: File) -> None:
        if file.src_uri in files.src_uris:
            files.remove(files.src_uris[file.src_uri])
        files.append(file)

    def _made(self, files: Files, config: MkDocsConfig, address: str, make: Callable[[], str]) -> None:
        def encoded() -> bytes:
            text = make()
            return (self._flagged(text) if address.endswith(".html") else text).encode("utf-8")

        self._put(files, Made(address, encoded, config))

    def _page(self, files: Files, config: MkDocsConfig, address: str, title: str, make: Callable[[], Markup]) -> None:
        uri = address.removesuffix(".html") + ".md"
        self._put(files, File.generated(config, uri, content="", inclusion=InclusionLevel.NOT_IN_NAV))
        self.main[uri] = make
        self.titles[uri] = title

    def on_env(self, env: Environment, *, config: MkDocsConfig, files: Files) -> Environment:
        """Give the theme's templates the words of the pages' language."""
        words = self.words
        env.globals.update(say=words.say, language=words.language, direction=words.direction, is_kept=not self._live)
        return env

    def on_nav(self, nav: Navigation, *, config: MkDocsConfig, files: Files) -> Navigation:
        """Put the overview, the finder and the safety page before the planner's own pages."""
        self.own = [file.src_uri for file in files.documentation_pages() if file.src_uri not in self.titles]
        _escape_titles(nav.items)
        own: list[Any] = []
        for uri, title in self.titles.items():
            page = Page(Markup(escape(title)), files.src_uris[uri], config)
            if not uri.startswith("W/"):
                own.append(page)
        nav.items[:0] = own
        nav.pages[:0] = own
        nav.homepage = own[0]
        return nav

    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Write what phones keep, made of the finished files. Not under serve: nothing must outlive a change."""
        if self.work is not None and not self._live:
            pages = [uri.removesuffix(".md") + ".html" for uri in [*self.titles, *self.own]]
            write_offline(Path(config.site_dir), self.work, pages, self.languages)

    # -- a page on its way

    def on_pre_page(self, page: Page, *, config: MkDocsConfig, files: Files) -> Page:
        """Remember which page is being read, for messages."""
        self.reading = page.file.src_uri
        return page

    def on_page_markdown(self, markdown: str, *, page: Page, config: MkDocsConfig, files: Files) -> str:
        """Keep of a page's front matter its title only: the theme would print the rest as HTML."""
        title = page.meta.get("title")
        page.meta = {}
        if isinstance(title, str) and "title" not in vars(page):  # the navigation's name for it comes first
            page.title = Markup(escape(title))
        return markdown

    def on_page_content(self, html: str, *, page: Page, config: MkDocsConfig, files: Files) -> str:
        """Put in the HTML of the job's pages, which never was Markdown."""
        self.reading = None
        if not os.environ.get("SOURCE_DATE_EPOCH"):
            page.update_date = "1970-01-01"  # no clock on any page, and the site map carries this date
        make = self.main.get(page.file.src_uri)
        return html if make is None else str(make())

    def on_post_page(self, output: str, *, page: Page, config: MkDocsConfig) -> str:
        """Under serve leave the policy out, and say when the page is older than the job."""
        if self._live:
            output = _POLICY.sub("", output)  # MkDocs puts its reloading script into every page it serves
        return self._flagged(output)

    def _flagged(self, html: str) -> str:
        return flagged(html, self.problems) if self.problems else html


_POLICY = re.compile(r'<meta http-equiv="Content-Security-Policy"[^>]*>\s*')


def _counted(make: Callable[[], str], progress: Progress, done: int, total: int) -> str:
    html = make()
    progress("pages", done, total)
    return html


def _escape_titles(items: list[Any]) -> None:
    for item in items:
        if isinstance(item, Link) and not leads_to_a_page(item.url):
            log.warning(f"The navigation contains a link '{item.url}' that is no address of a page")
            item.url = ""
        if isinstance(item, Section | Link):
            item.title = Markup(escape(item.title or ""))
        elif item.title is not None:
            item.title = Markup(escape(item.title))
        elif not item.file.is_documentation_page():
            item.title = Path(item.file.src_uri).parent.name  # a transit's page, named by its ID
        if isinstance(item, Section):
            _escape_titles(item.children)


def _templates(name: str) -> Path:
    return Path(str(resources("site_templates"))) / name


def _theme(language: str) -> Theme:
    theme = Theme(name="material", custom_dir=str(_templates("theme")), font=False)
    known = any(Path(folder, "partials", "languages", f"{language}.html").is_file() for folder in theme.dirs)
    theme["language"] = language if known else "en"
    return theme


def _is_plain(docs: Path, uri: str) -> bool:
    path = docs / uri
    return path.is_file() and path.resolve().is_relative_to(docs.resolve())


# -- a page of problems ----------------------------------------------------------------------------


def problems_list(problems: Sequence[Problem]) -> Markup:
    """Return the problems as HTML, each with its place, its reason and its mend."""
    item = Markup("<li><p><code>{}</code><br><b>{}</b></p><p>why: {}<br>mend: {}</p></li>")
    return Markup("<h1>{}</h1><ol>{}</ol>").format(
        "Problems", Markup("").join(item.format(str(p.where), p.what, p.why, p.mend) for p in problems)
    )


def problems_page(problems: Sequence[Problem]) -> str:
    """Return a whole page that lists the problems and needs nothing else of the site."""
    return str(
        Markup(
            '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Problems</title>'
            '<meta name="viewport" content="width=device-width,initial-scale=1"></head>'
            '<body class="problems" style="font-family:sans-serif;max-width:60rem;margin:1rem auto;padding:0 1rem">{}'
            "<p>The pages before these problems stay as they were.</p></body></html>"
        ).format(problems_list(problems))
    )


_BODY = re.compile(r'<body(?! class="problems")[^>]*>')


def flagged(html: str, problems: Sequence[Problem]) -> str:
    """Put a line at the top of a page that says that it is older than the job's files."""
    line = str(
        Markup(
            '<p role="alert" style="margin:0;padding:8px 12px;background:#fff;color:#8a1200;border-bottom:4px solid">'
            '<a style="color:inherit" href="/problems.html">{}</a></p>'
        ).format(f"Problems in the job: {len(problems)}. This page is the last good one.")
    )
    return _BODY.sub(lambda body: body[0] + line, html, count=1)


# -- our own ways to run it ------------------------------------------------------------------------


def write_site(
    work: WorkPack,
    folder: Path,
    site: Path,
    locale: str | None = None,
    progress: Progress = silent,
    live: bool = False,
) -> None:
    """Write the whole site of ``work``, loaded by ``load_whole`` from ``folder``, into the folder ``site``.

    ``live`` leaves out what hinders a page that reloads itself. Raises WorkPackError for what the planner
    can mend in pages/ and mkdocs.yml, with all that MkDocs finds at once.
    """
    config = _config(folder, site)
    plugin = config.plugins["wallwork"]
    assert isinstance(plugin, WallworkPlugin)
    plugin.order = Order(work, locale, progress, live)
    with _listening() as messages:
        try:
            build(config)
        except MkDocsException as error:
            messages.append(str(error))
        except (RecursionError, ValueError) as error:
            if plugin.reading is None:
                raise
            del messages[:]  # MkDocs has logged the same, in its words
            messages.append(
                f"Doc file '{plugin.reading}' contains what can't be made a page ({type(error).__name__})"
            )
        finally:
            plugin.order = plugin.reading = None
    if messages:
        raise WorkPackError([problem_of(message, folder) for message in messages])


def _config(folder: Path, site: Path) -> MkDocsConfig:
    """Return the settings of MkDocs for a job. Its mkdocs.yml never reaches MkDocs, which runs what it asks for."""
    settings = read_settings(folder)
    docs = folder / FOLDER
    if not docs.is_dir():
        docs = site.parent / "no-pages"
        docs.mkdir(parents=True, exist_ok=True)
    config = MkDocsConfig(config_file_path=str(folder / "mkdocs.yml"))
    config.load_dict(
        {
            "site_name": "Wallwork",
            "docs_dir": str(docs.resolve()),
            "site_dir": str(site.resolve()),
            "plugins": ["wallwork"],
            "markdown_extensions": list(settings.markdown_extensions),
            **{
                key: value
                for key in ("nav", "not_in_nav", "exclude_docs")
                if (value := getattr(settings, key)) is not None
            },
        }
    )
    errors, warnings = config.validate()
    if errors or warnings:
        raise WorkPackError([problem_of(f"{key}: {said}", folder) for key, said in [*errors, *warnings]])
    return config


@contextmanager
def _listening() -> Iterator[list[str]]:
    """Collect what MkDocs warns of instead of printing it."""
    messages: list[str] = []

    class Ear(logging.Handler):
        def emit(self, record: logging.LogRecord) -> None:
            messages.append(record.getMessage())

    logger = logging.getLogger("mkdocs")
    ear = Ear(logging.WARNING)
    logger.addHandler(ear)
    try:
        yield messages
    finally:
        logger.removeHandler(ear)


def _watch(server: LiveReloadServer, folder: Path) -> None:
    """Build again when a file of the job, or of the catalogues beside it, changes."""
    for watched in (folder, folder.resolve().parent / "catalogues"):
        if watched.is_dir():
            server.watch(str(watched))


class _Server(LiveReloadServer):
    """MkDocs' reloading server over a folder that is swapped, and that says when its pages are old."""

    def __init__(self, build: Callable[[Path], None], tell: Tell, port: int, top: Path) -> None:
        self.problems: tuple[Problem, ...] = ()
        self._build, self._tell, self._top = build, tell, top
        self._numbers = count(1)
        (top / "0").mkdir()
        super().__init__(builder=self.rebuild, host="127.0.0.1", port=port, root=str(top / "0"))

    def rebuild(self) -> None:
        """Build into a fresh folder and serve that one; with problems go on with what there is."""
        old, new = Path(self.root), self._top / str(next(self._numbers))
        try:
            self._build(new)
        except WorkPackError as error:
            self._keep(old, new, error.problems)
        except Exception as error:
            # MkDocs' server would answer nothing more, so this is told as a problem too.
            fault = Problem(
                Where("job.yaml"),
                f"the site was not built: {error!r}",
                "this is a fault of wallwork, not of the job",
                "report it with the job folder",
            )
            self._keep(old, new, (fault,))
        else:
            self.problems, self.root = (), str(new)
            shutil.rmtree(old, ignore_errors=True)
            self._tell(())

    def _keep(self, old: Path, new: Path, problems: tuple[Problem, ...]) -> None:
        self.problems = problems
        shutil.rmtree(new, ignore_errors=True)
        names = ["problems.html"] if (old / MARKER).exists() else ["problems.html", "index.html"]
        for name in names:
            (old / name).write_text(problems_page(problems), encoding="utf-8", newline="\n")
        self._tell(problems)

    def _inject_js_into_html(self, content: bytes, epoch: int) -> bytes:
        if self.problems:
            content = flagged(content.decode("utf-8"), self.problems).encode("utf-8")
        injected: bytes = super()._inject_js_into_html(content, epoch)  # type: ignore[no-untyped-call]
        return injected


def serve_site(folder: Path, port: int, locale: str | None, progress: Progress, tell: Tell) -> None:
    """Serve the job in ``folder`` on this machine and build it again whenever one of its files changes.

    A job with problems never stops the server: the last good pages stay, each says so, and problems.html
    lists them. ``tell`` is called after each build with its problems. Nothing is written under the job.
    Ends with KeyboardInterrupt. Raises OSError for a port that can't be had.
    """

    def build_into(site: Path) -> None:
        work = load_whole(folder, partial(progress, "layouts"))
        write_site(work, folder, site, locale, progress, live=True)

    with TemporaryDirectory(prefix="wallwork-") as top:
        server = _Server(build_into, tell, port, Path(top))
        server.rebuild()
        _watch(server, folder)
        try:
            server.serve()  # type: ignore[no-untyped-call]
        finally:
            server.shutdown()
