# Two commands do everything on a fresh machine with Python 3.11 or newer:
#   make demo    install, then copy, run and publish a worked case
#   make test    install with the test tools, then run every check

PYTHON ?= python3
EXTRAS ?= instruments,test
BIN := .venv/bin
INSTALL := $(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt

.PHONY: demo test bench kills fuzz clean

demo: .venv/.installed
	$(BIN)/benchproof demo

test: .venv/.tested
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/pytest
	$(BIN)/pytest --nbval-lax notebooks

kills: .venv/.tested
	$(BIN)/python tests/durability/kills.py --count 1000

fuzz: export FUZZ_EXAMPLES ?= 100000
fuzz: .venv/.tested
	$(BIN)/pytest tests/fuzz

bench: .venv/.tested
	$(BIN)/python bench/run.py

.venv/bin/python:
	$(PYTHON) -m venv .venv

.venv/.installed: .venv/bin/python pyproject.toml constraints.txt
	$(INSTALL) -e '.[entry]'
	@touch $@

.venv/.tested: .venv/bin/python pyproject.toml constraints.txt
	$(INSTALL) -e '.[$(EXTRAS)]'
	@touch $@ .venv/.installed

clean:
	rm -rf .venv build demo kit/*.egg-info
