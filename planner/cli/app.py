"""`planner app`: the pages in a browser, on this machine only unless asked otherwise."""

import os
import subprocess
import sys
from pathlib import Path
from typing import Annotated

import typer

from planner.cli.options import EquipmentOption, new_app, open_equipment
from planner.errors import InvalidInputError
from planner.files.packaged import packaged_app

app = new_app()
LOOPBACK = "127.0.0.1"
# The same as .streamlit/config.toml, for an installed package that has no such file beside it.
SETTINGS = {
    "server.headless": "true", "server.fileWatcherType": "none", "server.maxUploadSize": "300",
    "browser.gatherUsageStats": "false", "client.toolbarMode": "viewer",
    "theme.base": "light", "theme.primaryColor": "#0b5c8a", "theme.textColor": "#1d2329",
}


@app.command("app")
def start(
    equipment: EquipmentOption = None,
    port: Annotated[int, typer.Option("--port", min=1024, max=65535, help="Port to listen on.")] = 8501,
    address: Annotated[str, typer.Option("--address", metavar="ADDRESS", help="Address to listen on. Any other than "
                                         "this machine's own lets everybody on that network in.")] = LOOPBACK,
) -> None:
    """Start the app and print its address; Ctrl-C ends it."""
    environment = dict(os.environ)
    if equipment is not None:
        open_equipment(equipment)
        environment["PLANNER_EQUIPMENT"] = str(Path(equipment).absolute())
    _require_free(address, port)
    print(f"The app is at http://{address}:{port} (Ctrl-C ends it).", flush=True)
    if address != LOOPBACK:
        print("There is no login and no encryption: everybody who reaches this address can read and change your "
              "equipment. Use it only on a network you trust.", file=sys.stderr, flush=True)
    command = [sys.executable, "-m", "streamlit", "run", str(packaged_app()), f"--server.address={address}",
               f"--server.port={port}", *(f"--{name}={value}" for name, value in SETTINGS.items())]
    try:
        done = subprocess.run(command, env=environment, stdout=subprocess.DEVNULL, check=False)
    except KeyboardInterrupt:
        return
    raise typer.Exit(done.returncode)


def _require_free(address: str, port: int) -> None:
    """Refuse an address or port that cannot be listened on, before the app starts."""
    import socket

    with socket.socket() as listener:
        try:
            listener.bind((address, port))
        except OSError as error:
            raise InvalidInputError("address", f"{address}:{port}", f"cannot be listened on ({error.strerror})",
                                    "Choose another --port or --address.") from None
