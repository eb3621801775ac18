"""What docs/deployment.md prints exists: settings, commands, options, files of the container."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path
from zipfile import ZipFile

import pytest

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "deployment.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"^```\w*\n(.*?)^```", PAGE, re.MULTILINE | re.DOTALL)
VARIABLE = re.compile(r"\b(SUFFICE_[A-Z_]+|DATABASE_URL)\b")
SOURCE = "\n".join(
    path.read_text(encoding="utf-8") for path in (ROOT / "src" / "suffice").rglob("*.py")
)


def block(start: str) -> str:
    (found,) = [one for one in BLOCKS if one.startswith(start)]
    return found


def test_every_setting_that_is_printed_is_read_by_the_program() -> None:
    printed = set(VARIABLE.findall(PAGE))
    assert printed >= {"SUFFICE_HOME", "SUFFICE_HTTPS", "SUFFICE_PROXIES", "DATABASE_URL"}
    assert {name for name in printed if f'"{name}"' not in SOURCE} == set()


def test_environment_file_is_understood_by_the_settings(tmp_path: Path) -> None:
    lines = [line for line in block("SUFFICE_HOME=").splitlines() if not line.startswith("#")]
    said = dict(line.split("=", 1) for line in lines) | {"SUFFICE_HOME": str(tmp_path)}
    bare = {name: value for name, value in os.environ.items() if not VARIABLE.fullmatch(name)}
    program = (
        "from suffice.web.site import settings as s;"
        "print(s.SESSION_COOKIE_NAME, s.SECURE_HSTS_SECONDS, s.ALLOWED_HOSTS, s.SUFFICE_PROXIES)"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        env=bare | said,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == [
        "__Host-session",
        said["SUFFICE_HSTS_S"],
        f"['{said['SUFFICE_HOSTS']}']",
        f"['{said['SUFFICE_PROXIES']}']",
    ]


@pytest.mark.parametrize("start", ["[Unit]\nDescription=Suffice\n", "[Unit]\nDescription=Backup"])
def test_commands_of_the_units_exist_with_their_options(start: str) -> None:
    unit = block(start)
    command = re.search(r"^ExecStart=\S+/suffice (.*)$", unit, re.MULTILINE)
    assert command
    name, *rest = command.group(1).split()
    said = subprocess.run(
        [sys.executable, "-m", "suffice.cli", name, "--help"],
        capture_output=True,
        text=True,
        check=True,
        env=os.environ | {"COLUMNS": "200", "TERM": "dumb"},
    ).stdout
    for option in (one for one in rest if one.startswith("--")):
        assert option in said
    assert "EnvironmentFile=/etc/suffice/environment" in unit


UNITS = {
    "suffice.service": ("[Unit]\nDescription=Suffice\n", "LoadCredentialEncrypted="),
    "suffice-backup.service": ("[Unit]\nDescription=Backup", "LoadCredentialEncrypted="),
    "suffice-backup.timer": ("[Timer]", ""),
}


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd here to ask")
@pytest.mark.parametrize("is_sealed", [False, True])
def test_systemd_finds_nothing_wrong_with_the_units(tmp_path: Path, is_sealed: bool) -> None:
    """As printed, but for the program, which is not at that place here; with the lines for a sealed key too."""
    for name, (start, more) in UNITS.items():
        unit = block(start).replace("/opt/suffice/.venv/bin/suffice", sys.executable)
        if is_sealed and more:
            unit = unit.replace("[Service]\n", f"[Service]\n{block(more)}")
        (tmp_path / name).write_text(unit, encoding="utf-8")
    said = subprocess.run(
        ["systemd-analyze", "verify", "--man=no", *map(str, tmp_path.iterdir())],
        capture_output=True,
        text=True,
        check=False,
        timeout=60,
    )
    assert [line for line in said.stderr.splitlines() if str(tmp_path) in line] == []
    assert "Unknown" not in said.stderr


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd here to ask")
def test_systemd_finds_little_that_the_service_may_do_besides_its_work(tmp_path: Path) -> None:
    """Its own scale goes from 0 to 10; below 5 is what it calls 'OK'. Without the limits it is 8.3, with them 1.8."""
    unit = tmp_path / "suffice.service"
    bare = block(UNITS[unit.name][0]).replace("/opt/suffice/.venv/bin/suffice", sys.executable)
    unit.write_text(bare, encoding="utf-8")
    asked = ["systemd-analyze", "security", "--offline=yes", "--no-pager", "--threshold=25", unit]
    said = subprocess.run(asked, capture_output=True, text=True, check=False, timeout=60)
    assert said.returncode == 0, said.stdout[-300:] + said.stderr
    assert "Overall exposure level" in said.stdout


def test_both_units_that_open_the_record_can_be_given_its_sealed_key() -> None:
    lines = dict(line.split("=", 1) for line in block("LoadCredentialEncrypted=").splitlines())
    name, _place = lines["LoadCredentialEncrypted"].split(":")
    assert lines["Environment"] == f"SUFFICE_RECORD_KEY=%d/{name}"
    assert f"systemd-creds encrypt --name={name} " in PAGE


def test_proxies_take_no_more_than_the_program_and_pass_on_what_it_reads() -> None:
    from suffice.web.site import limits  # noqa: PLC0415

    for start in ("clinic.example {", "server {"):
        proxy = block(start)
        most = re.search(r"max_(?:body_)?size (\d+)m", proxy, re.IGNORECASE)
        assert most
        assert int(most.group(1)) * 1024**2 >= limits.BODY_BYTES
        assert "127.0.0.1:8000" in proxy
    nginx = block("server {")
    for header in ("Host $host", "X-Forwarded-For $proxy_add", "X-Forwarded-Proto $scheme"):
        assert f"proxy_set_header {header}" in nginx


def test_container_is_built_from_the_lock_and_what_is_in_the_checkout() -> None:
    container = (ROOT / "Containerfile").read_text(encoding="utf-8")
    assert "--require-hashes" in container
    copied = re.findall(r"^COPY (?!--from)(.+) \S+$", container, re.MULTILINE)
    assert copied
    for name in " ".join(copied).split():
        assert (ROOT / name).exists(), name
    locks = re.findall(r"\S*requirements/\S+\.lock", container)
    assert {Path(one).name for one in locks} == {"installer.lock", "run.lock"}
    assert set(VARIABLE.findall(container)) <= set(VARIABLE.findall(SOURCE))
    assert re.search(r"^USER (?!root)\w+", container, re.MULTILINE)
    known = {
        "FROM",
        "WORKDIR",
        "COPY",
        "RUN",
        "USER",
        "ENV",
        "VOLUME",
        "EXPOSE",
        "STOPSIGNAL",
        "CMD",
    }
    whole = re.sub(r"\\\n", " ", container)
    said = [line.split(" ", 1) for line in whole.splitlines() if line and line[0] != "#"]
    assert {one for one, _rest in said} == known
    assert said[0][0] == "FROM"
    stages = [rest.split(" AS ")[1:] for one, rest in said if one == "FROM"]
    assert re.findall(r"--from=(\w+)", container) == [name for (name,) in filter(None, stages)]
    ((_, command),) = [one for one in said if one[0] == "CMD"]
    program, *arguments = json.loads(command)
    assert program == "/opt/suffice/.venv/bin/suffice"
    assert arguments[0] == "serve"


def test_what_the_container_installs_holds_every_file_of_the_program(tmp_path: Path) -> None:
    """Templates, words, values and pictures too: a checkout has them, what is built may not."""
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True, timeout=120)
    (wheel,) = tmp_path.glob("*.whl")
    held = {one for one in ZipFile(wheel).namelist() if one.startswith("suffice/")}
    source = ROOT / "src"
    there = {path for path in source.rglob("*") if path.is_file() and path.suffix != ".pyc"}
    assert {path.relative_to(source).as_posix() for path in there} == held
