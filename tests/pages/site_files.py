"""What tests of publishing compare: a whole site as names and digests, and a job that is changed."""

from hashlib import sha256
from pathlib import Path


def digests(site: Path) -> dict[str, str]:
    """Return the digest of every file of a site by its name; empty when there is no such folder."""
    return {
        path.relative_to(site).as_posix(): sha256(path.read_bytes()).hexdigest()
        for path in sorted(site.rglob("*"))
        if path.is_file()
    }


def replace(path: Path, old: str, new: str) -> None:
    """Replace text in a file of a job; the text must be there."""
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8", newline="\n")
