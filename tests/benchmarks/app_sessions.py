"""Many users of one app at once: python tests/benchmarks/app_sessions.py [USERS [MINUTES] | --advice USERS], by hand.

Starts the app on the demo, in a settings folder of its own. Every user is a session that speaks as a browser's page
does, without the browser, whose tabs would take the cores: until the time is over it goes from page to page and asks
for targets that are nobody else's, with a lowest altitude of its own, and comes back as a new session after five
questions. Someone records frames from the command line beside them. At the end the server is killed in the middle of
everybody's questions and started again: each user's last address must show their own again, and the files of the folder
hold every frame that was confirmed. Printed: how long a page takes to its last word, the memory of the server and its
helpers, and every answer that held what was another's. 1 if there was one, or if something was lost. With --advice all
ask for advice on their own targets in the same moment, three times: how soon the verdict and the last word are there.
"""

import asyncio
import os
import re
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median

import websockets
from streamlit.proto.BackMsg_pb2 import BackMsg
from streamlit.proto.ForwardMsg_pb2 import ForwardMsg

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from app.conftest import serve  # noqa: E402

NIGHT = "2026-11-10"
PATHS = ("advice", "tonight", "year", "match", "drift", "sources", "pier")
NAMED = ("advice", "match")  # the answer names its target
PROJECT = "NGC 7331"
OWN = tuple(f"NGC {number}" for number in (  # on no list of the demo
    7814, 772, 925, 1023, 2403, 7479, 185, 278, 404, 1569, 1961, 7640, 147, 157, 488, 514, 628, 660, 672, 691, 736,
    949, 1003, 1058, 1097, 1232, 1300, 1365, 1398, 1407, 1421, 1501, 1514, 1533, 1579, 1637, 1792, 1964, 2146, 2532))
QUESTIONS = 5  # of one session
PATIENCE_S = 300.0


class User:
    """One user: what they asked, how long it took, and what they should not have seen."""

    def __init__(self, number: int, users: int) -> None:
        self.number, self.mine, self.turn = number, OWN[number::users], 0
        self.took: list[float] = []
        self.wrong: list[str] = []

    def address(self) -> tuple[str, str, str]:
        """Return the page, its query and the target asked for next."""
        path, target = PATHS[(self.number + self.turn) % len(PATHS)], self.mine[self.turn % len(self.mine)]
        return path, f"target={target.replace(' ', '+')}&night={NIGHT}&lowest={20 + self.number}", target

    async def ask(self, socket: websockets.ClientConnection) -> None:
        """Ask for the page of this turn and read its answer to the end."""
        path, query, target = self.address()
        begun, shown = time.monotonic(), await asyncio.wait_for(_run(socket, path, query), PATIENCE_S)
        self.took.append(time.monotonic() - begun)
        others = [name for name in OWN if name not in self.mine and re.search(rf"\b{name}\b", shown)]
        lowest = set(re.findall(r"lowest=(\d+)", shown)) - {str(20 + self.number)}
        if others or lowest or "Traceback" in shown or (path in NAMED and target not in shown):
            self.wrong.append(f"user {self.number}, {path}, {target}: {others} {lowest} {len(shown)} characters")

    async def use(self, address: str, until: float) -> None:
        """Ask until the time is over, or the server is gone."""
        while time.monotonic() < until:
            async with _session(address) as socket:
                for _ in range(QUESTIONS):
                    if time.monotonic() >= until:
                        return
                    await self.ask(socket)
                    self.turn += 1


def _session(address: str) -> websockets.connect:
    return websockets.connect(f"{address.replace('http', 'ws')}/_stcore/stream", max_size=None, origin=address,
                              subprotocols=["streamlit"], open_timeout=PATIENCE_S, ping_interval=None)


async def _run(socket: websockets.ClientConnection, path: str, query: str, seen: dict[str, float] | None = None
               ) -> str:
    """Return all that a page sends, as text, until its script has ended; `seen` takes when some words first came."""
    question = BackMsg()
    question.rerun_script.query_string, question.rerun_script.page_name = query, path
    question.rerun_script.is_history_navigation = True
    await socket.send(question.SerializeToString())
    parts = []
    while True:
        raw = await socket.recv()
        parts.append(bytes(raw))
        for words in seen or ():
            if words.encode() in raw:
                seen[words] = seen[words] or time.monotonic()
        answer = ForwardMsg.FromString(bytes(raw))
        if answer.WhichOneof("type") == "script_finished" and answer.script_finished in (
                ForwardMsg.FINISHED_SUCCESSFULLY, ForwardMsg.FINISHED_WITH_COMPILE_ERROR):
            return b" ".join(parts).decode("utf-8", "replace")


async def _record(home: Path, until: float) -> int:
    """Record frames from the command line until the time is over; how many times that was confirmed."""
    count = 0
    while time.monotonic() < until:
        count += await _planner(home, "done", PROJECT, "--filter", "L", "--subs", "1", "--sub-exposure", "60 s",
                                "--wanted", "8 h", "--night", NIGHT, "--id", f"record{count:04d}") == 0
        await asyncio.sleep(1)
    return count


async def _planner(home: Path, *words: str) -> int:
    """Return the exit code of a command."""
    command = await asyncio.create_subprocess_exec(
        sys.executable, "-m", "planner", *words, cwd=Path(__file__).parents[2], stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL, env={**os.environ, "HOME": str(home), "XDG_CONFIG_HOME": str(home / "config")})
    return await command.wait()


def _children(parent: int) -> list[int]:
    threads = Path(f"/proc/{parent}/task").iterdir()  # a helper is the child of the thread that waits for it
    own = [int(word) for one in threads for word in (one / "children").read_text(encoding="ascii").split()]
    return own + [one for child in own for one in _children(child)]


def _memory_mb() -> float:
    """Return what the server and its helpers hold now."""
    held = 0
    for child in _children(os.getpid()):
        status = Path(f"/proc/{child}/status").read_text(encoding="ascii")
        if any(word in Path(f"/proc/{child}/cmdline").read_bytes() for word in (b"streamlit", b"planner.ui.outside")):
            held += next((int(line.split()[1]) for line in status.splitlines() if line.startswith("VmRSS")), 0)
    return held / 1e3


async def _crowd(address: str, home: Path, users: list[User], minutes: float) -> tuple[int, float]:
    """Let all users ask, and kill the server in the middle; frames confirmed, and the memory before."""
    until = time.monotonic() + 60 * minutes
    asking = [asyncio.create_task(user.use(address, until + PATIENCE_S)) for user in users]
    recorded = await _record(home, until)
    held = _memory_mb()
    for child in _children(os.getpid()):
        if b"streamlit" in Path(f"/proc/{child}/cmdline").read_bytes():
            os.kill(child, 9)
    await asyncio.gather(*asking, return_exceptions=True)
    for task in asking:
        if isinstance(problem := task.exception(), TimeoutError):
            raise problem
    return recorded, held


async def advice_at_once(count: int) -> None:
    """Print how soon so many users have their verdict, and all of the page, when they ask in the same moment."""
    users = [User(number, count) for number in range(count)]

    async def one(user: User, socket: websockets.ClientConnection) -> tuple[float, float]:
        target, seen, begun = user.mine[user.turn % len(user.mine)], {" subs for ": 0.0}, time.monotonic()
        user.turn += 1
        query = f"target={target.replace(' ', '+')}&night={NIGHT}&lowest={20 + user.turn}"
        await _run(socket, "advice", query, seen)
        return max(seen.values()) - begun, time.monotonic() - begun

    with tempfile.TemporaryDirectory() as folder, serve(Path(folder)) as address:
        took = []
        for turn in range(4):
            sockets = [await _session(address) for _ in users]
            found = await asyncio.gather(*map(one, users, sockets))
            took += found if turn else []  # the first warms up
            for socket in sockets:
                await socket.close()
    for words, times in zip(("verdict", "last word"), map(sorted, zip(*took, strict=True)), strict=True):
        print(f"{count} at once, {words}: median {median(times):.1f} s, "
              f"p95 {times[int(0.95 * (len(times) - 1))]:.1f} s; load {os.getloadavg()[0]:.1f}")


async def main(count: int = 20, minutes: float = 10.0) -> int:
    """Print the figures; 1 if a user saw another's, or something was lost."""
    users = [User(number, count) for number in range(count)]
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder)
        with serve(home) as address:
            before = _memory_mb()
            recorded, held = await _crowd(address, home, users, minutes)
        with serve(home) as address:
            for user in users:
                async with _session(address) as socket:
                    await user.ask(socket)
        text = "".join(path.read_text(encoding="utf-8") for path in home.rglob("*.toml"))
        kept = set(re.findall(r"record\d{4}", text))
    took = sorted(second for user in users for second in user.took)
    wrong = [line for user in users for line in user.wrong]
    print(f"{count} users, {minutes:g} min, {len(took)} answers: median {median(took):.1f} s, p95 "
          f"{took[int(0.95 * (len(took) - 1))]:.1f} s; memory {before:.0f} to {held:.0f} MB; load "
          f"{os.getloadavg()[0]:.1f}", *wrong, f"{len(wrong)} showed what was another's",
          f"{recorded} records confirmed, {len(kept)} there", sep="\n")
    return int(bool(wrong) or len(kept) < recorded)


if __name__ == "__main__":
    asked = sys.argv[1:]
    if asked[:1] == ["--advice"]:
        sys.exit(asyncio.run(advice_at_once(int(asked[1]))))
    sys.exit(asyncio.run(main(*map(int, asked[:1]), *map(float, asked[1:2]))))
