"""What JupyterLab's launcher and toolbar ask of its server: a new case, a write-up.

The server makes the case with `new_case`, so a folder is named, filled and guarded
against overwriting in one place, with the bench's instruments file, offline. It runs
and publishes one with the commands a terminal has, in a process of their own.
"""

from __future__ import annotations

import asyncio
import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from jupyter_server.base.handlers import APIHandler
from jupyter_server.utils import ensure_async, url_path_join
from tornado.web import authenticated

from benchproof.values.errors import BenchproofError, InputError, RunError


def made_under(root: Path, where: str, title: str, template: str) -> str:
    """Make a case below the server's root folder.

    Parameters
    ----------
    root : path
        What the file browser shows as its top.
    where : str
        Folder below it, with ``/`` on every system; "" is the root itself.
    title : str
        Of the investigation, in words.
    template : str
        As for `new_case`.

    Returns
    -------
    str
        The new notebook, as the file browser names it.

    Raises
    ------
    InputError, FileError
        As `new_case`; and if `where` is no folder below the root.
    """
    # Here, since a server should not wait for it at every start.
    from benchproof.keeping.newcase import new_case
    from benchproof.keeping.runs.rerun import NOTEBOOK

    folder = new_case(title, _folder_under(root, where), template=template)
    return _shown(root, folder / NOTEBOOK)


def published_under(root: Path, notebook: str) -> tuple[str, str]:
    """Run a case of the server's root afresh and publish it.

    Parameters
    ----------
    root : path
        What the file browser shows as its top.
    notebook : str
        The case's notebook, as the file browser names it.

    Returns
    -------
    page : str
        The write-up, named likewise.
    said : str
        What the run found: the verdicts, and what moved since the run before.

    Raises
    ------
    InputError
        If it is in no folder below the root.
    RunError
        If the run stops, or it cannot be published; with what was said.
    """
    folder = _folder_under(root, notebook.rpartition("/")[0])
    said = "\n".join(
        line
        for line in _commanded("run", folder).splitlines()
        if not re.match(r"\[\d+/\d+\]", line)  # which cell it was at
    )
    _commanded("publish", folder)
    return _shown(root, folder / "write-up" / f"{folder.name}.html"), said.strip()


def _commanded(command: str, folder: Path) -> str:
    # -P: a module of the case's folder must not be taken for one of Python's.
    program = [sys.executable, "-P", "-m", "benchproof.cli", command, folder.name]
    done = subprocess.run(
        program, cwd=folder.parent, capture_output=True, encoding="utf-8",
        errors="replace", env={**os.environ, "PYTHONIOENCODING": "utf-8"}, check=False,
    )  # fmt: skip
    if done.returncode:
        raise RunError(done.stderr.strip() or f"benchproof {command} stopped.")
    return done.stdout


def _folder_under(root: Path, where: str) -> Path:
    top = root.resolve()
    folder = (top / where.strip("/")).resolve()
    if not folder.is_relative_to(top) or not folder.is_dir():
        raise InputError(
            f"{where!r} is no folder of this JupyterLab. Choose one in the file "
            "browser; nothing was made."
        )
    return folder


def _shown(root: Path, path: Path) -> str:
    """Name a file as the file browser does."""
    return path.resolve().relative_to(root.resolve()).as_posix()


class _CaseHandler(APIHandler):  # type: ignore[misc]
    """Answers a request with what was done, or a refusal, which is status 409."""

    def _said(self) -> dict[str, str]:
        return {k: str(v) for k, v in (self.get_json_body() or {}).items()}

    async def _answer(self, work: Callable[[Path], dict[str, str]]) -> dict[str, str]:
        root = getattr(self.contents_manager, "root_dir", "")
        try:
            if not root:
                raise InputError(
                    "this server keeps its files elsewhere than in a folder. Use a "
                    "terminal: benchproof new 'A title', benchproof run CASE."
                )
            return await asyncio.to_thread(work, Path(root))
        except (BenchproofError, OSError) as problem:
            self.set_status(409)
            return {"message": str(problem)}


class NewCaseHandler(_CaseHandler):
    """Answers ``POST benchproof/new`` with the path of the new notebook."""

    @authenticated  # type: ignore[untyped-decorator]
    async def post(self) -> None:
        """Make a case from ``title``, ``folder`` and ``template``."""
        said = {"title": "", "folder": "", "template": "case", **self._said()}

        def made(root: Path) -> dict[str, str]:
            where, title = said["folder"], said["title"]
            return {"path": made_under(root, where, title, said["template"])}

        self.finish(json.dumps(await self._answer(made)))


class PublishHandler(_CaseHandler):
    """Answers ``POST benchproof/publish`` with the page and what the run found."""

    @authenticated  # type: ignore[untyped-decorator]
    async def post(self) -> None:
        """Run and publish the case whose notebook is at ``path``."""
        path = self._said().get("path", "")

        def published(root: Path) -> dict[str, str]:
            page, found = published_under(root, path)
            return {"page": page, "said": found}

        answer = await self._answer(published)
        if "page" in answer:
            # Its outputs are all new, and whoever asked for the run trusts its code;
            # else JupyterLab would show the tables without their style.
            await ensure_async(self.contents_manager.trust_notebook(path))
        self.finish(json.dumps(answer))


def _jupyter_server_extension_points() -> list[dict[str, str]]:
    return [{"module": "benchproof.showing.labserver"}]


def _load_jupyter_server_extension(app: Any) -> None:
    base = url_path_join(app.web_app.settings["base_url"], "benchproof")
    handlers = [(f"{base}/new", NewCaseHandler), (f"{base}/publish", PublishHandler)]
    app.web_app.add_handlers(".*$", handlers)
