"""What a text must not tell of the machine it was made on, and how it is taken out."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

PATH_MARK = "[path]"
_DATA = re.compile(r"data:[\w.+-]+/[\w.+-]+(?:;[\w=.+-]+)*;base64,[A-Za-z0-9+/=]+")

# A slash behind a letter, another slash or a bracket belongs to a unit, an address of
# the web or a tag. Two parts at least: '/m' is no path.
_FILE = r"[^\s/\\'\"<>:;,|)\]}]+"
_ABSOLUTE = (
    r"file://[^\s'\"<>]+"
    rf"|(?<![\w./<+~])/(?:{_FILE}/)+(?:{_FILE})?"
    rf"|(?<!\w)~(?:{_FILE})?/{_FILE}(?:/{_FILE})*"
    r"|(?<!\w)[A-Za-z]:[\\/]+[^\s'\"<>|]+"
    r"|\\\\[^\s\\'\"<>]+\\[^\s'\"<>|]+"
)
_HOME = r"/(?:home|Users|root|tmp)/[^\s'\"<>:,;]+|[A-Za-z]:[\\/]+Users[\\/]+[^\s'\"<>]+"
_COMMON = frozenset(
    {"root", "user", "users", "admin", "administrator", "guest", "ubuntu", "localhost",
     "home", "host", "test", "demo", "runner", "jovyan"}
)  # fmt: skip
_SHORTEST = 3


@dataclass(frozen=True)
class Privacy:
    """The names of this machine and its user, and what to do about them.

    Parameters
    ----------
    names : tuple of str
        User name, host name, and whatever else shall not be published. Words that are
        everybody's (``root``, ``user``) and those below three letters are no secret.
    home : str
        The user's home folder, "" if unknown.

    Examples
    --------
    >>> Privacy(("zoe-q",)).without("zoe-q ran /opt/lab/x.py: 12.1 V/m")
    '[name] ran [path]: 12.1 V/m'
    """

    names: tuple[str, ...] = ()
    home: str = ""

    @cached_property
    def _absolute(self) -> re.Pattern[str]:
        own = [re.escape(self.home) + r"[^\s'\"<>:,;]*"] if len(self.home) > 1 else []
        return re.compile("|".join([*own, _ABSOLUTE]))

    @cached_property
    def _telling(self) -> re.Pattern[str]:
        own = [re.escape(self.home)] if len(self.home) > len("/root") else []
        return re.compile("|".join([*own, _HOME]))

    @cached_property
    def _named(self) -> re.Pattern[str] | None:
        wanted = {n for n in self.names if len(n) >= _SHORTEST}
        told = sorted(n for n in wanted if n.lower() not in _COMMON)
        if not told:
            return None
        listed = "|".join(map(re.escape, told))
        return re.compile(rf"(?<![^\W_])(?:{listed})(?![^\W_])", re.IGNORECASE)

    def without(self, text: str) -> str:
        """Return a text that a machine wrote with paths and names taken out.

        Pictures inside it (``data:`` addresses) are left as they are.
        """
        return outside_data(text, self._cleaned)

    def _cleaned(self, text: str) -> str:
        text = self._absolute.sub(PATH_MARK, text)
        return self._named.sub("[name]", text) if self._named else text

    def found_in(self, text: str) -> list[str]:
        """Return what tells of this machine in a text that a person wrote.

        It is for that person to take out: hashes and code depend on every letter.
        """
        found = [m.group() for m in self._telling.finditer(text)]
        if self._named:
            found += [m.group() for m in self._named.finditer(text)]
        return list(dict.fromkeys(found))


def outside_data(
    text: str,
    change: Callable[[str], str],
    change_data: Callable[[str], str] = lambda address: address,
) -> str:
    """Apply one function outside ``data:`` addresses of a text, one to them.

    Examples
    --------
    >>> outside_data("a data:image/png;base64,aaaa b", str.upper)
    'A data:image/png;base64,aaaa B'
    """
    done, end = [], 0
    for match in _DATA.finditer(text):
        done += [change(text[end : match.start()]), change_data(match.group())]
        end = match.end()
    return "".join([*done, change(text[end:])])
