"""Opening the shop: the server, its address, and the browser."""

from __future__ import annotations

import getpass
import os
import socket
import sys
import threading
import webbrowser
from pathlib import Path

import uvicorn

from firstoff.errors import Fault, InputError
from firstoff.facts.shop import find_shop, load_shop
from firstoff.interrupts import first
from firstoff.pages.app import make_app
from firstoff.pages.door import Door, hashed, names_of

LOOPBACK = "127.0.0.1"
PORT = 7318
"""Where nobody names another; the next free one where it is taken."""
MOST_PORTS = 20
LEAST_PASSWORD = 8


def serve(shop: Path | None, port: int | None, browser: bool, lan: bool) -> None:
    """Show a shop until it is stopped. Raises `InputError` where there is no shop, or the port is taken."""
    folder = find_shop(None, shop)
    if folder is None:
        raise InputError(Fault("there is no shop here", str(Path.cwd()), "--shop DIR, or a folder inside of one"))
    load_shop(folder)  # what cannot be read is told before a browser opens
    password = _password() if lan else None
    host = "0.0.0.0" if lan else LOOPBACK
    heard = _listening(host, port)
    number = heard.getsockname()[1]
    door = Door(names_of(_addresses() if lan else [], number), password)
    address = f"http://{_addresses()[0] if lan else LOOPBACK}:{number}"
    print(f"{load_shop(folder).name}: {address}  (Ctrl-C ends it)", file=sys.stderr)
    if lan:
        print(
            "Anyone on this network who has the password can read and change the shop. The line is not encrypted.",
            file=sys.stderr,
        )
    if browser:
        threading.Timer(0.6, webbrowser.open, [address]).start()
    pages = make_app(folder, door)
    config = uvicorn.Config(pages, log_level="warning", access_log=False, server_header=False)
    with first(pages.state.desk.close):  # an interrupt ends what examines too
        uvicorn.Server(config).run(sockets=[heard])


def _listening(host: str, port: int | None) -> socket.socket:
    wanted = [port] if port is not None else list(range(PORT, PORT + MOST_PORTS))
    for number in wanted:
        made = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        if os.name == "posix":  # elsewhere it would let two servers share a port
            made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            made.bind((host, number))
        except (OSError, OverflowError):
            made.close()
            continue
        return made
    told = str(port) if port is not None else f"{PORT} to {PORT + MOST_PORTS - 1}"
    raise InputError(Fault("this port cannot be used", told, do="Name another with --port."))


def _addresses() -> list[str]:
    """Names and addresses of this computer on its networks, the likeliest first."""
    found = [socket.gethostname()]
    try:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
            probe.connect(
                ("192.0.2.1", 9)
            )  # sends nothing: only asks which way it would go (RFC 5737, a documentation address)
            found.insert(0, probe.getsockname()[0])
    except OSError:
        pass
    return found


def _password() -> str:
    """The password of a network: asked for, never kept anywhere."""
    given = os.environ.get("FIRSTOFF_PASSWORD")
    password = given if given is not None else getpass.getpass("Password for this network: ")
    if len(password) < LEAST_PASSWORD:
        raise InputError(Fault("the password is too short", f"{len(password)} letters", f"at least {LEAST_PASSWORD}"))
    return hashed(password)
