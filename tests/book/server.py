"""A PostgreSQL server of our own for as long as the tests run: in a temporary folder, on a socket that nobody else sees."""

from __future__ import annotations

import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import sqlalchemy as sa

NO_SERVER = "PostgreSQL is not installed (Debian: apt-get install postgresql)"
_QUICK = ("fsync=off", "full_page_writes=off", "synchronous_commit=off", "listen_addresses=", "max_connections=20")
"""What is written here is thrown away; no network."""


def programs() -> Path | None:
    """The folder of `initdb` and `postgres`: where Debian puts them, or on the path."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    on_path = shutil.which("initdb")
    return found[-1].parent if found else Path(on_path).resolve().parent if on_path else None


def _user() -> dict[str, object]:
    """Who runs the server: it refuses root."""
    if os.geteuid() != 0:
        return {}
    for name in ("postgres", "nobody"):
        try:
            found = pwd.getpwnam(name)
        except KeyError:
            continue
        return {"user": found.pw_uid, "group": found.pw_gid, "extra_groups": []}
    raise RuntimeError("root may not run PostgreSQL, and there is no other user")


@contextmanager
def running(bin_folder: Path) -> Iterator[str]:
    """A server; gives its address without a database's name, ``postgresql://book@/{}?host=...``."""
    who = _user()
    folder = Path(tempfile.mkdtemp(prefix="book-"))  # a short path: the name of a socket has at most 107 letters
    try:
        if who:
            os.chown(folder, who["user"], who["group"])  # type: ignore[arg-type]
        command = [
            bin_folder / "initdb",
            "-D",
            folder / "data",
            "-U",
            "book",
            "-A",
            "trust",
            "-E",
            "UTF8",
            "--no-locale",
            "--no-sync",
        ]
        subprocess.run(command, cwd=folder, check=True, capture_output=True, **who)  # type: ignore[call-overload]
        options = [word for one in _QUICK for word in ("-c", one)]
        log = (folder / "log").open("w")
        command = [bin_folder / "postgres", "-D", folder / "data", "-k", folder, *options]
        server = subprocess.Popen(command, cwd=folder, stdout=log, stderr=log, **who)  # type: ignore[call-overload]
        try:
            address = f"postgresql://book@/{{}}?host={folder}"
            _wait(address.format("postgres"), server, folder / "log")
            yield address
        finally:
            server.send_signal(signal.SIGINT)  # ends at once, whoever is connected
            server.wait(timeout=30)
            log.close()
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _wait(address: str, server: subprocess.Popen[bytes], log: Path) -> None:
    until = time.monotonic() + 30
    while True:
        try:
            execute(address, "SELECT 1")
            return
        except sa.exc.OperationalError:
            if server.poll() is not None or time.monotonic() > until:
                raise RuntimeError(log.read_text()) from None
            time.sleep(0.05)


def execute(address: str, statement: str) -> None:
    """One statement outside of any transaction, such as making a database."""
    engine = sa.create_engine(address.replace("postgresql:", "postgresql+psycopg:"), poolclass=sa.NullPool)
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql(statement)
