"""The command line: each command parses, calls one function and prints."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from benchproof.values.errors import BenchproofError


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Returns
    -------
    int
        0 if it worked, 1 if not, 2 for wrong usage.
    """
    options = _parser().parse_args(arguments)
    try:
        options.command(options)
    except (BenchproofError, OSError) as problem:
        print(f"benchproof: {problem}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nbenchproof: stopped; what was recorded is kept.", file=sys.stderr)
        return 130
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="benchproof",
        description="Teardown notebooks with uncertainty: record, judge, publish, "
        "measure again.",
    )
    commands = parser.add_subparsers(metavar="COMMAND", required=True)
    new = commands.add_parser("new", help="make a case folder from the template")
    new.add_argument("title", help="what is investigated, in words")
    new.add_argument("--in", dest="parent", default=".", help="folder to make it in")
    new.set_defaults(command=_new)

    run = commands.add_parser("run", help="run a case afresh and say what moved")
    run.add_argument("case", help="the case folder")
    run.add_argument(
        "--cell-timeout", type=int, default=600, help="seconds a cell may take"
    )
    run.set_defaults(command=_run)

    compare = commands.add_parser(
        "compare", help="compare two cases, results files or rounds (CASE@1)"
    )
    compare.add_argument("first")
    compare.add_argument("second")
    compare.set_defaults(command=_compare)

    publish = commands.add_parser("publish", help="write the write-up, one HTML file")
    publish.add_argument("case", help="the case folder")
    publish.add_argument(
        "--code", choices=("folded", "hidden", "shown"), default="folded"
    )
    publish.set_defaults(command=_publish)

    lab = commands.add_parser("lab", help="open a case in JupyterLab")
    lab.add_argument("case", help="the case folder")
    lab.set_defaults(command=_lab)

    demo = commands.add_parser("demo", help="copy, run and publish a worked case")
    demo.add_argument("--in", dest="parent", default="demo", help="folder to copy to")
    demo.set_defaults(command=_demo)
    return parser


def _new(options: argparse.Namespace) -> None:
    from benchproof.keeping.newcase import new_case

    folder = new_case(options.title, options.parent)
    print(f"Made {folder}. Next: benchproof lab {folder}")


def _run(options: argparse.Namespace) -> None:
    from benchproof.keeping.rerun import run_case

    done = run_case(options.case, progress=_progress, cell_timeout=options.cell_timeout)
    print(_verdicts(done.results))
    print("\nFirst run: nothing to compare with." if done.moved is None else "")
    if done.moved is not None:
        print(done.moved)


def _progress(number: int, count: int, line: str) -> None:
    print(f"[{number}/{count}] {line[:70]}", flush=True)


def _verdicts(results: dict) -> str:  # type: ignore[type-arg]
    from benchproof.values.tables import Table, columns

    rows = tuple(
        (v["name"], v["statement"], v["verdict"], v["reason"])
        for v in results["verdicts"]
    )
    heads = columns("Rival", "It says", "Verdict", "Because")
    return f"\n{Table(results['title'], heads, rows)}"


def _compare(options: argparse.Namespace) -> None:
    from benchproof.keeping.compare import compare_paths

    print(compare_paths(options.first, options.second))


def _publish(options: argparse.Namespace) -> None:
    from benchproof.showing.publish import publish_case

    path = publish_case(options.case, code=options.code)
    print(f"Published {_near(path)} ({path.stat().st_size / 1000:.0f} kB)")


def _near(path: Path) -> Path:
    here = Path.cwd()
    return path.relative_to(here) if path.is_relative_to(here) else path


def _lab(options: argparse.Namespace) -> None:
    import subprocess

    from benchproof.keeping.rerun import NOTEBOOK

    notebook = Path(options.case) / NOTEBOOK
    if not notebook.exists():
        raise BenchproofError(
            f"{notebook} is missing. Make a case with: benchproof new 'A title'"
        )
    subprocess.run([sys.executable, "-m", "jupyterlab", str(notebook)], check=False)


def _demo(options: argparse.Namespace) -> None:
    from benchproof.keeping.newcase import copy_worked_case

    folder = copy_worked_case("lost-alignment", options.parent)
    print(f"The worked case lies in {folder} (invented data).")
    _run(argparse.Namespace(case=folder, cell_timeout=600))
    print("\nIt was measured again after an objection; between the two rounds:")
    _compare(argparse.Namespace(first=f"{folder}@1", second=f"{folder}@2"))
    _publish(argparse.Namespace(case=folder, code="folded"))


if __name__ == "__main__":
    sys.exit(main())
