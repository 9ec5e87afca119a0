"""The names anybody may import."""

import inspect
from pathlib import Path

import pytest

import benchproof

README = Path(benchproof.__file__).parents[2] / "README.md"
NAMES = sorted(benchproof._HOME)
ROOMS = sorted(benchproof._ROOMS)


def test_public_names_are_sorted_and_unique():
    assert list(benchproof.__all__) == sorted(set(benchproof.__all__))


def test_every_public_name_has_a_home_and_every_home_a_public_name():
    assert set(benchproof.__all__) == {*NAMES, *ROOMS, "__version__"}
    assert dir(benchproof) == benchproof.__all__


@pytest.mark.parametrize("name", NAMES)
def test_a_public_name_can_be_imported_and_says_what_it_is(name):
    thing = getattr(benchproof, name)
    assert thing.__name__ == name
    assert thing.__module__ == f"benchproof.{benchproof._HOME[name]}"
    assert len(inspect.getdoc(thing) or "") > 20


@pytest.mark.parametrize("name", ROOMS)
def test_a_room_offers_its_functions_by_name(name):
    room = getattr(benchproof, name)
    assert room.__name__ == f"benchproof.{benchproof._ROOMS[name]}"
    assert all(hasattr(room, n) for n in room.__all__)


@pytest.mark.parametrize("name", [n for n in NAMES if n[0].islower()])
def test_a_public_function_says_what_its_arguments_are(name):
    function = getattr(benchproof, name)
    if inspect.signature(function).parameters:
        assert "Parameters\n" in inspect.getdoc(function)


@pytest.mark.parametrize("name", NAMES)
def test_the_public_methods_of_a_class_have_docstrings(name):
    thing = getattr(benchproof, name)
    methods = inspect.getmembers(thing) if inspect.isclass(thing) else []
    own = [m for n, m in methods if not n.startswith("_") and inspect.isfunction(m)]
    assert all(inspect.getdoc(method) for method in own)


def public_things():
    for module in (benchproof, *(getattr(benchproof, room) for room in ROOMS)):
        named = {n: getattr(module, n) for n in module.__all__}
        yield from (n for n in named.items() if callable(n[1]))


@pytest.mark.parametrize(("name", "thing"), [*public_things()])
def test_help_on_a_public_name_shows_an_example(name, thing):
    assert "Examples\n--------" in inspect.getdoc(thing)


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'no_such_name'"):
        _ = benchproof.no_such_name


def test_the_readme_names_every_public_function():
    text = README.read_text(encoding="utf-8")
    assert [n for n in [*NAMES, *ROOMS] if f"`{n}" not in text] == []


def test_the_version_is_that_of_the_distribution():
    from importlib import metadata

    assert metadata.version("benchproof") == benchproof.__version__
