# Everything runs in a virtual environment of its own, made from the committed lock (requirements/).
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
# A user's own PYTHONPATH must not leak into the environment.
unexport PYTHONPATH
# Tests run in two processes, file by file, so that what a file shares is made once; threads of the linear algebra would
# only wait for one another.
test soak: export OPENBLAS_NUM_THREADS := 1

.PHONY: demo test lint bench blind docs soak lock clean

$(VENV)/base: requirements/base.txt requirements/build.txt pyproject.toml
	$(PYTHON) -c "import sys; sys.exit(0 if (3, 11) <= sys.version_info < (3, 15) else 'firstoff needs Python 3.11 to 3.14; set PYTHON=...')"
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -r requirements/base.txt -r requirements/build.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	touch $@

$(VENV)/dev: $(VENV)/base requirements/dev.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -r requirements/dev.txt
	touch $@

demo: $(VENV)/base
	$(BIN)/firstoff demo --to build/demo

test: $(VENV)/dev
	mkdir -p build
	$(BIN)/python -m pytest --numprocesses=2 --dist=loadfile --junitxml=build/junit.xml

lint: $(VENV)/dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: $(VENV)/dev
	mkdir -p build
	$(BIN)/python -m bench.run

blind: $(VENV)/dev
	mkdir -p build
	$(BIN)/python -m tests.blind.bench

docs: $(VENV)/base
	$(BIN)/python -m tools.write_docs

soak: $(VENV)/dev
	mkdir -p build
	HYPOTHESIS_PROFILE=soak $(BIN)/python -m pytest --numprocesses=2 --junitxml=build/soak.xml
	$(BIN)/python -m tests.records.soak --kills 1000 --tampers 1000 --database sqlite
	$(BIN)/python -m tests.records.soak --kills 1000 --tampers 1000 --database postgresql

lock: # needs uv
	uv pip compile -q --no-header --universal --python-version 3.11 --extra board pyproject.toml -o requirements/base.txt
	uv pip compile -q --no-header --universal --python-version 3.11 --extra board --group dev pyproject.toml -o requirements/dev.txt
	uv pip compile -q --no-header --universal --python-version 3.11 requirements/build.in -o requirements/build.txt

clean:
	rm -rf build $(VENV)
