# kerfwright: everything from a bare clone with Python >= 3.11 and pip.
PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin
UV     ?= uv
# One more than cores: a test that waits for a server, a browser or a child leaves its core to another.
WORKERS ?= $(shell expr $$(nproc 2>/dev/null || getconf _NPROCESSORS_ONLN 2>/dev/null || echo 1) + 1)
PIP    := $(BIN)/python -m pip --disable-pip-version-check --quiet --no-input

PAGE   := src/kerfwright/workbench/static/index.html
PAGE_SOURCES := $(shell find frontend -path frontend/node_modules -prune -o -type f -print 2>/dev/null | grep -v api-types.ts)

.PHONY: demo docs serve picture samples plots worked-jobs solids test collected lint types layers page-check bench soak lock clean

$(VENV)/run.stamp: requirements/run.lock pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11) and "kerfwright needs Python 3.11 or newer; set PYTHON=...")'
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@echo "installing kerfwright into $(VENV) ..."
	@$(PIP) install --require-hashes -r requirements/run.lock
	@$(PIP) install --no-deps --no-build-isolation -e .
	@touch $@

$(VENV)/dev.stamp: requirements/dev.lock $(VENV)/run.stamp
	@echo "installing what the tests need into $(VENV) ..."
	@$(PIP) install --require-hashes -r requirements/dev.lock
	@touch $@

# What reads solids, Open CASCADE: 67 MB to load, 380 MB installed.  `make test` skips its tests visibly
# where it is not there, and takes it in after `make solids`.
$(VENV)/solids.stamp: requirements/solids.lock $(VENV)/dev.stamp
	@echo "installing what reads solids into $(VENV) ..."
	@$(PIP) install --require-hashes -r requirements/solids.lock
	@touch $@

solids: $(VENV)/solids.stamp

# What serves the page; the page itself is built apart, with Node from PATH or from PyPI.
$(VENV)/page.stamp: requirements/page.lock $(VENV)/run.stamp
	@echo "installing what serves the page into $(VENV) ..."
	@$(PIP) install --require-hashes -r requirements/page.lock
	@touch $@

$(VENV)/node.stamp: requirements/node.lock $(VENV)/run.stamp
	@$(BIN)/python build_frontend.py --has-node || $(PIP) install --require-hashes -r requirements/node.lock
	@touch $@

$(PAGE): $(VENV)/node.stamp build_frontend.py $(PAGE_SOURCES)
	@echo "building the page ..."
	@$(BIN)/python build_frontend.py
	@touch $@

$(VENV)/docs.stamp: requirements/docs.lock $(VENV)/page.stamp
	@echo "installing what builds the documents into $(VENV) ..."
	@$(PIP) install --require-hashes -r requirements/docs.lock
	@touch $@

# The guides and the reference as pages, in dist/docs/index.html.
docs: $(VENV)/docs.stamp
	@$(BIN)/python -m sphinx -q -W --keep-going -b html docs dist/docs
	@echo "The documents are in dist/docs/index.html"

serve: $(VENV)/page.stamp $(PAGE)
	@$(BIN)/kerfwright serve

demo: $(VENV)/run.stamp
	@$(BIN)/kerfwright demo -o demo-out

# The picture of the readme and the sample drawings, made anew.
picture: demo
	@install -m 644 demo-out/plan.svg docs/images/escape_wheel_plan.svg

samples: $(VENV)/run.stamp
	@$(BIN)/python tools/make_samples.py

# The figures of docs/process, from the tables and the code.
plots: $(VENV)/dev.stamp
	@$(BIN)/python -m tools.make_plots

# Outputs and hand calculations of docs/worked-jobs, made anew.
worked-jobs: $(VENV)/dev.stamp
	@$(BIN)/python -m tools.make_worked_jobs

# Where nothing compiled may be written, every process that a test starts compiles the package anew.
test: export PYTHONDONTWRITEBYTECODE :=
test: $(VENV)/dev.stamp $(PAGE)
	@$(MAKE) --no-print-directory -j2 types page-check collected lint layers
	$(BIN)/python -m pytest -n $(WORKERS) --dist loadfile --no-loadscope-reorder

# Beside the other checks, one of which runs on one core: compiles once what each worker needs.
collected: $(VENV)/dev.stamp
	@found=$$($(BIN)/python -m pytest --collect-only) || { echo "$$found"; exit 1; }

lint: $(VENV)/dev.stamp
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .

types: $(VENV)/dev.stamp
	@$(BIN)/mypy

layers: $(VENV)/dev.stamp
	@$(BIN)/lint-imports --no-cache

page-check: $(VENV)/node.stamp
	@$(BIN)/python build_frontend.py --check

bench: $(VENV)/dev.stamp $(PAGE)
	@$(BIN)/python -m benchmarks

soak: $(VENV)/dev.stamp
	KERFWRIGHT_SOAK=1 $(BIN)/python -m pytest -n $(WORKERS) --dist loadfile --no-loadscope-reorder

# Locks carry hashes and no addresses.
lock:
	$(UV) pip compile -q --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --extra papers --extra nest pyproject.toml requirements/build.in -o requirements/run.lock
	$(UV) pip compile -q --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --extra papers --extra nest --extra workbench -c requirements/run.lock pyproject.toml requirements/build.in -o requirements/page.lock
	$(UV) pip compile -q --universal --python-version 3.11 --generate-hashes --no-strip-extras --no-emit-index-url --no-header --extra papers --extra nest --extra schedule --extra calendar --extra batch --extra cluster --extra store --extra seats --extra dev --extra workbench -c requirements/page.lock pyproject.toml requirements/build.in -o requirements/dev.lock
	$(UV) pip compile -q --universal --python-version 3.11 --generate-hashes --no-strip-extras --no-emit-index-url --no-header --extra solids -c requirements/dev.lock pyproject.toml -o requirements/solids.lock
	$(UV) pip compile -q --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header --extra docs -c requirements/page.lock pyproject.toml -o requirements/docs.lock
	$(UV) pip compile -q --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header requirements/node.in -o requirements/node.lock
	cd frontend && npm install --package-lock-only --ignore-scripts --no-audit --no-fund
	$(PYTHON) tools/strip_lock.py frontend/package-lock.json

clean:
	rm -rf $(VENV) demo-out dist frontend/node_modules src/kerfwright/workbench/static .mypy_cache .ruff_cache .import_linter_cache .hypothesis
