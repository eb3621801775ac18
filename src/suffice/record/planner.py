"""What PostgreSQL knows of how large the tables are: by it it chooses how to look entries up."""

from __future__ import annotations

from django.db import connection

from suffice.record import models

_TABLE = models.Entry._meta.db_table  # noqa: SLF001 -- the public way to the name of a table
_KNOWN = """
SELECT c.reltuples >= 0 AND coalesce(s.n_mod_since_analyze, 0) <= 2 * c.reltuples
FROM pg_class c LEFT JOIN pg_stat_user_tables s ON s.relid = c.oid
WHERE c.oid = %s::regclass
"""


def know_sizes() -> bool:
    """Have PostgreSQL look how many entries there are and of how many families; whether it had to.

    It does so by itself, but up to a minute after many were stored. Until then it takes every family for a
    two-hundredth of the record and reads all of it for each slice of families, in several processes. Other
    engines choose without such figures. A user to whom the table does not belong is told so by PostgreSQL,
    and goes on without.
    """
    if connection.vendor != "postgresql":
        return False
    with connection.cursor() as cursor:
        cursor.execute(_KNOWN, [_TABLE])
        (is_known,) = cursor.fetchone() or (True,)
        if not is_known:
            # Of the one column that is asked about: the texts of entries are wide, and nobody asks by them.
            cursor.execute(f'ANALYZE "{_TABLE}" ("family_id")')
    return not is_known
