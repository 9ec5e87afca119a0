"""What one attempt is made under: contacts joined, factors set, actions in order."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from benchproof.measuring.contacts import ForbiddenPair
from benchproof.values.errors import InputError


@dataclass(frozen=True, slots=True)
class Condition:
    """What one attempt is made under.

    Attributes
    ----------
    groups : tuple of tuple of str
        Contacts joined to one another; each group has two or more.
    settings : tuple of (str, str)
        Factor and level, such as ``("supply", "brick")``.
    steps : tuple of str
        Actions in their order.

    Examples
    --------
    >>> print(Condition((("P1", "P2"), ("P3", "P4")), (("state", "asleep"),)))
    P1–P2 | P3–P4, state asleep
    """

    groups: tuple[tuple[str, ...], ...] = ()
    settings: tuple[tuple[str, str], ...] = ()
    steps: tuple[str, ...] = ()

    def __str__(self) -> str:
        joined = " | ".join("–".join(group) for group in self.groups)
        settings = (f"{factor} {level}" for factor, level in self.settings)
        parts = (joined, *settings, " → ".join(self.steps))
        return ", ".join(filter(None, parts)) or "nothing changed"


@dataclass(frozen=True, slots=True)
class Forbidden:
    """What may not be tried, and why.

    Attributes
    ----------
    reason : str
        In words; it is printed with what it excludes.
    joined : tuple of str
        Contacts that may not be in one group.
    settings : tuple of (str, str)
        Factors and levels that may not be set together. With `joined` too, only the
        contacts and the settings together are forbidden.

    Raises
    ------
    InputError
        If no reason is given, or nothing is forbidden.

    Examples
    --------
    >>> Forbidden("discharges the cell", joined=("P1", "P2")).forbids(
    ...     Condition((("P1", "P2", "P6"),)))
    True
    """

    reason: str
    joined: tuple[str, ...] = ()
    settings: tuple[tuple[str, str], ...] = ()

    def __post_init__(self) -> None:
        if not self.reason.strip():
            raise InputError(
                f"{self._what()} forbidden without a reason: write why, since a reader "
                "sees what was not tried."
            )
        if len(self.joined) == 1 or not (self.joined or self.settings):
            raise InputError(
                f"forbidden because {self.reason!r}: name two contacts or more, or "
                "the settings."
            )

    def forbids(self, condition: Condition) -> bool:
        """Return whether a condition holds all that is forbidden together."""
        contacts = set(self.joined)
        touching = not contacts or any(contacts <= {*g} for g in condition.groups)
        return touching and {*self.settings} <= {*condition.settings}

    def text(self) -> str:
        """Write what is forbidden and why.

        Examples
        --------
        >>> Forbidden("hot", ("P1", "P2"), (("state", "docked"),)).text()
        'contacts P1–P2 with state docked: hot'
        """
        return f"{self._what()}: {self.reason}"

    def _what(self) -> str:
        contacts = f"contacts {'–'.join(self.joined)}" if self.joined else ""
        settings = " with ".join(f"{factor} {level}" for factor, level in self.settings)
        return " with ".join(filter(None, (contacts, settings))) or "nothing"


def forbidden_pairs(pairs: Iterable[ForbiddenPair]) -> tuple[Forbidden, ...]:
    """Take over the pairs that a contact survey forbids.

    Parameters
    ----------
    pairs : iterable of ForbiddenPair
        Those without a reason say so.

    Examples
    --------
    >>> forbidden_pairs([ForbiddenPair("P1", "P2", "shorts the pack")])[0].joined
    ('P1', 'P2')
    """
    return tuple(
        Forbidden(p.reason or "forbidden, no reason stated", (p.first, p.second))
        for p in pairs
    )


@dataclass(frozen=True, slots=True)
class Candidates:
    """Conditions that are counted first and made one by one.

    Attributes
    ----------
    what : str
        Their kind, in words.
    count : int
        How many there are.
    make : callable
        Returns a new iterator of them.

    Examples
    --------
    >>> made = Candidates("plugs", 2, lambda: iter([Condition(steps=("in",)),
    ...     Condition(steps=("out",))]))
    >>> print(made, [str(condition) for condition in made])
    plugs: 2 ['in', 'out']
    """

    what: str
    count: int
    make: Callable[[], Iterator[Condition]]

    def __iter__(self) -> Iterator[Condition]:
        return self.make()

    def __str__(self) -> str:
        rounded = f" ({float(self.count):.1e})" if self.count >= 10**6 else ""
        return f"{self.what}: {self.count}{rounded}"


def crossed(first: Candidates, second: Candidates) -> Candidates:
    """Try each of some conditions under each of others.

    Parameters
    ----------
    first, second : Candidates
        What they set must differ: no factor in both.

    Raises
    ------
    InputError
        If both set the same thing.

    Examples
    --------
    >>> plug = Candidates("plugs", 1, lambda: iter([Condition(steps=("in",))]))
    >>> docked = Condition(settings=(("state", "docked"),))
    >>> print(*crossed(plug, Candidates("states", 1, lambda: iter([docked]))))
    state docked, in
    """
    for a, b in zip(first, second, strict=False):
        _together(a, b)  # refuse now rather than while the plan is worked through
        break

    def make() -> Iterator[Condition]:
        for a in first:
            for b in second:
                yield _together(a, b)

    return Candidates(f"{first.what} × {second.what}", first.count * second.count, make)


def _together(a: Condition, b: Condition) -> Condition:
    twice = {factor for factor, _ in a.settings} & {factor for factor, _ in b.settings}
    if twice or (a.groups and b.groups) or (a.steps and b.steps):
        raise InputError(
            f"'{a}' cannot be crossed with '{b}': both set "
            f"{', '.join(sorted(twice)) or 'the same thing'}. Put it in one of them."
        )
    return Condition(a.groups + b.groups, a.settings + b.settings, a.steps + b.steps)


def checked_names(names: Sequence[str], what: str, least: int = 2) -> tuple[str, ...]:
    """Refuse too few names, an empty one, or one that stands there twice.

    Parameters
    ----------
    names : sequence of str
    what : str
        Named in the message.
    least : int
        How many there must be.

    Raises
    ------
    InputError
        Saying which.

    Examples
    --------
    >>> checked_names(["P1", "P2"], "contacts")
    ('P1', 'P2')
    """
    given = tuple(names)
    if isinstance(names, str) or len(given) < least:
        raise InputError(f"{what} {names!r}: give a list of {least} names or more.")
    for name in given:
        if not name.strip() or given.count(name) > 1:
            raise InputError(
                f"{what}: {name!r} is empty or stands there twice. Name each once."
            )
    return given


def checked_factors(factors: dict[str, Sequence[str]]) -> dict[str, tuple[str, ...]]:
    """Refuse factors without a name or level, or with a level twice.

    Parameters
    ----------
    factors : dict
        Factor to its levels.

    Raises
    ------
    InputError
        Naming the factor.

    Examples
    --------
    >>> checked_factors({"supply": ["brick", "bench"]})
    {'supply': ('brick', 'bench')}
    """
    checked_names(tuple(factors), "factors", least=1)
    return {
        factor: checked_names(levels, f"levels of {factor}", least=1)
        for factor, levels in factors.items()
    }
