"""The way from JupyterLab's launcher to a new case: one request to its server.

The server makes the case with `new_case`, so a folder is named, filled and guarded
against overwriting in one place, with the bench's instruments file, offline.
"""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from typing import Any

from jupyter_server.base.handlers import APIHandler
from jupyter_server.utils import url_path_join
from tornado.web import authenticated

from benchproof.values.errors import BenchproofError, InputError


def made_under(root: Path, where: str, title: str) -> str:
    """Make a case below the server's root folder.

    Parameters
    ----------
    root : path
        What the file browser shows as its top.
    where : str
        Folder below it, with ``/`` on every system; "" is the root itself.
    title : str
        Of the investigation, in words.

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
    from benchproof.keeping.rerun import NOTEBOOK

    top = root.resolve()
    parent = (top / where.strip("/")).resolve()
    if not parent.is_relative_to(top) or not parent.is_dir():
        raise InputError(
            f"{where!r} is no folder of this JupyterLab. Choose one in the file "
            "browser; nothing was made."
        )
    folder = new_case(title, parent)
    return (folder / NOTEBOOK).resolve().relative_to(top).as_posix()


class NewCaseHandler(APIHandler):  # type: ignore[misc]
    """Answers ``POST benchproof/new`` with the path of the new notebook."""

    @authenticated  # type: ignore[untyped-decorator]
    async def post(self) -> None:
        """Make a case from ``title`` and ``folder``; a refusal is status 409."""
        said: dict[str, Any] = self.get_json_body() or {}
        root = getattr(self.contents_manager, "root_dir", "")
        try:
            if not root:
                raise InputError(
                    "this server keeps its files elsewhere than in a folder. Make the "
                    "case in a terminal: benchproof new 'A title'."
                )
            title, where = str(said.get("title", "")), str(said.get("folder", ""))
            path = await asyncio.to_thread(made_under, Path(root), where, title)
        except (BenchproofError, OSError) as problem:
            self.set_status(409)
            self.finish(json.dumps({"message": str(problem)}))
            return
        self.finish(json.dumps({"path": path}))


def _jupyter_server_extension_points() -> list[dict[str, str]]:
    return [{"module": "benchproof.showing.labserver"}]


def _load_jupyter_server_extension(app: Any) -> None:
    address = url_path_join(app.web_app.settings["base_url"], "benchproof", "new")
    app.web_app.add_handlers(".*$", [(address, NewCaseHandler)])
