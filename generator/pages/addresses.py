"""Where every page of a site is, and how one page leads to another: as files, so that a disk serves too."""

from posixpath import dirname, relpath

OVERVIEW = "index.html"
SAFETY = "safety/index.html"
FINDER = "find/index.html"
REGISTER = "register/index.html"
REGISTER_CSV = "register/register.csv"
MATERIAL = "material/index.html"
MATERIAL_CSV = "material/material.csv"
MATERIAL_JOB_CSV = "material/material-job.csv"
MATERIAL_XLSX = "material/material.xlsx"
FINDER_DATA = "find/find-data.js"
QUALITY = "quality/index.html"
FIGURES = "figures/index.html"
ASSETS = "assets"
TRANSIT_STYLES = "assets/transit-page.css"
WORKER = "worker.js"
LIST = "offline/list.json"
BUILD = "offline/build.json"


def in_language(address: str, language: str = "") -> str:
    """Return the address of a page in another language than the job's first: index.html, index.pl.html."""
    return f"{address.removesuffix('.html')}.{language}.html" if language else address


def transit_page(transit_id: str, language: str = "") -> str:
    """Return the address of a transit's page. It is on labels, so it never changes."""
    return in_language(f"T/{transit_id}/index.html", language)


def card_page(transit_id: str, language: str = "") -> str:
    """Return the address of a transit's card for printing."""
    return in_language(f"T/{transit_id}/card.html", language)


def revision_page(transit_id: str, revision: str, language: str = "") -> str:
    """Return the address of one revision of a transit. Labels of issued work carry it, so it never changes."""
    return in_language(f"T/{transit_id}/{revision}/index.html", language)


def answer_pages(language: str = "") -> tuple[str, str]:
    """Return what the worker answers for a card newer than the phone, and for what is not on it."""
    return in_language("offline/newer.html", language), in_language("offline/away.html", language)


def pack_file(digest: str) -> str:
    """Return the address of a pack by its digest. No ending that a host would unpack, or call text, by itself."""
    return f"offline/{digest[:16]}.pack"


def script_words(language: str) -> str:
    """Return the address of what scripts say in a language other than English."""
    return f"assets/words.{language}.js"


def transit_scripts(language: str = "en") -> str:
    """Return the address of the scripts of a transit's page, with their words in a language."""
    return "assets/transit-page.js" if language == "en" else f"assets/transit-page.{language}.js"


def photo_file(digest: str) -> str:
    """Return the address of a photo of a record, by the digest of the photo as it came home."""
    return f"photos/{digest}.jpg"


def wall_page(wall_id: str) -> str:
    """Return the address of a wall's page."""
    return f"W/{wall_id}/index.html"


def label_page(wall_id: str, dpi: int = 203) -> str:
    """Return the address of a wall's sheets of labels, for printers of 203 or 300 dots per inch."""
    return f"W/{wall_id}/labels.html" if dpi == 203 else f"W/{wall_id}/labels-{dpi}.html"


def marking_page(wall_id: str, sheet: str) -> str:
    """Return the address of a wall's marking-out sheet on a4 or a3."""
    return f"W/{wall_id}/marking-{sheet}.html"


def quality_page(wall_id: str) -> str:
    """Return the address of a wall's quality plan."""
    return f"W/{wall_id}/quality.html"


def quality_section(wall_id: str, transit_id: str) -> str:
    """Return where a transit's own quality plan stands on its wall's."""
    return f"{quality_page(wall_id)}#{transit_id}"


def link(here: str, there: str) -> str:
    """Return how the page at ``here`` leads to the file at ``there``; both from the root of the site."""
    path, mark, fragment = there.partition("#")
    return relpath(path, dirname(here) or ".") + mark + fragment
