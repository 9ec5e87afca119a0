"""The floors of the package: what each may import, open and print."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import benchproof

PACKAGE = Path(benchproof.__file__).parent
FLOORS = ["values", "measuring", "reasoning", "keeping", "showing"]
MODULES = sorted(PACKAGE.rglob("*.py"))
PURE = [p for p in MODULES if p.relative_to(PACKAGE).parts[0] in FLOORS[:3]]
ROOMS = sorted(p for floor in FLOORS for p in (PACKAGE / floor).glob("*/__init__.py"))

LINES = 400


def name_of(path):
    return path.relative_to(PACKAGE).as_posix()


def tree_of(path):
    return ast.parse(path.read_text(encoding="utf-8"))


def floor_of(dotted):
    """Number the floor of ``benchproof.values.units``; the roof is the highest."""
    parts = dotted.split(".")
    known = len(parts) > 1 and parts[1] in FLOORS
    return FLOORS.index(parts[1]) if known else len(FLOORS)


def imported(path):
    """Name every module imported anywhere in a file, inside functions too."""
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name_of(path)}: import by the full name"
            yield node.module
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def called(path):
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Call):
            yield ast.unparse(node.func)


def test_every_module_stands_on_a_floor_or_is_the_roof():
    inner = [p.relative_to(PACKAGE).parts for p in MODULES if p.parent != PACKAGE]
    assert {parts[0] for parts in inner} == set(FLOORS)
    assert max(map(len, inner)) <= 3, "a floor has rooms, a room has none"
    roof = {p.name for p in MODULES if p.parent == PACKAGE}
    assert roof == {"__init__.py", "cli.py"}


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_no_module_imports_a_higher_floor(path):
    dotted = ".".join(("benchproof", *path.relative_to(PACKAGE).parts))
    for name in imported(path):
        if name.split(".")[0] == "benchproof" and name != "benchproof":
            assert floor_of(name) <= floor_of(dotted), f"{dotted} imports {name}"


def test_no_module_imports_the_front_door():
    for path in MODULES:
        doors = [n for n in imported(path) if n == "benchproof"]
        assert not doors, f"{name_of(path)} imports the whole package"


@pytest.mark.parametrize("path", PURE, ids=name_of)
def test_the_lower_floors_open_no_file_print_nothing_and_draw_nothing(path):
    barred = {"pathlib", "os", "shutil", "matplotlib", "sys", "socket", "subprocess"}
    assert not barred & {name.split(".")[0] for name in imported(path)}
    calls = set(called(path))
    assert not {"open", "print", "input", "exec", "eval"} & calls
    clocks = ("datetime.now", "date.today", "datetime.utcnow", "time.time")
    assert not [c for c in calls if c.endswith(clocks)]


@pytest.mark.parametrize("path", MODULES, ids=name_of)
def test_no_module_is_long(path):
    count = len(path.read_text(encoding="utf-8").splitlines())
    assert count <= LINES


@pytest.mark.parametrize("floor", FLOORS)
def test_the_first_file_of_a_floor_only_says_what_it_may_import(floor):
    (only,) = tree_of(PACKAGE / floor / "__init__.py").body
    assert isinstance(only, ast.Expr)
    assert "import" in only.value.value


@pytest.mark.parametrize("path", ROOMS, ids=name_of)
def test_the_first_file_of_a_room_says_what_is_in_it_and_what_it_may_import(path):
    first = tree_of(path).body[0]
    assert isinstance(first, ast.Expr)
    assert "import" in first.value.value


HELP = """\
import sys
from benchproof.cli import main
try:
    main(["--help"])
except SystemExit as stopped:
    assert stopped.code == 0
known = sys.stdlib_module_names | {"benchproof"}
loaded = {n.partition(".")[0] for n in sys.modules} - before
print("FOREIGN", sorted(n for n in loaded if n not in known))
"""


def test_asking_for_help_imports_only_the_standard_library():
    script = "import sys\nbefore = {n.partition('.')[0] for n in sys.modules}\n" + HELP
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, timeout=60
    )
    assert done.returncode == 0, done.stderr
    assert "usage: benchproof" in done.stdout
    assert done.stdout.splitlines()[-1] == "FOREIGN []"


OPENED = """\
import sys
import pint  # which looks for scipy itself
before = set(sys.modules)
from benchproof import open_case
case = open_case(sys.argv[1])
heavy = {"scipy", "matplotlib", "PIL", "pandas", "nbformat", "jinja2"}
loaded = set(sys.modules) - before
print(len(case.instruments), sorted(m for m in loaded if m.partition(".")[0] in heavy))
"""


def test_opening_a_case_imports_nothing_that_takes_long(case_folder):
    done = subprocess.run(
        [sys.executable, "-c", OPENED, str(case_folder)],
        capture_output=True,
        text=True,
        timeout=60,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "4 []"
