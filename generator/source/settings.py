"""What ``mkdocs.yml`` of a job may say. MkDocs' own reader runs what a file asks for; this one reads text."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Literal

from pydantic import ValidationError

from generator.errors import Problem, Where, WorkPackError
from generator.model.scalars import Model, Name, Note, YesNo, quoted
from generator.source.explain import explain
from generator.source.files import read_text
from generator.source.positions import Items, Map, Text
from generator.source.yaml_text import parse_yaml

FILE = "mkdocs.yml"

Extension = Literal["abbr", "admonition", "def_list", "footnotes", "sane_lists", "tables", "toc"]


class SiteSettings(Model):
    """``mkdocs.yml`` of a job: little is to be said, since the site is the job's."""

    site_name: Name | None = None
    """For MkDocs, which asks for it; pages show the job's name."""
    docs_dir: Literal["pages"] = "pages"
    """The folder of the planner's own pages; nothing else is published."""
    strict: YesNo = True
    """For plain MkDocs; Wallwork is always strict."""
    theme: Any = "material"
    """Wallwork brings its own frame."""
    plugins: Any = ("wallwork",)
    """The plugin that adds the job's pages, and no other."""
    nav: Any = None
    """Order and names of the planner's own pages; the job's stand before them."""
    not_in_nav: Note | None = None
    """Own pages that are in no navigation, as MkDocs writes it."""
    exclude_docs: Note | None = None
    """Own files that are not published, as MkDocs writes it."""
    markdown_extensions: tuple[Extension, ...] = ()
    """What own pages may use: none of these reads a file, runs anything or sets attributes."""
    site_dir: Name | None = None
    """For plain MkDocs."""
    site_url: Name | None = None
    """For plain MkDocs; the job says the address."""
    dev_addr: Name | None = None
    """For plain MkDocs."""


def read_settings(folder: Path, file: str = FILE) -> SiteSettings:
    """Read ``mkdocs.yml``, or another ``file`` like it, of the job in ``folder``.

    Without the file, return what it would say. ``nav`` comes back as plain lists, dicts and text. Raises
    WorkPackError with all its problems.
    """
    path = folder / file
    if not path.exists() and not path.is_symlink():
        return SiteSettings()
    root = parse_yaml(read_text(path, (folder.resolve(),), file), file)
    problems = [*_judge_theme(root), *_judge_plugins(root), *_judge_nav(root.get("nav", ""), root)]
    settings = None
    try:
        settings = SiteSettings.model_validate(root)
    except ValidationError as error:
        problems += explain(error, SiteSettings, root)
    if problems or settings is None:
        raise WorkPackError(problems)
    return settings.model_copy(update={"nav": _plain(root["nav"])}) if root.get("nav") else settings


def _judge_theme(root: Map) -> Iterator[Problem]:
    given = root.get("theme", "")
    name = given.get("name", "") if isinstance(given, Map) else given
    if name not in ("material", "") or (isinstance(given, Map) and given.keys() - {"name", "font"}):
        yield Problem(
            root.where_key("theme"),
            "theme asks for another look",
            "the pages' frame is Wallwork's own, and nothing of it comes from elsewhere",
            "write theme: material, or leave it out",
        )


def _judge_plugins(root: Map) -> Iterator[Problem]:
    given = root.get("plugins", "")
    for item in given if isinstance(given, Items) else list(given) if isinstance(given, Map) else [given]:
        name = next(iter(item), "") if isinstance(item, Map) else item
        options = item[name] if isinstance(item, Map) and name else given.get(item) if isinstance(given, Map) else ""
        if options:
            yield Problem(
                root.where_key("plugins"),
                "plugins give wallwork options",
                "it has none: the job's own files say everything",
                "write - wallwork alone",
            )
        elif name not in ("wallwork", ""):
            yield Problem(
                name.where if isinstance(name, Text) else root.where_key("plugins"),
                f"plugins name {quoted(name)}",
                "a plugin is a program, and the site of a job is made by wallwork alone",
                "leave wallwork there and remove the rest",
            )


def _judge_nav(node: Any, parent: Map | Items) -> Iterator[Problem]:
    """Find what is no navigation: a list whose items are a page, a title with a page, or with such a list."""
    if isinstance(node, Items):
        for item in node:
            inner = next(iter(item.values())) if isinstance(item, Map) and len(item) == 1 else item
            if isinstance(inner, Items) and isinstance(item, Map):
                yield from _judge_nav(inner, node)
            elif not isinstance(inner, Text):
                yield _no_page(item.where)
    elif node != "":
        yield _no_page(parent.where_key("nav") if isinstance(parent, Map) else parent.where)


def _no_page(where: Where) -> Problem:
    return Problem(
        where,
        "nav has something that is no page",
        "an item is a page, a title with a page, or a title with a list of items",
        "write each as - Title: page.md on its own line",
    )


def _plain(node: Any) -> Any:
    if isinstance(node, Items):
        return [_plain(item) for item in node]
    if isinstance(node, Map):
        return {str(key): _plain(value) for key, value in node.items()}
    return str(node)
