# make run    start Suffice on this computer        make test   all tests
#             (make run PORT=8001 on another port)
# make check  format, lint, types, imports, docs    make fix    what the tools can mend by themselves
# make bench  the benchmarks                        make validate  the engine against the published
# make lock   renew the locks                                      figures and open data
# make freeze  keep the content set of a release whole
# make kind NAME='skin fold'   begin a new kind of entry
# make coverage  the rooms that compute: every branch of every line must be run by their tests
# make sweep  every age, gain and loss against the rules
# make mutants  do the tests notice small faults? (N=60 for fewer)
.PHONY: run sweep test check fix bench validate lock freeze kind coverage mutants

PY := .venv/bin/python
# Tools that insist on a home folder get one inside the checkout.
TOOL_HOME := HOME="$(CURDIR)/var/home" XDG_CACHE_HOME="$(CURDIR)/var/home/.cache" \
	PYTHONDONTWRITEBYTECODE=1 OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
# The tests of everything that reaches the database run a second time on PostgreSQL.
ON_POSTGRES := tests/unit/record tests/unit/exchange tests/unit/care tests/fault tests/web tests/bad_input

# What the rooms that compute are tested by: nothing that goes through a page, a command or the record.
OF_ROOMS := tests/unit/clinical tests/unit/assess tests/unit/plan tests/unit/inference tests/unit/knowledge \
	tests/property tests/oracle tests/spec tests/content

# How many tests run side by side.
CORES ?= 2

run:
	@python3 tools/setup.py run
	@SUFFICE_HOME="$(CURDIR)/var" .venv/bin/suffice serve --demo $(if $(PORT),--port $(PORT))

test:
	@python3 tools/setup.py test
	@mkdir -p var/home
	$(TOOL_HOME) $(PY) -m pytest -q -n $(CORES)
	$(TOOL_HOME) $(PY) -m pytest -q -n $(CORES) --engine postgres $(ON_POSTGRES)

# Every case of the sweeps of the rules, of which `make test` takes each nth.
sweep:
	@python3 tools/setup.py test
	@mkdir -p var/home
	SUFFICE_SWEEP=every $(TOOL_HOME) $(PY) -m pytest -q -n $(CORES) tests/property

coverage:
	@python3 tools/setup.py test
	@mkdir -p var/home
	$(TOOL_HOME) $(PY) -m coverage run -m pytest -q $(OF_ROOMS)
	$(PY) -m coverage report

check:
	@python3 tools/setup.py test
	@mkdir -p var/home
	@$(TOOL_HOME) $(PY) tools/check.py

fix:
	@python3 tools/setup.py test
	.venv/bin/ruff format .
	.venv/bin/ruff check --fix .

bench:
	@python3 tools/setup.py test
	$(TOOL_HOME) $(PY) -m benchmarks

freeze:
	@python3 tools/setup.py test
	$(TOOL_HOME) $(PY) -m tools.freeze_content

kind:
	@python3 tools/setup.py test
	$(PY) -m tools.new_kind "$(NAME)"

validate:
	@python3 tools/setup.py validate
	$(TOOL_HOME) $(PY) -m tools.validate

N ?= 500
mutants:
	@python3 tools/setup.py test
	@mkdir -p var/home
	$(TOOL_HOME) $(PY) -m tools.mutants $(N)

LOCK := .venv/bin/uv pip compile -q --universal --python-version 3.11 --generate-hashes --no-header
lock:
	@python3 tools/setup.py run
	$(LOCK) $(UPGRADE) requirements/installer.in --no-annotate -o requirements/installer.lock
	$(LOCK) $(UPGRADE) pyproject.toml --group setup -o requirements/run.lock
	$(LOCK) $(UPGRADE) pyproject.toml --group setup --group test -c requirements/run.lock -o requirements/test.lock
	$(LOCK) $(UPGRADE) pyproject.toml --group setup --group test --group validate -c requirements/test.lock -o requirements/validate.lock
