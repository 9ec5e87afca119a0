"""The command line: each command parses, calls one function and prints."""

from __future__ import annotations

import argparse
import io
import os
import sys
from collections.abc import Sequence
from pathlib import Path

from benchproof.values.errors import BenchproofError


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Returns
    -------
    int
        0 if it worked, 1 if not, 2 for wrong usage, 130 if stopped. `check`: 0 if it
        found nothing, 1 if it found something, 2 if it cannot check.
    """
    if arguments is None:
        _arrange_process()
    options = _parser().parse_args(arguments)
    try:
        status: int | None = options.command(options)
        sys.stdout.flush()
    except BrokenPipeError:  # who reads our output has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except (BenchproofError, OSError) as problem:
        print(_shown(f"benchproof: {problem}"), file=sys.stderr)
        return 2 if options.command is _check else 1
    except KeyboardInterrupt as stopped:
        said = str(stopped) or "stopped; what was recorded is kept."
        print(_shown(f"\nbenchproof: {said}"), file=sys.stderr)
        return 130
    return status or 0


def _arrange_process() -> None:
    """Arrange what only a process that is ours alone may."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            # An Ω on a terminal or in a pipe that has none must not stop a run.
            stream.reconfigure(errors="backslashreplace")
    # What reads notebooks would first compile a grammar of web addresses, for a
    # second or more, and no notebook's schema asks for it.
    sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]


def _shown(text: str) -> str:
    """Return what a person typed as a terminal may print it; line ends stay."""
    from benchproof.values.tables import visible

    return "\n".join(map(visible, text.split("\n")))


class _Version(argparse.Action):
    """Looks the version up only when it is asked for."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from importlib.metadata import version

        print(f"benchproof {version('benchproof')}")
        parser.exit()


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="benchproof",
        description="Teardown notebooks with uncertainty: record, judge, publish, "
        "measure again.",
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="say the version")
    commands = parser.add_subparsers(metavar="COMMAND", required=True)
    new = commands.add_parser("new", help="make a case folder from the template")
    new.add_argument("title", help="what is investigated, in words")
    new.add_argument("--in", dest="parent", default=".", help="folder to make it in")
    new.add_argument(
        "--like",
        metavar="CASE",
        help="start from another case: its differences, hazards, energies, contacts "
        "and instruments; its rivals and predictions stay behind",
    )
    new.add_argument(
        "--instruments", metavar="FILE",
        help="the bench's instruments.toml, copied into the case (otherwise that of "
        "--like, or the one BENCHPROOF_INSTRUMENTS names)",
    )  # fmt: skip
    new.add_argument(
        "--quick", dest="template", action="store_const", const="quick",
        default="case", help="a short notebook: one claim, one rival, one quantity",
    )  # fmt: skip
    new.set_defaults(command=_new)

    run = commands.add_parser("run", help="run a case afresh and say what moved")
    run.add_argument("case", help="the case folder")
    run.add_argument(
        "--cell-timeout", type=float, default=600, metavar="SECONDS",
        help="how long a cell may take, 600 by default",
    )  # fmt: skip
    run.set_defaults(command=_run)

    compare = commands.add_parser(
        "compare", help="compare two cases, results files, bundles or rounds (CASE@1)"
    )
    compare.add_argument("first", help="a case, results file or bundle; @1 for a round")
    compare.add_argument("second", help="what it is compared with")
    compare.add_argument(
        "--map", action="append", default=[], metavar="R_a=R_b",
        help="a quantity or rival of the first that the second calls otherwise",
    )  # fmt: skip
    compare.add_argument(
        "--same-instruments", action="store_true",
        help="instruments of one name are the same pieces: their gain cancels",
    )  # fmt: skip
    compare.add_argument(
        "--html", metavar="FILE", help="also write it as one page for a browser"
    )
    compare.set_defaults(command=_compare)

    publish = commands.add_parser("publish", help="write the write-up, one HTML file")
    publish.add_argument("case", help="the case folder")
    publish.add_argument(
        "--code", choices=("folded", "hidden", "shown"),
        help="the notebook's code: folded away by default, in a PDF hidden",
    )  # fmt: skip
    publish.add_argument(
        "--pdf", action="store_true", help="also as PDF (needs benchproof[pdf])"
    )
    publish.add_argument(
        "--figures", action="store_true",
        help="also every figure by itself, 1920 x 1080, and a summary",
    )  # fmt: skip
    publish.set_defaults(command=_publish)

    bundle = commands.add_parser(
        "bundle", help="pack a case for strangers: one zip file with its hashes"
    )
    bundle.add_argument("case", help="the case folder")
    bundle.add_argument(
        "--also", action="append", default=[], metavar="FILE",
        help="a further file of the case that its notebook needs",
    )  # fmt: skip
    bundle.add_argument(
        "--largest-capture", type=int, default=20_000_000, metavar="BYTES",
        help="of larger captures only the hash is packed",
    )  # fmt: skip
    bundle.add_argument(
        "--as-it-is",
        action="store_true",
        help="also where people wrote names or paths of this machine",
    )
    bundle.set_defaults(command=_bundle)

    check = commands.add_parser(
        "check", help="check a case or a bundle; nothing in it is run without --run"
    )
    check.add_argument("what", help="a case folder or a bundle")
    check.add_argument(
        "--run", action="store_true", help="also run its notebook, with your rights"
    )
    check.add_argument(
        "--cell-timeout", type=int, default=600, help="seconds a cell may take"
    )
    check.set_defaults(command=_check)

    lab = commands.add_parser("lab", help="open JupyterLab, at a case or at its cards")
    lab.add_argument(
        "case", nargs="?", help="the case folder; without one, the cards make one"
    )
    lab.set_defaults(command=_lab)

    demo = commands.add_parser("demo", help="copy, run and publish a worked case")
    demo.add_argument("--in", dest="parent", default="demo", help="folder to copy to")
    demo.set_defaults(command=_demo)
    return parser


def _new(options: argparse.Namespace) -> None:
    from benchproof.keeping.newcase import new_case

    folder = new_case(
        options.title,
        options.parent,
        like=options.like,
        instruments=options.instruments,
        template=options.template,
    )
    print(f"Made {folder}. Next: benchproof lab {folder}")


def _run(options: argparse.Namespace) -> None:
    from benchproof.keeping.runs.rerun import run_case
    from benchproof.showing.steps import StepLines

    with StepLines(sys.stdout) as steps:
        done = run_case(options.case, progress=steps, cell_timeout=options.cell_timeout)
    print(_verdicts(done.results))
    for statement in done.results["statements"]:
        if statement.startswith("STALE: "):
            print(f"\n{_shown(statement)}")
    print("\nFirst run: nothing to compare with." if done.moved is None else "")
    if done.moved is not None:
        print(done.moved)


def _progress(number: int, count: int, line: str) -> None:
    print(_shown(f"[{number}/{count}] {line[:70]}"), flush=True)


def _verdicts(results: dict) -> str:  # type: ignore[type-arg]
    from benchproof.values.tables import Table, columns

    rows = tuple(
        (v["name"], v["statement"], v["verdict"], v["reason"])
        for v in results["verdicts"]
    )
    heads = columns("Rival", "It says", "Verdict", "Because")
    return f"\n{Table(results['title'], heads, rows)}"


def _compare(options: argparse.Namespace) -> None:
    from benchproof.keeping.comparisons.compare import compare_results
    from benchproof.keeping.comparisons.namedresults import names_of

    found = compare_results(
        options.first,
        options.second,
        names=names_of(options.map),
        same_instruments=options.same_instruments,
    )
    print(found)
    if options.html:
        from benchproof.showing.page.comparison import write_comparison

        print(f"\nWrote {_near(write_comparison(found, options.html).resolve())}")


def _publish(options: argparse.Namespace) -> None:
    from benchproof.showing.publish import publish_case, publish_figures, publish_pdf

    paths = [publish_case(options.case, code=options.code or "folded")]
    if options.pdf:
        paths.append(publish_pdf(options.case, code=options.code or "hidden"))
    if options.figures:
        paths += publish_figures(options.case)
    for path in paths:
        print(f"Published {_near(path)} ({path.stat().st_size / 1000:.0f} kB)")


def _bundle(options: argparse.Namespace) -> None:
    from benchproof.showing.bundle.bundle import bundle_case

    path = bundle_case(
        options.case,
        also=options.also,
        largest_capture=options.largest_capture,
        as_it_is=options.as_it_is,
    )
    print(f"Bundled {_near(path)} ({path.stat().st_size / 1000:.0f} kB)")


def _check(options: argparse.Namespace) -> int:
    from benchproof.keeping.checking.check import check_case

    found = check_case(
        options.what,
        run=options.run,
        progress=_progress,
        cell_timeout=options.cell_timeout,
    )
    print(found)
    return found.status


def _near(path: Path) -> Path:
    here = Path.cwd()
    return path.relative_to(here) if path.is_relative_to(here) else path


def _lab(options: argparse.Namespace) -> None:
    import subprocess

    from benchproof.keeping.runs.rerun import NOTEBOOK

    opened = [] if options.case is None else [str(Path(options.case) / NOTEBOOK)]
    for notebook in opened:
        if not Path(notebook).exists():
            raise BenchproofError(
                f"{notebook} is missing. Make a case with: benchproof new 'A title'"
            )
    subprocess.run([sys.executable, "-m", "jupyterlab", *opened], check=False)


def _demo(options: argparse.Namespace) -> None:
    from benchproof.keeping.newcase import copy_worked_case

    folder = copy_worked_case("lost-alignment", options.parent)
    print(f"The worked case lies in {folder} (invented data).")
    _run(argparse.Namespace(case=folder, cell_timeout=600))
    print("\nIt was measured again after an objection; between the two rounds:")
    from benchproof.keeping.comparisons.compare import compare_results

    print(compare_results(f"{folder}@1", f"{folder}@2"))
    _publish(argparse.Namespace(case=folder, code=None, pdf=False, figures=False))


if __name__ == "__main__":
    sys.exit(main())
