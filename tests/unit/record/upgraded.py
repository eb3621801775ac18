"""A record that was begun before there were chains, brought up to date; prints what a check finds.

Run by test_chain_start.py in a process of its own, with the database in its environment.
"""

from __future__ import annotations

import json
from uuid import UUID

import django
from django.core.management import call_command
from django.db import connection

FAMILIES, ENTRIES = 3, 700
AT = "2026-05-01 06:00:00.5+00:00"


KEYED = ("family", "infant", "entry", "policy")


def key(of: str, number: int) -> str:
    return UUID(int=(1 + KEYED.index(of)) * 10**6 + number).hex


def put(table: str, **values: object) -> None:
    with connection.cursor() as cursor:
        names, gaps = ", ".join(values), ", ".join(["%s"] * len(values))
        cursor.execute(f"INSERT INTO {table} ({names}) VALUES ({gaps})", list(values.values()))


def put_family(number: int, arrival: int | None) -> None:
    at = AT if connection.vendor == "postgresql" else AT.removesuffix("+00:00")
    family, infant = key("family", number), key("infant", number)
    put("record_family", id=family, opened_at=at, opened_by="consultant", arrival=arrival)
    put("record_infant", id=infant, family_id=family, position=1, arrival=arrival)
    for entry in range(ENTRIES if number == 0 else 3):
        fact = {"kind": "weight", "weight_g": 3000 + entry, "clothing": "naked", "é": 1e-7}
        put(
            "record_entry",
            id=key("entry", 1000 * number + entry),
            family_id=family,
            infant_id=infant,
            kind="weight",
            basis="measured",
            true_at=at,
            entered_at=at,
            entered_by="consultant",
            device="scale 1" if entry % 2 else None,
            fact=json.dumps(fact),
            arrival=arrival,
        )


def main() -> None:
    django.setup()
    call_command("migrate", "record", "0007", verbosity=0)
    for number, arrival in enumerate([None, 4, 5]):
        put_family(number, arrival)
    put("record_arrival", number=4, arrived_at=AT, opened_count=1, entry_count=3)
    policy = {"zone": "UTC", "limits": {"x": 7}}
    put(
        "record_policyversion",
        id=key("policy", 1),
        entered_at=AT,
        entered_by="consultant",
        policy=json.dumps(policy),
    )
    call_command("migrate", verbosity=0)

    from suffice.record import append_only, arrival  # noqa: PLC0415
    from suffice.record.verify import verify  # noqa: PLC0415

    def said() -> list[object]:
        checked = verify()
        found = [(one.wrong, one.form, one.key, one.family) for one in checked.found]
        return [checked.link_count, checked.row_count, found]

    whole = said()
    arrival.drop(5)
    dropped = said()
    append_only.remove(connection)
    with connection.cursor() as cursor:
        for number, entry in ((0, ENTRIES - 1), (1, 1001)):
            cursor.execute(
                "UPDATE record_entry SET device = 'x' WHERE id = %s", [key("entry", entry)]
            )
            assert cursor.rowcount == 1, number
    append_only.install(connection)
    print(json.dumps([whole, dropped, said(), [key("entry", ENTRIES - 1), key("entry", 1001)]]))


main()
