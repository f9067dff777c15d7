# `make demo` shows Hourmark, `make test` tests it. Both need Python 3.11 or newer, make and
# a package index, and begin with `make setup`, which does nothing when it is up to date.

PORT ?= 8000
BIN  := .venv/bin
PY   := $(BIN)/python

# Tests that need nothing this machine may lack; with Redis or PostgreSQL at hand they are used.
PYTEST := $(BIN)/pytest -n auto -rs

CATALOGUES := $(wildcard config/locale/*/LC_MESSAGES/*.po)

.DEFAULT_GOAL := help
.PHONY: help setup demo test test-doors test-demo test-services test-browser test-installation test-security mutants lint check screens bench catalogues requirements clean

help: ## say what can be made
	@awk -F':.*## ' '/^[a-z-]+:.*## /{printf "  make %-14s %s\n", $$1, $$2}' Makefile

setup: .venv/.installed $(CATALOGUES:.po=.mo) ## build .venv from the pinned requirements, compile the catalogues

demo: setup ## show Hourmark on http://127.0.0.1:8000 (PORT=8001 for another port)
	@exec $(PY) manage.py demo --port $(PORT)

test: lint ## the suite without the walks below; says what it skipped and why
	$(PYTEST) -m "not browser and not doors and not demo and not installation"
	@echo "left out: every address as everybody (make test-doors), the demonstration (make test-demo)"
	@echo "and Chromium (make test-browser)"

test-doors: setup ## every page and API route as nobody, stranger, each role, token and device
	$(PYTEST) -m doors

test-demo: setup ## the demonstration built and served
	$(PYTEST) -m demo

test-services: setup ## only the tests on real services, named by REDIS_URL and DATABASE_URL; a skip fails
	HOURMARK_NO_SKIP=1 $(PYTEST) -m service

test-browser: setup ## only the tests in Chromium; a skip fails
	HOURMARK_NO_SKIP=1 $(BIN)/pytest -rs -m browser

test-installation: setup ## a real installation by config/INSTALL.md, word by word; a skip fails
	HOURMARK_NO_SKIP=1 $(BIN)/pytest -rs -m installation

test-security: setup ## attacks that were tried and must fail; a skip fails
	HOURMARK_NO_SKIP=1 $(BIN)/pytest -n auto -rs -m "security and not browser"
	HOURMARK_NO_SKIP=1 $(BIN)/pytest -rs -m "security and browser"

mutants: setup var/mutants/.installed ## put small faults into the arithmetic; say which no test noticed
	var/mutants/bin/python -m tests.mutants

lint: setup ## style, import rules, types, forgotten migrations
	$(BIN)/ruff check .
	$(BIN)/ruff format --check --quiet .
	$(BIN)/lint-imports
	$(BIN)/mypy .
	$(PY) manage.py makemigrations --check --dry-run

check: setup ## Django's own checks, for the settings in the environment
	$(PY) manage.py check

screens: setup ## photograph the demo's pages for the README, in Chromium
	$(PY) -m tests.browser.screens

bench: setup ## the measurements in benchmarks/
	@for each in benchmarks/*.py; do echo "== $$each"; $(PY) $$each || exit 1; done

# Each needs the project's lowest Python, so that the pins hold from there up.
PIN := var/pins/bin/pip-compile --quiet --generate-hashes --strip-extras --allow-unsafe --no-config \
       --no-emit-index-url --no-emit-find-links --no-emit-trusted-host

catalogues: setup ## bring the catalogues of other languages up to date with the sources
	$(PY) -m config.catalogue

requirements: ## pin requirements*.in anew, with the hash of every published file
	python3.11 -m venv var/pins
	var/pins/bin/python -m pip install --quiet pip-tools==7.6.2
	CUSTOM_COMPILE_COMMAND="make requirements" $(PIN) $(UPGRADE) -o requirements.txt requirements.in
	CUSTOM_COMPILE_COMMAND="make requirements" $(PIN) $(UPGRADE) -o requirements-test.txt requirements-test.in
	CUSTOM_COMPILE_COMMAND="make requirements" $(PIN) $(UPGRADE) -o requirements-mutants.txt requirements-mutants.in

clean: ## remove caches; .venv and the demo's data in var/ stay
	rm -rf .pytest_cache .ruff_cache .mypy_cache .hypothesis .import_linter_cache
	find . -path ./.venv -prune -o -name __pycache__ -type d -print0 | xargs -0 rm -rf

# Without byte-compiling everything, setting up takes half as long; Python does it on first use.
.venv/.installed: requirements.txt requirements-test.txt
	@python= ; for each in python3.11 python3 python3.12 python3.13; do \
	    if $$each -c 'import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; \
	    then python=$$each; break; fi; \
	done; \
	if [ -z "$$python" ]; then \
	    echo "Hourmark needs Python 3.11 or newer with its venv module (on Debian: python3 and python3-venv)." >&2; \
	    exit 1; \
	fi; \
	$(PY) -m pip --version >/dev/null 2>&1 || $$python -m venv .venv
	@echo "Setting up .venv; this takes a minute or two, once."
	@$(PY) -m pip install --quiet --disable-pip-version-check --no-compile --require-hashes \
	    -r requirements.txt -r requirements-test.txt
	@touch $@

%.mo: %.po | .venv/.installed
	@$(BIN)/pybabel --quiet compile --input-file $< --output-file $@ --locale $(notdir $(patsubst %/LC_MESSAGES/,%,$(dir $<)))

var/mutants/.installed: requirements-mutants.txt | setup
	@$(PY) -m venv var/mutants
	@var/mutants/bin/python -m pip install --quiet --disable-pip-version-check --require-hashes -r $<
	@touch $@
