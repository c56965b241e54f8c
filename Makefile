# make demo    sets everything up and plans a descent on the sample data
# make test    sets everything up and passes the tests
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
SAMPLE := data/sample_dem

.PHONY: demo test check bench calibration validation docs sample clean

$(VENV)/.run: pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info >= (3, 11) else "Python 3.11 or newer is needed: make PYTHON=/path/to/python3.11")'
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV) || { echo "python3-venv is needed: sudo apt install python3-venv"; exit 1; }
	$(BIN)/python -m pip install --quiet -e .
	@touch $@

$(VENV)/.dev: $(VENV)/.run
	$(BIN)/python -m pip install --quiet -e '.[dev]'
	@touch $@

demo: $(VENV)/.run
	$(BIN)/descent plan $(SAMPLE)/route.geojson --dem $(SAMPLE)/pass_10m.tif --places $(SAMPLE)/places.geojson \
	  --vehicle tractor-semitrailer --gross 80000lb --out build/demo

test: $(VENV)/.dev
	$(BIN)/python -m pytest -n 2 --dist worksteal

check: $(VENV)/.dev
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/python -m pytest -q tests/test_layers.py tests/test_module_size.py

bench: $(VENV)/.dev
	$(BIN)/python -m benchmarks

calibration: $(VENV)/.dev
	$(BIN)/python -m benchmarks.calibration

validation: $(VENV)/.dev
	$(BIN)/python -m benchmarks.validation

docs: $(VENV)/.dev
	$(BIN)/python -m descent.sources > docs/sources.md
	$(BIN)/python -m descent.errors > docs/errors.md
	$(BIN)/python docs/catalogue.py > docs/vehicles.md
	$(BIN)/python docs/plots.py
	$(BIN)/python docs/stop_plots.py
	$(BIN)/python -m benchmarks.bad_input

sample: $(VENV)/.run
	$(BIN)/python $(SAMPLE)/make_sample.py

clean:
	rm -rf build $(VENV)
