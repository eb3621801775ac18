"""An encryption killed at any moment leaves the record as it was or as it was asked for, and nothing readable."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from fault import killing
from fault.test_kill_restore import environment, family_file, run
from record_file import a_key
from suffice.record.cipher.configured import RECORD, unfinished
from suffice.record.cipher.key import VARIABLE, Kind, look

ENCRYPTER = str(Path(__file__).with_name("encrypter.py"))
CONVERTING = "suffice.record.cipher.converting"
NAME = b"Svetlana Inventada"


def kill_at(said: dict[str, str], place: str, *command: str | Path) -> None:
    killing.kill_at(place, [ENCRYPTER, place, *command], said)


def with_key(said: dict[str, str], key: Path) -> dict[str, str]:
    return said | {VARIABLE: str(key)}


def is_whole(said: dict[str, str]) -> bool:
    return "Nothing was changed" in run(said, "-m", "suffice.cli", "verify")


def on_disk(home: Path) -> bytes:
    return b"".join(path.read_bytes() for path in home.rglob("*") if path.is_file())


def test_it_is_as_it_was_until_its_one_step_and_then_as_it_was_asked_for(tmp_path: Path) -> None:
    home, (key, _key) = tmp_path / "home", a_key(tmp_path)
    plain, record = environment(home, ""), home / RECORD
    encrypted = with_key(plain, key)
    run(plain, "-m", "suffice.cli", "import", family_file(tmp_path))
    for place in ("_is_same", "_put"):
        kill_at(plain, f"{CONVERTING}:{place}", "encrypt", "--key", key)
        assert look(record).kind is Kind.PLAIN
        assert unfinished(record).exists()
        assert is_whole(plain)
        assert not unfinished(record).exists()
    (home / "before-upgrade").mkdir()
    (home / "before-upgrade" / "one.backup").write_bytes(NAME)
    (home / "before-upgrade-key").write_bytes(b"beside it")
    kill_at(plain, f"{CONVERTING}:_write_over", "encrypt", "--key", key)
    assert look(record).kind is Kind.ENCRYPTED
    assert is_whole(encrypted)
    assert not (home / "before-upgrade-key").exists()
    assert NAME not in on_disk(home)


def test_a_killed_decryption_leaves_nothing_readable_behind_the_next_start(tmp_path: Path) -> None:
    home, (key, _key) = tmp_path / "home", a_key(tmp_path)
    (other, _other), record = a_key(tmp_path, "other"), home / RECORD
    said = with_key(environment(home, ""), key)
    run(said, "-m", "suffice.cli", "import", family_file(tmp_path))
    kill_at(said, f"{CONVERTING}:_put", "decrypt")
    assert NAME in on_disk(home)
    assert is_whole(said)
    assert NAME not in on_disk(home)
    kill_at(said, f"{CONVERTING}:_put", "encrypt", "--change-to", other)
    assert is_whole(said)
    run(said, "-m", "suffice.cli", "encrypt", "--change-to", other)
    assert is_whole(with_key(said, other))
    assert look(record).kind is Kind.ENCRYPTED


def test_a_record_that_another_program_uses_is_not_touched(tmp_path: Path) -> None:
    home, (key, _key) = tmp_path / "home", a_key(tmp_path)
    said = environment(home, "")
    run(said, "-m", "suffice.cli", "import", family_file(tmp_path))
    code = "from suffice.cli.store import open_record; open_record(); print('there', flush=True); input()"
    user = subprocess.Popen(
        [sys.executable, "-c", code],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=said,
    )
    try:
        assert user.stdout is not None
        assert user.stdout.readline() == "there\n"
        done = subprocess.run(
            [sys.executable, "-m", "suffice.cli", "encrypt", "--key", key],
            capture_output=True,
            text=True,
            check=False,
            env=said,
            timeout=120,
        )
    finally:
        user.kill()
        user.communicate()
    assert (done.returncode, "STORE-012" in done.stderr) == (4, True), done.stderr
    assert look(home / RECORD).kind is Kind.PLAIN
