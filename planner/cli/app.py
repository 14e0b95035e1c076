"""`planner app`: the pages in a browser, on this machine only unless asked otherwise."""

import os
import subprocess
import sys
from pathlib import Path
from typing import Annotated

import typer

from planner.cli.options import EquipmentOption, new_app, open_equipment
from planner.errors import InvalidInputError
from planner.files.own_files import FOLDER, own_path, packaged_app

app = new_app()
LOOPBACK = "127.0.0.1"
# Look and limits as in .streamlit/config.toml, which an installed package has not beside it; what guards the app is
# named here too, because a word on the command line goes before any file of settings.
SETTINGS = {
    "server.headless": "true", "server.fileWatcherType": "none", "server.maxUploadSize": "300",
    "server.enableCORS": "true", "server.enableXsrfProtection": "true", "server.enableStaticServing": "false",
    "server.disconnectedSessionTTL": "120", "server.maxMessageSize": "200", "global.developmentMode": "false",
    "global.disableWidgetStateDuplicationWarning": "true",  # fields have their value as a default too
    "browser.gatherUsageStats": "false", "client.toolbarMode": "viewer", "client.showErrorDetails": "none",
    "theme.base": "light", "theme.primaryColor": "#0b5c8a", "theme.textColor": "#1d2329",
}
EVERY_ADDRESS = ("0.0.0.0", "::")
FOREIGN = "STREAMLIT_"  # variables that would change these settings


@app.command("app")
def start(
    equipment: EquipmentOption = None,
    port: Annotated[int, typer.Option("--port", min=1024, max=65535, help="Port to listen on.")] = 8501,
    address: Annotated[str, typer.Option("--address", metavar="ADDRESS", help="Address to listen on. Any other than "
                                         "this machine's own lets everybody on that network in.")] = LOOPBACK,
    host: Annotated[list[str] | None, typer.Option("--host", metavar="NAME", help="A name by which browsers may reach "
                                                   "it, beside localhost and addresses in numbers.")] = None,
) -> None:
    """Start the app and print its address; Ctrl-C ends it."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith(FOREIGN)}
    if equipment is not None:
        open_equipment(equipment)
        environment["PLANNER_EQUIPMENT"] = str(Path(equipment).absolute())
    if FOLDER in environment:  # the server runs in another folder
        environment[FOLDER] = str(own_path("").absolute())
    require_free(address, port)
    environment |= _hosts(address, host or [])
    print(f"The app is at http://{address}:{port} (Ctrl-C ends it).", flush=True)
    if address != LOOPBACK:
        print("There is no login and no encryption: everybody who reaches this address can read and change your "
              "equipment. Use it only on a network you trust.", file=sys.stderr, flush=True)
    script = packaged_app()
    command = [sys.executable, "-m", "streamlit", "run", str(script), f"--server.address={address}",
               f"--server.port={port}", *(f"--{name}={value}" for name, value in SETTINGS.items())]
    # In the folder of the program: settings and modules that lie where it was started from do not count.
    if os.name == "posix":
        os.chdir(script.parent)
        with open(os.devnull, "wb") as nowhere:
            os.dup2(nowhere.fileno(), 1)
        os.execve(sys.executable, command, environment)  # so that a signal to us ends the server
    raise typer.Exit(_run_beside(command, environment, script.parent))


def _hosts(address: str, listed: list[str]) -> dict[str, str]:
    """Return the names that are answered: for the pages, and for a server that can refuse the others by itself."""
    environment = {"PLANNER_HOSTS": ",".join(listed)}
    if address not in EVERY_ADDRESS:
        names = dict.fromkeys(["localhost", LOOPBACK, "::1", address, *listed])
        environment["STREAMLIT_SERVER_ALLOWED_HOSTS"] = " ".join(names)
    return environment


def _run_beside(command: list[str], environment: dict[str, str], folder: Path) -> int:
    """Run the server as a child, where a program cannot become another."""
    try:
        return subprocess.run(command, env=environment, cwd=folder, stdout=subprocess.DEVNULL, check=False).returncode
    except KeyboardInterrupt:
        return 0


def require_free(address: str, port: int) -> None:
    """Refuse an address or port that cannot be listened on, before the app starts."""
    import socket

    with socket.socket() as listener:
        if os.name == "posix":  # as the server does: a port whose last connections are still closing is free
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listener.bind((address, port))
        except OSError as error:
            raise InvalidInputError("address", f"{address}:{port}", f"cannot be listened on ({error.strerror})",
                                    "Choose another --port or --address.") from None
