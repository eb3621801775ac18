"""Triggers that let the record grow and refuse everything else, in the database itself.

They bind the ORM, raw SQL, bulk operations and any other program that opens the database. On
SQLite a further trap is closed: INSERT OR REPLACE deletes the old row without asking the DELETE
triggers, so a second row with an identity already taken is refused before it is inserted.

Two things may be deleted. A row that an import wrote and that never came onto the record, because its
arrival is not there; once an import has arrived no row may be added under its number either. And the
rows of a family that was erased: its erasure is there, which names two people, and it cannot be opened again.

On SQLite, a migration that alters one of these tables builds it anew and loses its triggers: such
a migration calls `remove` before and `install` after.
"""
# ruff: noqa: S608 -- all SQL is put together from the names in this file

from __future__ import annotations

from collections.abc import Container

from django.db import transaction
from django.db.backends.base.base import BaseDatabaseWrapper

IDENTITIES: dict[str, tuple[str, ...]] = {
    "record_family": ("id",),
    "record_infant": ("id",),
    "record_entry": ("seq", "id", "replaces"),
    "record_policyversion": ("number", "id"),
    "record_arrival": ("number",),
    "record_link": ("seq", "chain+number"),
    "record_seal": ("number",),
    "record_trailevent": ("seq", "id"),
    "record_erasure": ("number", "family_id"),
    "record_placement": ("number",),
}
"""Each append-only table with the columns, or joined columns, in which no value may come twice."""

ARRIVING = (
    "record_family",
    "record_infant",
    "record_entry",
    "record_link",
    "record_placement",
)
"""Those whose rows an import may write before they are on the record."""

ERASABLE = {
    "record_family": "id",
    "record_infant": "family_id",
    "record_entry": "family_id",
    "record_placement": "family_id",
    "record_link": "chain",
}
"""Those whose rows go with an erased family, each with the column that names it."""
ERASURES = "record_erasure"
ERASED_RULE = "this family was erased: it is not opened again"


def _arriving(there: Container[str]) -> tuple[str, ...]:
    """Those tables, once imports arrive at all: before, nothing of them may be deleted either."""
    return tuple(one for one in ARRIVING if one in there) if "record_arrival" in there else ()


ARRIVED_RULE = "this import has arrived: nothing is added to it"

KIND_RULE = "the kind of an entry is the kind of its fact"
INFANT_RULE = "an entry is about an infant of its own family"
REPLACES_RULE = (
    "an entry replaces one of the same family, infant and kind; a withdrawal replaces any"
    " entry but a withdrawal; what replaces a withdrawal has the kind of what was withdrawn"
)


def install(connection: BaseDatabaseWrapper) -> None:
    """Put the triggers on every append-only table that is there already."""
    there = set(connection.introspection.table_names())
    made = _sqlite_install(there) if _is_sqlite(connection) else _postgres_install(there)
    _run(connection, made)


def remove(connection: BaseDatabaseWrapper) -> None:
    """Take the triggers away, for undoing a migration and for emptying a test database."""
    _run(connection, _sqlite_remove() if _is_sqlite(connection) else _postgres_remove())


def missing(connection: BaseDatabaseWrapper) -> tuple[str, ...]:
    """The names of triggers that are not there, do nothing, or do something else than ours."""
    there = set(connection.introspection.table_names())
    if _is_sqlite(connection):
        expected = {one.split()[2]: one for one in _sqlite_install(there)}
        asked = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
    else:
        made = [one for one in _postgres_install(there) if "CREATE FUNCTION" not in one]
        expected = {one.split()[-1]: ALWAYS for one in made if "ENABLE ALWAYS" in one}
        for function in (_refuse(), _entry_check(), _keep(there)):
            name = function.split("CREATE FUNCTION ")[1].split("(")[0]
            expected[name] = function.split("$$")[1]
        asked = (
            "SELECT tgname, tgenabled::text FROM pg_trigger WHERE NOT tgisinternal"
            " UNION ALL SELECT proname, prosrc FROM pg_proc WHERE proname LIKE 'record%'"
        )
    with connection.cursor() as cursor:
        cursor.execute(asked)
        found = dict(cursor.fetchall())
    return tuple(sorted(name for name, made in expected.items() if found.get(name) != made))


ALWAYS = "A"
"""What PostgreSQL says of a trigger that fires whoever writes."""


def put_back(connection: BaseDatabaseWrapper) -> None:
    """Put every trigger on as it should be, where some are missing."""
    with transaction.atomic():
        remove(connection)
        install(connection)


def _is_sqlite(connection: BaseDatabaseWrapper) -> bool:
    if connection.vendor not in {"sqlite", "postgresql"}:
        raise NotImplementedError(f"the record has no append-only triggers for {connection.vendor}")
    return connection.vendor == "sqlite"


def _run(connection: BaseDatabaseWrapper, statements: list[str]) -> None:
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)


def _replaceable(same_infant: str) -> str:
    """The query for an entry that NEW may replace; `same_infant` must hold for two NULLs too."""
    return f"""
        SELECT 1 FROM record_entry earlier
        LEFT JOIN record_entry withdrawn ON withdrawn.id = earlier.replaces
        WHERE earlier.id = NEW.replaces AND earlier.family_id = NEW.family_id AND {same_infant}
        AND CASE WHEN earlier.kind = 'withdrawal' THEN withdrawn.kind = NEW.kind
                 ELSE NEW.kind IN (earlier.kind, 'withdrawal') END
    """


def _arrived(row: str) -> str:
    """The query for the arrival of OLD or NEW."""
    return f"SELECT 1 FROM record_arrival WHERE number = {row}.arrival"


def _sqlite_trigger(name: str, event: str, when: str, message: str) -> str:
    return (
        f"CREATE TRIGGER {name} BEFORE {event} {when} BEGIN SELECT RAISE(ABORT, '{message}'); END"
    )


def _sqlite_install(there: Container[str]) -> list[str]:
    statements = []
    for table, columns in IDENTITIES.items():
        if table not in there:
            continue
        for act in ("UPDATE", "DELETE"):
            refusal = f"{table} is append-only: {act} is refused; a correction is a new entry"
            name = f"{table}_no_{act.lower()}"
            on_record = f"WHEN OLD.arrival IS NULL OR EXISTS ({_arrived('OLD')})"
            if table in ERASABLE and ERASURES in there:
                on_record = f"WHEN ({on_record[5:]}) AND NOT EXISTS ({_erased(table)})"
            when = on_record if act == "DELETE" and table in _arriving(there) else ""
            statements.append(_sqlite_trigger(name, f"{act} ON {table}", when, refusal))
        for column in columns:
            same = " AND ".join(f"{one} = NEW.{one}" for one in column.split("+"))
            is_taken = f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {same})"
            taken = f"{table} is append-only: this {column} is already there"
            name = _second(table, column)
            statements.append(_sqlite_trigger(name, f"INSERT ON {table}", is_taken, taken))
    for table in _arriving(there):
        late = f"WHEN EXISTS ({_arrived('NEW')})"
        name = f"{table}_no_late_insert"
        statements.append(
            _sqlite_trigger(name, f"INSERT ON {table}", late, f"{table}: {ARRIVED_RULE}")
        )
    if ERASURES in there:
        gone = f"WHEN EXISTS (SELECT 1 FROM {ERASURES} WHERE family_id = NEW.id)"
        event = "INSERT ON record_family"
        statements.append(_sqlite_trigger("record_family_no_erased", event, gone, ERASED_RULE))
    foreign_infant = """
        WHEN NEW.infant_id IS NOT NULL AND NOT EXISTS (
            SELECT 1 FROM record_infant WHERE id = NEW.infant_id AND family_id = NEW.family_id)
    """
    misplaced = f"""
        WHEN (NEW.replaces IS NULL AND NEW.kind = 'withdrawal')
        OR (NEW.replaces IS NOT NULL
            AND NOT EXISTS ({_replaceable("earlier.infant_id IS NEW.infant_id")}))
    """
    other_kind = "WHEN NEW.kind IS NOT json_extract(NEW.fact, '$.kind')"
    event = "INSERT ON record_entry"
    return [
        *statements,
        _sqlite_trigger("record_entry_kind", event, other_kind, KIND_RULE),
        _sqlite_trigger("record_entry_infant", event, foreign_infant, INFANT_RULE),
        _sqlite_trigger("record_entry_replaces", event, misplaced, REPLACES_RULE),
    ]


def _erased(table: str) -> str:
    """The query for the erasure of the family of OLD, on SQLite; a chain is named like a family."""
    return f"SELECT 1 FROM {ERASURES} WHERE family_id = OLD.{ERASABLE[table]}"


def _second(table: str, column: str) -> str:
    return f"{table}_no_second_{column.replace('+', '_')}"


def _sqlite_remove() -> list[str]:
    names = [f"record_entry_{name}" for name in ("kind", "infant", "replaces")]
    names += [f"{table}_no_late_insert" for table in ARRIVING]
    names += ["record_family_no_erased"]
    for table, columns in IDENTITIES.items():
        names += [f"{table}_no_{act}" for act in ("update", "delete")]
        names += [_second(table, column) for column in columns]
    return [f"DROP TRIGGER IF EXISTS {name}" for name in names]


def _postgres_install(there: Container[str]) -> list[str]:
    checked = """
        CREATE TRIGGER record_entry_check BEFORE INSERT ON record_entry
        FOR EACH ROW EXECUTE FUNCTION record_entry_check()
    """
    statements = [_refuse(), _entry_check(), _keep(there)]
    statements += [checked, _enable_always("record_entry", "record_entry_check")]
    for table in _arriving(there):
        keep = f"""
            CREATE TRIGGER {table}_keep BEFORE INSERT OR DELETE ON {table}
            FOR EACH ROW EXECUTE FUNCTION record_keep()
        """
        statements += [keep, _enable_always(table, f"{table}_keep")]
    for table in (one for one in IDENTITIES if one in there):
        # FOR EACH STATEMENT: an UPDATE that matches no row is refused as well, and TRUNCATE too.
        is_arriving = table in _arriving(there)
        acts = "UPDATE OR TRUNCATE" if is_arriving else "UPDATE OR DELETE OR TRUNCATE"
        refused = f"""
            CREATE TRIGGER {table}_refuse BEFORE {acts} ON {table}
            FOR EACH STATEMENT EXECUTE FUNCTION record_refuse()
        """
        statements += [refused, _enable_always(table, f"{table}_refuse")]
    return statements


def _refuse() -> str:
    return """
        CREATE FUNCTION record_refuse() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
            RAISE EXCEPTION '% is append-only: % is refused; a correction is a new entry',
                TG_TABLE_NAME, TG_OP USING ERRCODE = 'integrity_constraint_violation';
        END $$
    """


def _entry_check() -> str:
    return f"""
        CREATE FUNCTION record_entry_check() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
            IF NEW.kind IS DISTINCT FROM NEW.fact->>'kind' THEN
                RAISE EXCEPTION '{KIND_RULE}' USING ERRCODE = 'integrity_constraint_violation';
            END IF;
            IF NEW.infant_id IS NOT NULL AND NOT EXISTS (
                SELECT 1 FROM record_infant
                WHERE id = NEW.infant_id AND family_id = NEW.family_id
            ) THEN
                RAISE EXCEPTION '{INFANT_RULE}' USING ERRCODE = 'integrity_constraint_violation';
            END IF;
            IF (NEW.replaces IS NULL AND NEW.kind = 'withdrawal')
            OR (NEW.replaces IS NOT NULL AND NOT EXISTS (
                {_replaceable("earlier.infant_id IS NOT DISTINCT FROM NEW.infant_id")}
            )) THEN
                RAISE EXCEPTION '{REPLACES_RULE}' USING ERRCODE = 'integrity_constraint_violation';
            END IF;
            RETURN NEW;
        END $$
    """


def _keep(there: Container[str]) -> str:
    opened_again, is_kept = "", f"OLD.arrival IS NULL OR EXISTS ({_arrived('OLD')})"
    if ERASURES in there:
        # One function for tables whose columns differ, so that a row is asked as JSON.
        columns = ", ".join(f"to_jsonb({{row}})->>'{one}'" for one in ("chain", "family_id", "id"))
        named = f"replace(coalesce({columns}), '-', '')"
        found = f"SELECT 1 FROM {ERASURES} WHERE replace(family_id::text, '-', '') = {named}"
        is_kept = f"({is_kept}) AND NOT EXISTS ({found.format(row='OLD')})"
        opened_again = f"""
                IF TG_TABLE_NAME = 'record_family' AND EXISTS ({found.format(row="NEW")}) THEN
                    RAISE EXCEPTION '%: {ERASED_RULE}', TG_TABLE_NAME
                        USING ERRCODE = 'integrity_constraint_violation';
                END IF;"""
    return f"""
        CREATE FUNCTION record_keep() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
            IF TG_OP = 'INSERT' THEN
                IF EXISTS ({_arrived("NEW")}) THEN
                    RAISE EXCEPTION '%: {ARRIVED_RULE}', TG_TABLE_NAME
                        USING ERRCODE = 'integrity_constraint_violation';
                END IF;{opened_again}
                RETURN NEW;
            END IF;
            IF {is_kept} THEN
                RAISE EXCEPTION '% is append-only: DELETE is refused; a correction is a new entry',
                    TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation';
            END IF;
            RETURN OLD;
        END $$
    """


def _enable_always(table: str, trigger: str) -> str:
    """Without it, a session that sets session_replication_role to replica would pass by."""
    return f"ALTER TABLE {table} ENABLE ALWAYS TRIGGER {trigger}"


def _postgres_remove() -> list[str]:
    return [
        "DROP TRIGGER IF EXISTS record_entry_check ON record_entry",
        *(f"DROP TRIGGER IF EXISTS {table}_refuse ON {table}" for table in IDENTITIES),
        *(f"DROP TRIGGER IF EXISTS {table}_keep ON {table}" for table in ARRIVING),
        "DROP FUNCTION IF EXISTS record_keep()",
        "DROP FUNCTION IF EXISTS record_entry_check()",
        "DROP FUNCTION IF EXISTS record_refuse()",
    ]
