"""The sheet on disk: the page, and the same as PDF through a browser at hand; whole or not at all."""

import errno
import os
import shutil
import signal
import subprocess
import sys
from contextlib import suppress
from pathlib import Path
from tempfile import TemporaryDirectory

from pipeline.writing.files import refuse, write_all

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "microsoft-edge",
            "msedge")
_MAC = "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome"
_FLAGS = ("--headless", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-sync",
          "--host-resolver-rules=MAP * ~NOTFOUND", "--no-pdf-header-footer")
PATIENCE_S = 120


class SheetError(Exception):
    """The sheet cannot be written; the message says how to mend it."""


def write_sheet(page: str, out: Path | None, pdf: Path | None, force: bool = False) -> list[Path]:
    """Write the page and its PDF where asked, and say where; nothing is written unless both can be.

    Raises SheetError where no browser makes the PDF, FileExistsError without `force`, OSError as the disk does.
    """
    targets = [path for path in (out, pdf) if path is not None]
    if out is not None and pdf is not None and out.resolve() == pdf.resolve():
        raise SheetError(f"{pdf}: the page and the PDF need two names")
    for path in targets:
        if not path.parent.is_dir():
            raise FileNotFoundError(errno.ENOENT, "no such folder: make it first", str(path.parent))
        refuse(path, force=force)
    printed = as_pdf(page, pdf.parent) if pdf is not None else b""
    write_all({path: printed if path is pdf else page.encode() for path in targets}, force=force)
    return targets


def browser() -> str | None:
    """A browser that prints to PDF, or None."""
    found = next((path for name in BROWSERS if (path := shutil.which(name))), None)
    return found or (_MAC if sys.platform == "darwin" and Path(_MAC).is_file() else None)


def run_tree(command: list[str], seconds: float) -> int:
    """Exit status of a program; what it has started ends with it, also when it takes too long or this run is ended.

    Raises OSError where it cannot be started, subprocess.TimeoutExpired where it takes longer.
    """
    with subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
                          start_new_session=True) as process:
        try:
            return process.wait(seconds)
        finally:
            with suppress(OSError):  # it is gone, and all it has started
                os.killpg(process.pid, signal.SIGKILL) if hasattr(os, "killpg") else process.kill()


def as_pdf(page: str, beside: Path) -> bytes:
    """The page printed to PDF; the work is done in a folder `beside`, which confined browsers may read."""
    program = browser()
    if program is None:
        raise SheetError("--pdf needs Chromium or Google Chrome: install one (Debian: apt install chromium), or write "
                         "the page with -o and print it from your browser")
    with TemporaryDirectory(prefix="tubewright-", dir=beside, ignore_cleanup_errors=True) as folder:
        source, target = Path(folder, "sheet.html").resolve(), Path(folder, "sheet.pdf").resolve()
        source.write_text(page, encoding="utf-8")
        flags = [*_FLAGS, *(["--no-sandbox"] if getattr(os, "geteuid", lambda: 1)() == 0 else [])]  # root has none
        command = [program, *flags, f"--user-data-dir={Path(folder, 'profile').resolve()}", f"--print-to-pdf={target}",
                   source.as_uri()]
        try:
            status = run_tree(command, PATIENCE_S)
        except (OSError, subprocess.TimeoutExpired) as error:
            raise SheetError(f"{program} did not print the page: {type(error).__name__}") from None
        if not target.is_file() or not target.read_bytes().startswith(b"%PDF-"):
            raise SheetError(f"{program} did not print the page (status {status}): write it with -o and print "
                             "it from your browser")
        return target.read_bytes()
