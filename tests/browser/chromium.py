"""Find the browser that the tests drive, or install one; never carry on without."""

import os
import shutil
import subprocess
import sys
from pathlib import Path

VARIABLE = "WALLWORK_BROWSER"
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
PATIENCE = 120_000
"""ms that a test waits for a browser to show what it must: a busy machine decides no test."""
FLAGS = [
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
if hasattr(os, "geteuid") and os.geteuid() == 0:
    FLAGS.append("--no-sandbox")  # Chromium refuses to run as root with its sandbox on


def find() -> Path | None:
    """Return the browser named by the environment, else the system's, else Playwright's, else None."""
    named = os.environ.get(VARIABLE)
    if named:
        if not Path(named).is_file():
            raise SystemExit(f"{VARIABLE} names {named}, and there is no such file")
        return Path(named)
    for name in NAMES:
        found = shutil.which(name)
        if found:
            return Path(found)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        own = Path(playwright.chromium.executable_path)
    return own if own.is_file() else None


def find_or_install() -> Path:
    """Return a browser; where there is none, take Debian's as root, else Playwright's download."""
    found = find()
    if found:
        return found
    if shutil.which("apt-get") and hasattr(os, "geteuid") and os.geteuid() == 0:
        environment = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
        subprocess.run(["apt-get", "update", "-q"], check=False, env=environment)
        subprocess.run(["apt-get", "install", "-qy", "chromium"], check=False, env=environment)
    else:
        subprocess.run([sys.executable, "-m", "playwright", "install", "chromium"], check=False)
    found = find()
    if not found:
        raise SystemExit(
            f"The tests drive a browser and none was found. Install Chromium, Chrome or Edge, or set {VARIABLE}."
        )
    return found
