"""What ``wallwork new`` writes: a small job that builds, with schemas for an editor beside it."""

import json
from importlib.resources import files
from pathlib import Path
from uuid import uuid4

from generator.source.schema import schemas

_UID = "@UID@"
_HIDDEN = "dot-"
"""A file of that name in site_templates/starter is written with a dot: the package has no dotfiles of its own."""


def write_starter(folder: Path) -> tuple[Path, ...]:
    """Write a new job into ``folder``, which is new or empty; return the files written.

    Raises FileExistsError, having written nothing, for a folder that holds anything; OSError.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise FileExistsError(17, "is there already", str(folder))
    source = Path(str(files("site_templates"))) / "starter"
    texts = {
        _written(path.relative_to(source)): path.read_text(encoding="utf-8")
        for path in sorted(source.rglob("*"))
        if path.is_file()
    }
    for name, schema in schemas().items():
        texts[Path("schemas", name)] = json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
    uid = str(uuid4())
    written = []
    for place, text in texts.items():
        path = folder / place
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text.replace(_UID, uid))
        written.append(path)
    return tuple(written)


def _written(path: Path) -> Path:
    hidden = path.name.startswith(_HIDDEN)
    return path.with_name("." + path.name.removeprefix(_HIDDEN)) if hidden else path
