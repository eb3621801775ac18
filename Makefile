# make run    start Suffice on this computer        make test   all tests
#             (make run PORT=8001 on another port)
# make check  format, lint, types, imports, docs    make fix    what the tools can correct by themselves
# make bench  the benchmarks                        make validate  the engine against the published
# make lock   renew the locks, the bill of materials               figures and open data
#             and the list of licences
# make audit  known vulnerabilities of what is installed
# make freeze  keep the content set of a release whole
# make kind NAME='skin fold'   begin a new kind of entry
# make coverage  the rooms that compute: every branch of every line must be run by their tests
# make sweep  every age, gain and loss against the rules
# make attack  strangers, every role, slow clients, hostile files and a fuzzer against a server (REQUESTS=500 for fewer)
# make load  a clinic at work for five minutes on either engine      make torture  kills in the middle (KILLS=60)
# make mutants  do the tests notice small faults? (N=60 for fewer; RESUME=1 goes on where one was stopped)
.PHONY: run sweep test check fix bench validate lock freeze kind coverage mutants attack load torture audit

PY := .venv/bin/python
# Tools that insist on a home folder get one inside the checkout. Where an environment forbids bytecode, each of the
# hundred programs that the tests start would compile Django and Suffice anew, twice the work of a start.
TOOL_HOME := HOME="$(CURDIR)/var/home" XDG_CACHE_HOME="$(CURDIR)/var/home/.cache" \
	PYTHONPYCACHEPREFIX="$(CURDIR)/var/pycache" PYTHONDONTWRITEBYTECODE= OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
# The tests of everything that reaches the database run a second time on PostgreSQL; of the tests of pages
# as many as it takes to have asked there by three what any has asked of SQLite. `make sweep` runs all of them.
# One word: where the folder is there, a word of its own would be taken for where the tests are.
STATEMENTS := --statements=var/statements
# A part of them a third time, on a SQLite that is encrypted whole.
ENCRYPTED := tests/unit/record/cipher tests/unit/record/test_append_only.py tests/unit/record/test_repository.py \
	tests/unit/care/test_encrypted_whole.py tests/unit/care/backup/test_backup.py tests/unit/exchange tests/web/test_damage.py
ON_POSTGRES := tests/unit/record tests/unit/exchange tests/unit/care tests/fault tests/web tests/bad_input

# What the rooms that compute are tested by: nothing that goes through a page, a command or the record.
OF_ROOMS := tests/unit/clinical tests/unit/assess tests/unit/plan tests/unit/inference tests/unit/knowledge \
	tests/property tests/oracle tests/spec tests/content

# How many tests run side by side: four on two cores, since many wait for a browser, a server or a program.
CORES ?= 4

run:
	@python3 tools/setup.py run
	@SUFFICE_HOME="$(CURDIR)/var" .venv/bin/suffice serve --demo $(if $(PORT),--port $(PORT))

test:
	@python3 tools/setup.py test
	@mkdir -p var/home
	$(TOOL_HOME) $(PY) -m pytest -q -n $(CORES) --dist worksteal --max-suite-reruns 4 -rR $(STATEMENTS)
	$(TOOL_HOME) $(PY) -m pytest -q -n $(CORES) --dist worksteal --engine postgres $(STATEMENTS) $(ON_POSTGRES)
	$(TOOL_HOME) $(PY) -m pytest -q -n $(CORES) --dist worksteal --engine encrypted $(ENCRYPTED)

# Every case of the sweeps of the rules, of which `make test` takes each nth.
sweep:
	@python3 tools/setup.py test
	@mkdir -p var/home
	SUFFICE_SWEEP=every $(TOOL_HOME) $(PY) -m pytest -q -n $(CORES) tests/property tests/fault tests/spec/test_plans_and_papers.py
	$(TOOL_HOME) $(PY) -m pytest -q -n $(CORES) --dist worksteal --engine postgres $(ON_POSTGRES)

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
	@mkdir -p var/home
	$(TOOL_HOME) $(PY) -m benchmarks

freeze:
	@python3 tools/setup.py test
	@mkdir -p var/home
	$(TOOL_HOME) $(PY) -m tools.freeze_content

kind:
	@python3 tools/setup.py test
	$(PY) -m tools.new_kind "$(NAME)"

validate:
	@python3 tools/setup.py validate
	@mkdir -p var/home
	$(TOOL_HOME) $(PY) -m tools.validate

N ?= 500
mutants:
	@python3 tools/setup.py test
	@mkdir -p var/home
	$(TOOL_HOME) $(PY) -m tools.mutants $(N) $(if $(RESUME),--resume)

# Each starts what it attacks, on this computer only, and ends it.
REQUESTS ?= 20000
attack:
	@python3 tools/setup.py test
	@mkdir -p var/home
	$(TOOL_HOME) $(PY) -m tools.attack --requests $(REQUESTS)

SECONDS ?= 300
load:
	@python3 tools/setup.py test
	@mkdir -p var/home
	$(TOOL_HOME) $(PY) -m tools.attack.load --seconds $(SECONDS)

KILLS ?= 1000
torture:
	@python3 tools/setup.py test
	@mkdir -p var/home
	$(TOOL_HOME) $(PY) -m tools.attack.torture $(KILLS)

LOCK := .venv/bin/uv pip compile -q --universal --python-version 3.11 --generate-hashes --no-header
lock:
	@python3 tools/setup.py run
	$(LOCK) $(UPGRADE) requirements/installer.in --no-annotate -o requirements/installer.lock
	$(LOCK) $(UPGRADE) pyproject.toml --group setup -o requirements/run.lock
	$(LOCK) $(UPGRADE) pyproject.toml --group setup --extra encrypted -c requirements/run.lock -o requirements/encrypted.lock
	$(LOCK) $(UPGRADE) pyproject.toml --group setup --group test -c requirements/run.lock -o requirements/test.lock
	$(LOCK) $(UPGRADE) pyproject.toml --group setup --group test --group validate -c requirements/test.lock -o requirements/validate.lock
	@python3 tools/setup.py test
	$(PY) -m tools.sbom

audit:
	@python3 tools/setup.py test
	@mkdir -p var/home
	$(TOOL_HOME) $(PY) -m tools.audit
