# Targets describe themselves: `make` prints them.
.DEFAULT_GOAL := help
.PHONY: help demo test bench truth doubt exactness faults lint bad-input reliability fuzz bounds clean
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

help: ## show this list
	@grep -E '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/:[^#]*## /\t/' | expand -t 10

# One stamp a set of packages, so that a demo never waits for the tools that only tests need.
$(VENV)/demo.stamp: requirements.lock pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Firstoff needs Python 3.11 or newer; '$(PYTHON)' is $$($(PYTHON) --version). Name another: make PYTHON=python3.12"; exit 1; }
	@$(PYTHON) -c 'import venv, ensurepip' 2>/dev/null || { echo "Python's venv module is missing. On Debian: apt-get install python3-venv, then run make again."; exit 1; }
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@echo "Setting up: about a minute the first time."
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $@

$(VENV)/test.stamp: $(VENV)/demo.stamp requirements-dev.lock
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements-dev.lock
	@touch $@

demo: $(VENV)/demo.stamp ## set up, lay out the demo shop in ./firstoff-demo and examine its jobs
	@$(BIN)/firstoff demo firstoff-demo

test: $(VENV)/test.stamp lint ## set up, then lint, types and the whole test suite
	@$(BIN)/python -m pytest -n 2 --dist worksteal

lint: $(VENV)/test.stamp ## style, types and the import contract
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/mypy
	@$(BIN)/lint-imports --no-logo

truth: $(VENV)/test.stamp ## write docs/truth.md from the checks against outside sources
	@$(BIN)/python -m pytest tests/truth --truth-page docs/truth.md

bad-input: $(VENV)/test.stamp ## put every kind of bad input to the command: docs/bad-input.md
	@$(BIN)/python -m proof.bad_input

reliability: $(VENV)/test.stamp ## write docs/reliability.md: what the book withstands, with disks where root can mount them (ten minutes)
	@$(BIN)/python -m proof.reliability

SECONDS ?= 60
fuzz: $(VENV)/test.stamp ## feed the readers of programs, facts and shapes what a fuzzer makes up, SECONDS each
	@for target in reader facts shape; do \
	  $(BIN)/python -m proof.fuzz $$target $(SECONDS) >.fuzz.log 2>&1 || { tail -40 .fuzz.log; exit 1; }; \
	  echo "$$target: $$(grep -a '^Done' .fuzz.log), nothing found"; done; rm -f .fuzz.log

bounds: $(VENV)/test.stamp ## the kernels' own tests with every index checked
	@NUMBA_BOUNDSCHECK=1 NUMBA_CACHE_DIR=$(VENV)/bounds-cache $(BIN)/python -m pytest -n 2 --dist worksteal tests/removal tests/loads tests/motion tests/path tests/program/test_kernel_parity.py

doubt: $(VENV)/test.stamp ## write docs/doubt.md: is the stated doubt true, on thousands of hidden machines (an hour on two cores)
	@$(BIN)/python -m proof.doubt

exactness: $(VENV)/test.stamp ## write docs/exactness.md: cells against exact shapes and solids, motion against the quickest there is
	@$(BIN)/python -m proof.exactness

faults: $(VENV)/test.stamp ## write docs/faults.md: what mistakes are caught, seeded into clean programs (half an hour on two cores)
	@$(BIN)/python -m proof.faults

bench: $(VENV)/test.stamp ## time the reader, the motion plan and whole examinations; ratios from one run
	@$(BIN)/python bench/run.py

clean: ## remove the environment and the demo folder
	@rm -rf $(VENV) firstoff-demo
