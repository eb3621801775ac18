"""Takes the README's picture of a family page, from the invented caseload.

    python -m tools.picture            # writes docs/pictures/family.png

Needs the system's Chromium, as the browser tests do.
"""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

from playwright.sync_api import sync_playwright

ROOT = Path(__file__).resolve().parents[1]
PICTURE = ROOT / "docs" / "pictures" / "family.png"
FAMILY = "Chiamaka Delacroix"
PASSPHRASE = "only for a picture"
SIZE = {"width": 1280, "height": 1240}


def main() -> None:
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        raise SystemExit("no Chromium on this machine: install the system's package 'chromium'")
    with tempfile.TemporaryDirectory() as home:
        environment = {**os.environ, "SUFFICE_HOME": home}
        environment.pop("DATABASE_URL", None)
        command = [sys.executable, "-m", "suffice.cli"]
        subprocess.run(
            [*command, "user", "add", "consultant"],
            input=PASSPHRASE, text=True, env=environment, check=True, capture_output=True,
        )  # fmt: skip
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        server = subprocess.Popen(
            [*command, "serve", "--demo", "--workers", "1", "--port", str(port)], env=environment
        )
        try:
            take(f"http://localhost:{port}", chromium)
        finally:
            server.terminate()
            server.wait(timeout=20)


def take(address: str, chromium: str) -> None:
    for _attempt in range(120):
        try:
            urlopen(f"{address}/sign-in/").close()
            break
        except (URLError, ConnectionError):
            time.sleep(0.25)
    arguments = ["--no-sandbox"] if os.geteuid() == 0 else []
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium, args=arguments)
        page = browser.new_page(viewport=SIZE)  # type: ignore[arg-type]
        page.goto(f"{address}/sign-in/")
        page.get_by_label("Name").fill("consultant")
        page.get_by_label("Passphrase").fill(PASSPHRASE)
        page.get_by_role("button", name="Sign in", exact=True).click()
        page.get_by_role("link", name=FAMILY).click()
        page.locator(".chart .drawing:visible").first.wait_for()
        PICTURE.parent.mkdir(parents=True, exist_ok=True)
        page.screenshot(path=PICTURE)
        browser.close()


if __name__ == "__main__":
    main()
