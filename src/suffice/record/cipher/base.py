"""Django's way to an encrypted record: its own for SQLite, with SQLCipher in the place of Python's sqlite3."""

from __future__ import annotations

import datetime as dt
import decimal
from collections.abc import Iterable, Mapping
from itertools import tee
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.db.backends.sqlite3 import base
from django.db.backends.sqlite3._functions import (  # type: ignore[import-untyped]  # unknown to the stubs
    register as register_functions,
)
from django.utils.dateparse import parse_date, parse_datetime, parse_time
from sqlcipher3 import dbapi2

from suffice.record.cipher.driver import begin, opened
from suffice.record.cipher.key import VARIABLE

for kind, read in (
    ("bool", b"1".__eq__),
    ("date", base.decoder(parse_date)),
    ("time", base.decoder(parse_time)),
    ("datetime", base.decoder(parse_datetime)),
    ("timestamp", base.decoder(parse_datetime)),
):
    dbapi2.register_converter(kind, read)
dbapi2.register_adapter(decimal.Decimal, str)
dbapi2.register_adapter(dt.date, base.adapt_date)
dbapi2.register_adapter(dt.datetime, base.adapt_datetime)


class Cursor(dbapi2.Cursor):  # type: ignore[misc]  # the driver has no types
    """What Django's own cursor does: gaps as Django writes them become those of SQLite."""

    convert_query = base.SQLiteCursorWrapper.convert_query

    def execute(self, query: str, params: Any = None) -> Any:
        """Run a statement."""
        if params is None:
            return super().execute(query)
        return super().execute(self._converted(query, params), params)

    def executemany(self, query: str, param_list: Iterable[Any]) -> Any:
        """Run a statement once for each set of values."""
        first, rest = tee(iter(param_list))
        return super().executemany(self._converted(query, next(first, None)), rest)

    def _converted(self, query: str, params: Any) -> Any:
        names = list(params) if isinstance(params, Mapping) else None
        return self.convert_query(query, param_names=names)


class DatabaseWrapper(base.DatabaseWrapper):
    """A connection to the encrypted record; its key is that of the settings."""

    Database = dbapi2

    def get_new_connection(self, conn_params: dict[str, Any]) -> Any:
        """Open the file, which is made where there is none."""
        key = settings.RECORD_KEY
        if key is None:
            raise ImproperlyConfigured(VARIABLE, "")
        params = {**conn_params}
        path = Path(params.pop("database"))
        params.pop("uri")
        begin(path, key)
        made = opened(path, key, **params)
        register_functions(made)
        made.execute("PRAGMA foreign_keys = ON")
        made.execute("PRAGMA legacy_alter_table = OFF")
        for command in self.init_commands:  # type: ignore[attr-defined]  # unknown to the stubs
            if command.strip():
                made.execute(command)
        return made

    def create_cursor(self, name: str | None = None) -> Any:  # noqa: ARG002 -- as Django calls it
        """A cursor of the driver that the connection is of."""
        return self.connection.cursor(factory=Cursor)
