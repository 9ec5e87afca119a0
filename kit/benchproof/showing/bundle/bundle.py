"""Bundle a case: everything a stranger needs to check it and to run it again."""

from __future__ import annotations

import getpass
import hashlib
import json
import platform
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from benchproof.keeping.checking.check import check_case
from benchproof.keeping.checking.names import require_distinct, require_safe_name
from benchproof.keeping.checking.staleness import LEFT_OUT
from benchproof.keeping.checking.sums import NAME as SUMS
from benchproof.keeping.checking.sums import file_sha256, sums_text
from benchproof.keeping.runs.rerun import NOTEBOOK, read_notebook
from benchproof.keeping.runs.results import NAME as RESULTS
from benchproof.keeping.runs.results import read_results
from benchproof.showing.bundle import crate
from benchproof.showing.bundle.archive import archive_bytes
from benchproof.showing.bundle.cleannotebook import clean_notebook
from benchproof.showing.bundle.privacy import Privacy
from benchproof.showing.bundle.readme import readme_text
from benchproof.showing.bundle.versions import versions_text
from benchproof.showing.page.writeup import CodeView, render_writeup
from benchproof.showing.publish import FOLDER, RERUN
from benchproof.values.errors import FileError, InputError, RunError

TYPED = (".csv", ".toml")
"""Logs and declarations of a case: published byte for byte, or not at all."""

_READABLE = (*TYPED, ".json", ".txt", ".py", ".md")

LARGEST_CAPTURE = 20_000_000
"""Bytes; of a larger one only the hash travels, unless that is asked for."""

_KEPT = (
    "format", "title", "invented", "claim", "does_not_show", "readings",
    "readings_hash", "trials", "captures", "quantities", "sources", "joints",
    "verdicts", "rates", "coverage", "replications", "predictions", "rounds",
    "statements", "tables", "versions", "ran_at",
    "code_sha256", "declared_sha256",
)  # fmt: skip
"""Entries of results.json that are published; whatever else stands there is not."""


def bundle_case(
    folder: Path | str,
    *,
    also: Sequence[str] = (),
    largest_capture: int = LARGEST_CAPTURE,
    as_it_is: bool = False,
    code: CodeView = "folded",
    privacy: Privacy | None = None,
) -> Path:
    """Write everything of a case into one zip file; of the same run the same bytes.

    Paths, names of user and machine, kernel and environment are taken out of what a
    machine wrote (outputs, results, pictures). Where a person wrote them, nothing is
    made: the places are named.

    Parameters
    ----------
    folder : path
        A case that has been run, and that passes `check_case` without a fault.
    also : sequence of str
        Further files of the case that its notebook needs, e.g. ``simulate.py``.
    largest_capture : int
        Bytes; of larger captures only the hash is included.
    as_it_is : bool
        Bundle what a person wrote even where it tells of this machine.
    code : {"folded", "hidden", "shown"}
        How the write-up shows code.
    privacy : Privacy, optional
        What must not be told; by default the names of this user and machine.

    Returns
    -------
    pathlib.Path
        ``write-up/NAME.zip`` in the case.

    Raises
    ------
    RunError
        If something changed since the last run, or the check finds a fault.
    FileError
        If the case was not run, or a file is missing or of a name or kind that
        cannot travel.
    InputError
        If a person's text tells of this machine.

    Examples
    --------
    After a run (``benchproof run CASE``)::

        bundle_case("garden-pump-trips-its-socket")
    """
    folder = Path(folder).resolve()
    privacy = privacy or this_machine()
    results = _clean_results(read_results(folder), privacy)
    _refuse_unsound(folder)
    notebook = clean_notebook(read_notebook(folder / NOTEBOOK), privacy)
    files = _typed(folder, also)
    files |= _raw_records(folder, largest_capture)
    if not as_it_is:
        _refuse_telling(files, notebook, privacy)
    files |= _written(folder.name, notebook, results, code)
    _seal(files, results)
    target = folder / FOLDER / f"{folder.name}.zip"
    target.parent.mkdir(exist_ok=True)
    scratch = target.with_suffix(".zip.new")
    scratch.write_bytes(archive_bytes(files))
    scratch.replace(target)
    return target


def this_machine() -> Privacy:
    """Return the names of this user and machine, not to be published."""
    try:
        user = getpass.getuser()
    except (OSError, KeyError):  # no such user, as in some containers
        user = ""
    home = Path.home()
    host = platform.node()
    names = (user, home.name, host, host.partition(".")[0])
    return Privacy(tuple(dict.fromkeys(names)), str(home))


def _clean_results(results: dict[str, Any], privacy: Privacy) -> dict[str, Any]:
    kept: dict[str, Any] = {k: results[k] for k in _KEPT if k in results}
    cleaned: dict[str, Any] = _without(kept, privacy)
    return cleaned


def _without(value: Any, privacy: Privacy) -> Any:
    if isinstance(value, str):
        return privacy.without(value)
    if isinstance(value, list):
        return [_without(v, privacy) for v in value]
    if isinstance(value, dict):
        return {privacy.without(k): _without(v, privacy) for k, v in value.items()}
    return value


def _refuse_unsound(folder: Path) -> None:
    found = check_case(folder)
    stale = [f for f in found.of("open") if "since the run" in f.statement]
    grave = [*found.of("fault"), *stale]
    if grave:
        shown = (f"{f.file} {f.row}: {f.statement.rstrip('.')}" for f in grave[:5])
        counted = f"{len(grave)} finding{'' if len(grave) == 1 else 's'}"
        raise RunError(
            f"not bundled, {counted}: {'; '.join(shown)}. See all of them with: "
            f"benchproof check {folder.name}"
        )


def _typed(folder: Path, also: Sequence[str]) -> dict[str, bytes]:
    typed = [p for p in _plain_files(folder) if p.suffix in TYPED]
    files = {p.name: p.read_bytes() for p in typed}
    for name in also:
        path = folder / require_safe_name(name)
        if not path.is_file() or path.is_symlink():
            raise FileError(f"{name}: no file of this case. Name one that lies in it.")
        files[name] = path.read_bytes()
    return files


def _refuse_telling(files: dict[str, bytes], notebook: Any, privacy: Privacy) -> None:
    """Refuse what a person wrote about this machine; changing it is not for us."""
    texts = {
        name: content.decode("utf-8", "replace")
        for name, content in files.items()
        if Path(name).suffix in _READABLE
    }
    for number, cell in enumerate(notebook.cells, 1):
        texts[f"{NOTEBOOK}, cell {number}"] = cell.source
    said = [
        f"{where}: {w!r}" for where, t in texts.items() for w in privacy.found_in(t)
    ]
    if said:
        raise InputError(
            f"not bundled, it would tell of this machine: {'; '.join(said[:8])}. Take "
            "it out and run the case again; or, where it is recorded already and you "
            "accept it, bundle with --as-it-is."
        )


def _raw_records(folder: Path, largest: int) -> dict[str, bytes]:
    """Return captures, and the hashes of what does not travel."""
    files: dict[str, bytes] = {}
    left_out: dict[str, str] = {}
    for path in _plain_files(folder / "captures"):
        name = f"captures/{path.name}"
        if path.stat().st_size > largest:
            left_out[name] = file_sha256(path)
        else:
            files[name] = path.read_bytes()
    # Originals stay in the case: case.photo shows its own picture of them, and in a
    # copy without the original says that it is not there.
    for path in _plain_files(folder / "photos"):
        left_out[f"photos/{path.name}"] = file_sha256(path)
    if left_out:
        files[LEFT_OUT] = sums_text(left_out).encode("utf-8")
    return files


def _plain_files(place: Path) -> list[Path]:
    """List the files of a folder; a link could lead to a file of somebody's own."""
    found = [p for p in place.glob("*") if p.is_file() and not p.is_symlink()]
    return sorted(p for p in found if not p.name.startswith("."))


def _written(
    name: str, notebook: Any, results: dict[str, Any], code: CodeView
) -> dict[str, bytes]:
    """Return what is written for this bundle: notebook, results, write-up, words."""
    import nbformat

    version = results["versions"].get("benchproof", "VERSION")
    rerun = [line.format(version=version, name=name) for line in RERUN]
    page = render_writeup(notebook, {**results, "rerun": rerun}, code=code)
    plain = json.dumps(results, ensure_ascii=False, indent=1, allow_nan=False)
    texts = {
        NOTEBOOK: nbformat.writes(notebook) + "\n",
        RESULTS: plain + "\n",
        f"{FOLDER}/{name}.html": page,
        "README.txt": readme_text(results),
        "versions.txt": versions_text(results["versions"]),
    }
    return {name: text.encode("utf-8") for name, text in texts.items()}


def _seal(files: dict[str, bytes], results: dict[str, Any]) -> None:
    """Add the description and, over everything, the hashes."""
    for name in files:
        require_safe_name(name)
    require_distinct(files)
    sizes = {name: len(content) for name, content in files.items()}
    files[crate.NAME] = crate.crate_text(results, sizes).encode("utf-8")
    hashes = {n: hashlib.sha256(content).hexdigest() for n, content in files.items()}
    files[SUMS] = sums_text(hashes).encode("utf-8")
