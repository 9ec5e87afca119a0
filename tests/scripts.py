"""Load the scripts beside worked cases, which no package holds."""

import contextlib
import importlib.util
import sys


@contextlib.contextmanager
def loaded(path, name, **neighbours):
    """Run a script as a module; `neighbours` are what it imports by name."""
    spec = importlib.util.spec_from_file_location(name, path)
    module = importlib.util.module_from_spec(spec)
    before = {n: sys.modules.get(n) for n in neighbours}
    sys.modules[name] = module  # dataclasses look their module up here
    sys.modules.update(neighbours)
    try:
        spec.loader.exec_module(module)
    finally:
        for neighbour, was in before.items():
            del sys.modules[neighbour]
            if was is not None:
                sys.modules[neighbour] = was
    yield module
    del sys.modules[name]
