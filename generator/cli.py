"""The command ``wallwork``: arguments in, exit code out."""

import argparse
import contextlib
import difflib
import io
import json
import os
import sys
from collections.abc import Callable, Sequence
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import IO, TYPE_CHECKING, NoReturn, get_args

import generator
from generator.errors import Problem, WorkPackError

if TYPE_CHECKING:
    from generator.model.pack import WorkPack

GOOD, PROBLEMS, USAGE, NEEDS_YOU, STOPPED = 0, 1, 2, 3, 130

_ABOUT = """\
Turn the definition of a job, its walls, cable transits and cable schedule, into a site that a
crew can work from: for every transit the layout of its blocks, the layers to peel, the steps and
cautions in order, a card and labels.
"""

_TEACH = """\
a job is a folder:
  job.yaml        name, number, client, address of the site, languages
  walls.yaml      the walls, decks and cabinet sides
  transits.yaml   the transits (or a folder transits/ of such files)
  cables.csv      the cable schedule: tag, class, diameter, and the transits each cable passes
  catalogues/     the sealing systems (here or in the folder beside the job)
  pages/          pages of your own, in Markdown
  issued/         what was given out, written by 'wallwork issue' and never changed
  records/        what crews recorded, written by 'wallwork collect' and never changed
  mkdocs.yml      so that plain 'mkdocs build' and 'mkdocs serve' work too

begin with:
  wallwork new harbour                      write a small job that builds
  wallwork check harbour                    find its mistakes, each with file, line and column
  wallwork build harbour --out harbour-site build its site
  wallwork serve harbour                    show it in a browser and build again on every change
  wallwork issue harbour --rev A            give it out: from then on nothing moves it
  wallwork withdraw harbour A1-001 --why …  call off what was given out
  wallwork collect harbour phone/           take in what crews recorded
  wallwork one-more harbour A1-001 12.5     find where one more cable goes

exit codes:
  0    good
  1    the job has problems; nothing was built, a site built before stays as it was
  2    wrong usage, or a place that can't be read or written
  3    good, but some transits have no layout or need you; the site was built and says so
  130  stopped by Ctrl-C
"""


class _Parser(argparse.ArgumentParser):
    """argparse that guesses what was meant."""

    def error(self, message: str) -> NoReturn:
        self.print_usage(sys.stderr)
        say(f"wallwork: {message}", sys.stderr)
        raise SystemExit(USAGE)

    def _check_value(self, action: argparse.Action, value: object) -> None:
        if action.choices is not None and value not in action.choices:
            near = difflib.get_close_matches(str(value), [str(choice) for choice in action.choices], 1)
            meant = f"did you mean {near[0]}?" if near else f"there are {', '.join(map(str, action.choices))}"
            raise argparse.ArgumentError(None, f"there is no command {str(value)!r}; {meant}")


def _parser() -> argparse.ArgumentParser:
    layout = argparse.RawDescriptionHelpFormatter
    parser = _Parser(prog="wallwork", description=_ABOUT, epilog=_TEACH, formatter_class=layout)
    parser.add_argument("--version", action="version", version=f"wallwork {generator.__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    def command(name: str, run: Callable[[argparse.Namespace], int], line: str, more: str) -> argparse.ArgumentParser:
        made = commands.add_parser(name, help=line, description=f"{line}\n\n{more}", formatter_class=layout)
        made.set_defaults(run=run)
        return made

    new = command(
        "new",
        _new,
        "Write a small job that builds, to change into yours.",
        "It has an invented sealing system, one wall of each sort and a few cables, every file with\n"
        "comments. The job's UID is made here, once. Nothing is ever overwritten: the folder must be\n"
        "new or empty.\n\nexample:  wallwork new harbour",
    )
    new.add_argument("folder", metavar="FOLDER", type=Path, help="where to write the job")

    check = command(
        "check",
        _check,
        "Find the mistakes of a job without building it.",
        "Reads every file, computes every layout and judges it. Problems are printed one after the\n"
        "other as file:line:column, with the reason and what to write instead.\n\n"
        "exit codes: 0 good, 1 problems, 3 some transits need you\n\nexample:  wallwork check harbour",
    )
    _add_job(check)

    build = command(
        "build",
        _build,
        "Build the site of a job.",
        "Everything is checked first. The site is built beside the old one and then put in its place\n"
        "whole; if anything fails, the old site stays as it was. A folder that holds anything other\n"
        "than a Wallwork site is never replaced.\n\n"
        "exit codes: 0 good, 1 problems and nothing built, 3 built but some transits need you\n\n"
        "example:  wallwork build harbour --out harbour-site",
    )
    _add_job(build)
    build.add_argument("--out", metavar="DIR", type=Path, required=True, help="the folder of the site")
    _add_locale(build)

    serve = command(
        "serve",
        _serve,
        "Show the site of a job in a browser; build again on every change.",
        "Only this machine can reach it. A mistake in a file never stops it: the last good pages stay,\n"
        "each says so, and /problems.html lists what to mend.\n\nexample:  wallwork serve harbour",
    )
    _add_job(serve)
    serve.add_argument("--port", metavar="N", type=_port, default=8000, help="the port (8000)")
    _add_locale(serve)

    issue = command(
        "issue",
        _issue,
        "Give out transits under a revision: from then on nothing moves them.",
        "Each transit that was not given out yet, or asks for other work than its last revision, is pinned\n"
        "whole in issued/<ID>/<REV>.json; the others keep the revision they have. Pins are written once and\n"
        "never changed: keep them in git or where the job is kept. What changes in the definition afterwards\n"
        "is told by check, build and the site, and reaches a page only when it is issued again.\n\n"
        "exit codes: 0 good, 1 problems and nothing issued, 3 issued but some transits have no layout\n\n"
        "example:  wallwork issue harbour --rev A\n          wallwork issue harbour A1-001 --rev B",
    )
    _add_job(issue)
    issue.add_argument("ids", metavar="ID", nargs="*", help="the transits (all that changed when none is named)")
    issue.add_argument("--rev", metavar="REV", type=_revision, required=True, help="the revision, such as A")
    issue.add_argument(
        "--words", action="store_true", help="issue again, too, what says the same work in other words"
    )

    withdraw = command(
        "withdraw",
        _withdraw,
        "Call off transits that were given out.",
        "For each a file issued/<ID>/<REV>.withdrawn.json says so and why; like a pin it is never changed. The\n"
        "pages of its labels then say that nothing is done by them, whether or not the definition still has the\n"
        "transit, and what crews recorded stays. A list says which cards and labels to collect. Issued again\n"
        "under a new revision, it holds again.\n\n"
        "exit codes: 0 good, 1 problems and nothing withdrawn, 3 withdrawn but still in the definition\n\n"
        'example:  wallwork withdraw harbour A1-002 --why "the pump is not bought"',
    )
    _add_job(withdraw)
    withdraw.add_argument("ids", metavar="ID", nargs="+", help="the transits")
    withdraw.add_argument("--why", metavar="TEXT", type=_why, required=True, help="the reason, for the pages")

    collect = command(
        "collect",
        _collect,
        "Take in what crews recorded.",
        "FILES are records as phones export them (zips), folders of them, or loose JSON files with their photos\n"
        "beside them. Each is checked, and kept as records/<ID>/<SHA-256>.zip; nothing is ever overwritten, and\n"
        "what you hand in stays where it is. To collect twice changes nothing.\n\n"
        "exit codes: 0 good, 1 some files were refused and the good ones kept, 3 all kept but some need you\n\n"
        "example:  wallwork collect harbour /media/phone/records",
    )
    _add_job(collect)
    collect.add_argument("files", metavar="FILES", nargs="+", type=Path, help="zips, folders, JSON files")

    one_more = command(
        "one-more",
        _one_more,
        "Find where one more cable goes in a transit, with the least to take out.",
        "It looks for a spare near the clamping unit first, then for one row that is cut anew, last for all packed\n"
        "anew; from what was built where a record says so, else from the layout as issued or planned. It changes\n"
        "nothing: put the cable on the schedule and keep what stays in place (keep: of the transit), then issue.\n\n"
        "exit codes: 0 there is a place, 3 there is none\n\n"
        "example:  wallwork one-more harbour A1-001 12.5\n"
        "          wallwork one-more harbour A1-001 12.5 --class data",
    )
    _add_job(one_more)
    one_more.add_argument("id", metavar="ID", help="the transit")
    one_more.add_argument("diameter", metavar="MM", type=_diameter, help="diameter of the cable, mm")
    one_more.add_argument("--class", metavar="CLASS", dest="service", default="power", help="its class (power)")
    one_more.add_argument("--bonded", action="store_true", help="its braid or screen must be bonded")

    schema = command(
        "schema",
        _schema,
        "Write the JSON Schemas of a job's files, for your editor.",
        "An editor that knows them completes keys and marks mistakes while you type, by the same rules\n"
        "as 'wallwork check'. 'wallwork new' has already put them beside its job, in schemas/.\n\n"
        "example:  wallwork schema --out harbour/schemas",
    )
    schema.add_argument("--out", metavar="DIR", type=Path, default=Path("schemas"), help="where to write (schemas)")
    return parser


def _add_job(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("job", metavar="JOB", type=Path, help="the folder of the job")


def _add_locale(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--locale", metavar="CODE", type=_locale, help="language of the pages (the job's first)")


def _locale(text: str) -> str:
    from generator.pages.words import SOURCE_LANGUAGE, Words, languages

    if Words(text).language == SOURCE_LANGUAGE and text.split("-")[0] != SOURCE_LANGUAGE:
        raise argparse.ArgumentTypeError(f"there are no words for {text!r} yet, only for {', '.join(languages())}")
    return text


def _revision(text: str) -> str:
    from pydantic import TypeAdapter, ValidationError

    from generator.model.scalars import Ident

    try:
        return TypeAdapter(Ident).validate_python(text)
    except ValidationError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is no revision: 1 to 24 capital letters, digits and hyphens, such as A or B2"
        ) from None


def _why(text: str) -> str:
    from pydantic import TypeAdapter, ValidationError

    from generator.model.scalars import Note

    try:
        return TypeAdapter(Note).validate_python(text)
    except ValidationError:
        raise argparse.ArgumentTypeError(f"{text!r} is no reason: write one, in plain text") from None


def _diameter(text: str) -> Decimal:
    from pydantic import TypeAdapter, ValidationError

    from generator.model.scalars import Mm

    try:
        return TypeAdapter(Mm).validate_python(text)
    except ValidationError:
        raise argparse.ArgumentTypeError(f"{text!r} is no diameter: write millimetres such as 12.5") from None


def _port(text: str) -> int:
    if not (text.isascii() and text.isdigit() and 0 < int(text[:6]) < 65536):
        raise argparse.ArgumentTypeError(f"{text!r} is no port: a port is a number from 1 to 65535")
    return int(text)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit code."""
    os.environ["NO_MKDOCS_2_WARNING"] = "1"
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a code page can't say what jobs say
            stream.reconfigure(encoding="utf-8", errors="backslashreplace", newline="\n")
    try:
        options = _parser().parse_args(arguments)
        code: int = options.run(options)
    except SystemExit as end:
        return end.code if isinstance(end.code, int) else GOOD
    except KeyboardInterrupt:
        say("\nstopped", sys.stderr)
        return STOPPED
    except BrokenPipeError:
        # The reader of a pipe went away: nothing more to say, and nothing to say it to.
        with contextlib.suppress(OSError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return GOOD
    except _Wrong as wrong:
        say(f"wallwork: {wrong}", sys.stderr)
        return USAGE
    return code


class _Wrong(Exception):
    """Wrong usage, found after the arguments were read."""


# -- what each command does ------------------------------------------------------------------------


def _new(options: argparse.Namespace) -> int:
    from generator.pages.starter import write_starter

    folder: Path = options.folder
    try:
        written = write_starter(folder)
    except FileExistsError as error:
        raise _Wrong(
            f"{error.filename or folder} is there already; new never overwrites: give a new folder"
        ) from None
    except OSError as error:
        raise _Wrong(f"{folder} can't be written: {error.strerror}") from None
    say(f"{len(written)} files written; next:")
    say(f"  wallwork check {folder}\n  wallwork build {folder} --out {folder}-site\n  wallwork serve {folder}")
    return GOOD


def _check(options: argparse.Namespace) -> int:
    from generator.pages.own_pages import load_whole

    folder = _job(options)
    try:
        with _Line() as line:
            work = load_whole(folder, partial(line.progress, "layouts"))
    except WorkPackError as error:
        print_problems(error.problems, folder, sys.stdout)
        return PROBLEMS
    print_problems(work.problems, folder, sys.stdout)
    stuck = [pack.id for pack in work.transits.values() if not pack.can_be_built]
    say(f"{len(work.transits)} transits, {len(work.transits) - len(stuck)} ready to build")
    return NEEDS_YOU if stuck else GOOD


def _build(options: argparse.Namespace) -> int:
    from generator.pages.publish import Refused, build_site

    folder = _job(options)
    try:
        with _Line() as line:
            work = build_site(folder, options.out, line.progress, options.locale)
    except WorkPackError as error:
        print_problems(error.problems, folder, sys.stderr)
        say("nothing was built", sys.stderr)
        return PROBLEMS
    except Refused as error:
        raise _Wrong(str(error)) from None
    print_problems(work.problems, folder, sys.stderr)
    stuck = [pack.id for pack in work.transits.values() if not pack.can_be_built]
    say(f"{options.out / 'index.html'}: {len(work.transits)} transits")
    if stuck:
        say(f"{len(stuck)} of them need you: {', '.join(stuck[:12])}{' …' if len(stuck) > 12 else ''}", sys.stderr)
    return NEEDS_YOU if stuck else GOOD


def _serve(options: argparse.Namespace) -> int:
    from generator.pages.plugin import serve_site

    folder = _job(options)
    address = f"http://127.0.0.1:{options.port}/"
    with _Line() as line:

        def tell(problems: Sequence[Problem]) -> None:
            line.clear()
            print_problems(problems, folder, sys.stderr)
            state = "not built, the last good pages stay" if problems else "built"
            say(f"{state}: {address} (Ctrl-C ends it)", sys.stderr)

        try:
            serve_site(folder, options.port, options.locale, line.progress, tell)
        except OSError as error:
            raise _Wrong(f"port {options.port} can't be had: {error.strerror}; give another --port") from None
    return GOOD


def _issue(options: argparse.Namespace) -> int:
    from generator.issue import issue
    from generator.keep import Held, holding

    folder = _job(options)
    try:
        with _Line() as line, holding(folder / "issued"):
            done = issue(folder, options.ids, options.rev, partial(line.progress, "layouts"), words=options.words)
    except WorkPackError as error:
        print_problems(error.problems, folder, sys.stderr)
        say("nothing was issued", sys.stderr)
        return PROBLEMS
    except Held:
        raise _Wrong(f"another wallwork is issuing {folder}: wait for it to end") from None
    except OSError as error:
        raise _Wrong(
            f"{error.filename or folder} can't be written: {error.strerror}; what is issued is whole"
        ) from None
    if done.completed:
        say(f"an order that was cut short is finished now: {', '.join(done.completed)}")
    for item in done.issued:
        say(f"{item.id}: issued as {item.revision}{f', replaces {item.replaces}' if item.replaces else ''}")
        for change in item.changes:
            say(f"  {change.says}")
    if done.unchanged:
        kept = [f"{name} {revision}" for name, revision in done.unchanged]
        say(f"{len(kept)} unchanged, not issued again: {', '.join(kept[:12])}{' …' if len(kept) > 12 else ''}")
    if done.words:
        names = f"{', '.join(done.words[:12])}{' …' if len(done.words) > 12 else ''}"
        say(f"  the same work in other words: {names}; their pages keep the old ones (--words issues them again)")
    replaced = [item for item in done.issued if item.replaces]
    if replaced:
        say("cards and labels to replace on site:")
        for wall in sorted({item.wall for item in replaced}):
            here = ", ".join(f"{i.id} ({i.replaces} by {i.revision})" for i in replaced if i.wall == wall)
            say(f"  wall {wall}: {here}")
    say(f"{len(done.issued)} issued as {options.rev}; build the site again to print them")
    if done.stuck:
        say(f"no layout, not issued: {', '.join(done.stuck)}; 'wallwork check' says why", sys.stderr)
    return NEEDS_YOU if done.stuck else GOOD


def _withdraw(options: argparse.Namespace) -> int:
    from generator.issue import withdraw
    from generator.keep import Held, holding

    folder = _job(options)
    try:
        with holding(folder / "issued"):
            done, completed = withdraw(folder, options.ids, options.why)
    except WorkPackError as error:
        print_problems(error.problems, folder, sys.stderr)
        say("nothing was withdrawn", sys.stderr)
        return PROBLEMS
    except Held:
        raise _Wrong(f"another wallwork is issuing {folder}: wait for it to end") from None
    except OSError as error:
        raise _Wrong(
            f"{error.filename or folder} can't be written: {error.strerror}; what is issued is whole"
        ) from None
    if completed:
        say(f"an order that was cut short is finished now: {', '.join(completed)}")
    for item in done:
        say(f"{item.id}: {item.revisions[-1]} is withdrawn")
    say("cards and labels to collect on site:")
    for wall in sorted({item.wall for item in done}):
        here = ", ".join(f"{item.id} ({', '.join(item.revisions)})" for item in done if item.wall == wall)
        say(f"  wall {wall}: {here}")
    say("build the site again: the pages of these labels then say so")
    defined = [item.id for item in done if item.defined]
    if defined:
        say(f"still in the definition: {', '.join(defined)}; take them out, or they can be issued again", sys.stderr)
    return NEEDS_YOU if defined else GOOD


def _collect(options: argparse.Namespace) -> int:
    from generator.collect import collect
    from generator.keep import Held, holding

    folder = _job(options)
    try:
        with holding(folder / "records"):
            came = collect(folder, options.files)
    except WorkPackError as error:
        print_problems(error.problems, folder, sys.stderr)
        say("nothing was collected", sys.stderr)
        return PROBLEMS
    except Held:
        raise _Wrong(f"another wallwork is collecting into {folder}: wait for it to end") from None
    except OSError as error:
        raise _Wrong(
            f"{error.filename or folder} can't be written: {error.strerror}; what is kept is whole"
        ) from None
    for item in came:
        words = {"kept": f"kept as {item.place}", "known": f"known already, {item.place}", "refused": "refused"}
        say(f"{item.file}: {f'{item.transit} ' if item.transit else ''}{words[item.what]}")
        for problem in (*item.problems, *item.looks):
            say(f"  {problem.what}")
            say("".join(f"    {word:<5} {text}\n" for word, text in _why_and_mend(problem)).rstrip("\n"))
    counts = {what: sum(item.what == what for item in came) for what in ("kept", "known", "refused")}
    say(f"{counts['kept']} kept, {counts['known']} known already, {counts['refused']} refused")
    if counts["refused"]:
        return PROBLEMS
    return NEEDS_YOU if any(item.looks for item in came) else GOOD


def _one_more(options: argparse.Namespace) -> int:
    from generator.model.reentry import Addition
    from generator.model.scalars import ServiceClass
    from generator.workpack import find_place, load

    folder, classes = _job(options), get_args(ServiceClass)
    if options.service not in classes:
        raise _Wrong(f"there is no class {options.service!r}; there are {', '.join(classes)}")
    try:
        with _Line() as line:
            work = load(folder, partial(line.progress, "layouts"))
    except WorkPackError as error:
        print_problems(error.problems, folder, sys.stderr)
        return PROBLEMS
    if options.id not in work.transits:
        near = difflib.get_close_matches(options.id, list(work.transits), 1)
        raise _Wrong(f"there is no transit {options.id!r}{f'; did you mean {near[0]}?' if near else ''}")
    found = find_place(work, options.id, options.diameter, options.service, options.bonded)
    if not isinstance(found, Addition):
        say(f"{options.id}: {found.what}\n  why:  {found.why}\n  mend: {found.mend}")
        return NEEDS_YOU
    ways = {
        "spare": "in place of a spare",
        "filler": "in place of a filler",
        "recut": f"row {found.position.rpartition('.')[0]} is cut anew",
        "repack": "all is packed anew",
    }
    say(f"{options.id}: place {found.position}, block {found.part}, {ways[found.way]}")
    say(f"  rows to take out:       {', '.join(found.rows_out) or 'none'}")
    say(f"  row plates to take out: {found.plates_out}")
    say(f"  cables with new halves: {', '.join(found.disturbed) or 'none'}")
    say("  to have at hand:")
    for item in found.at_hand:
        say(f"    {item.count} {item.part} ({item.why})")
    say("  in this order:")
    for step in steps_to_say(work, options.id):
        say(step)
    return GOOD


def steps_to_say(work: "WorkPack", transit_id: str) -> list[str]:
    """Return the steps of adding a cable as lines of text, each caution before its step."""
    from generator.workpack import steps_of_adding

    lines = []
    for step in steps_of_adding(work, transit_id):
        lines += [f"       {c.signal.upper()}: {c.title}. {c.text}" for c in step.cautions]
        lines.append(f"    {step.number:>2} {step.title}. {step.text}")
    lines.append("    then every step of packing, closing, reading again and testing on its page, anew")
    return lines


def _why_and_mend(problem: Problem) -> list[tuple[str, str]]:
    return [(word, text) for word, text in (("why:", problem.why), ("mend:", problem.mend)) if text]


def _schema(options: argparse.Namespace) -> int:
    from generator.source.schema import schemas

    out: Path = options.out
    try:
        out.mkdir(parents=True, exist_ok=True)
        for name, schema in schemas().items():
            text = json.dumps(schema, indent=2, ensure_ascii=False) + "\n"
            (out / name).write_text(text, encoding="utf-8", newline="\n")
            say(str(out / name))
    except OSError as error:
        raise _Wrong(f"{out} can't be written: {error.strerror}") from None
    return GOOD


def _job(options: argparse.Namespace) -> Path:
    folder: Path = options.job
    if not folder.is_dir():
        noun = "is a file" if folder.exists() else "is not there"
        raise _Wrong(f"{folder} {noun}: a job is a folder (wallwork new {folder} writes one)")
    return folder


# -- what is printed -------------------------------------------------------------------------------


def say(text: str, stream: IO[str] | None = None) -> None:
    """Print lines without anything that could steer a terminal."""
    stream = stream or sys.stdout
    stream.write("".join(ch if ch.isprintable() or ch == "\n" else "?" for ch in text) + "\n")
    stream.flush()


def print_problems(problems: Sequence[Problem], folder: Path, stream: IO[str]) -> None:
    """Print each problem with its path as the person at this terminal would write it."""
    for problem in problems:
        where = problem.where
        path = os.path.normpath(folder / where.file)
        say(f"{path}:{where.line}:{where.column}: {problem.what}", stream)
        say(f"  why:  {problem.why}\n  mend: {problem.mend}", stream)
    stops = sum(problem.severity == "stop" for problem in problems)
    if problems:
        say(f"{stops} to mend, {len(problems) - stops} to look at", stream)


class _Line:
    """One line at the terminal that says how far long work is; silent where nobody watches."""

    def __init__(self) -> None:
        self._watched = sys.stderr.isatty()
        self._shown = ""

    def __enter__(self) -> "_Line":
        return self

    def __exit__(self, *_: object) -> None:
        self.clear()

    def progress(self, stage: str, done: int, total: int) -> None:
        """Show it, no more often than the eye follows: every hundredth of the whole."""
        if self._watched and (done == total or done % max(1, total // 100) == 0):
            self.clear()
            self._shown = f"{stage} {done} of {total}"
            sys.stderr.write(self._shown)
            sys.stderr.flush()

    def clear(self) -> None:
        """Take the line away, for other words to be printed."""
        if self._shown:
            sys.stderr.write("\r" + " " * len(self._shown) + "\r")
            sys.stderr.flush()
            self._shown = ""
