"""A class at a real JupyterHub with its proxy, on loopback: what is acknowledged is kept, whatever is killed.

    .venv/bin/python -m tests.bench.hub_class             waves of 1, 10 and 30 learners
    .venv/bin/python -m tests.bench.hub_class 2           a small run

Needs the extra ``hub``, configurable-http-proxy on the path (or SHOPLIB_HUB_PROXY), and SHOPLIB_TEST_POSTGRES.
Each learner is a WebSocket client: opens My class, works on the lesson (guess, reason) and on the exercises.  An answer
counts as acknowledged when the page says "Saved".  In the middle every third kernel is killed, and one server.
"""

from __future__ import annotations

import asyncio
import json
import os
import secrets
import shutil
import signal
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
import uuid
from pathlib import Path

import psycopg
import websockets

from shoplib.classroom import borders
from shoplib.classroom.classes import Classroom
from shoplib.classroom.people import Person
from shoplib.topics.guided import all_guided
from tests.bench.hub import below, pss

ROOT = Path(__file__).parents[2]
EXERCISE = "clamp_of_a_torque"
ANSWERS = 6
OPEN = """
from shoplib.desk.widgets.my_class import MyClass
import asyncio, os
page = MyClass(); page.read()
async def until(happened, what):
    for _ in range(1200):
        if happened(): return
        await asyncio.sleep(0.02)
    raise TimeoutError(what)
await until(lambda: page.tasks, "the assignments")
def status(): return page.place.children[1].children[0].value
async def work_on(kind):
    page.work_on(next(t for t in page.tasks if t.assignment.kind == kind))
    await asyncio.sleep(0.1)
async def saved():
    await until(lambda: "Saved:" in status() or "not saved" in status(), "saved")
    assert "Saved:" in status(), status()
print("PID", os.getpid(), os.getppid())
"""
GUESS = """
await work_on("lesson")
lesson = page.opened
if lesson.run.step == "guess":
    if lesson.lesson.ask() is None: lesson._choice.index = 0
    else: lesson.slider.value = lesson.slider.min; lesson.slider.placed = True
    lesson.commit(); await saved()
    lesson._choice.index = 0; lesson._because(); await saved()
print("STEP", page.opened.run.step)
page.close_task()
await work_on("topic")
"""
ANSWER = """
page.opened.box.value = {typed!r}; page.opened.answer(); await saved(); print("SAVED")
"""


def free_port() -> int:
    """A port that nobody uses at this moment."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        return int(found.getsockname()[1])


class Hub:
    """A hub as a process of its own, and its API."""

    def __init__(self, folder: Path, store: str, secret: str, instructors: str) -> None:
        self.port, self.token = free_port(), secrets.token_hex(16)
        self.url = f"http://127.0.0.1:{self.port}"
        env = os.environ | {
            "SHOPLIB_STORE": store, "SHOPLIB_ROLE_SECRET": secret, "SHOPLIB_HUB_INSTRUCTORS": instructors,
            "SHOPLIB_HUB_FOLDER": str(folder / "hub"), "SHOPLIB_HUB_URL": self.url, "SHOPLIB_HUB_PASSWORD": secrets.token_hex(8),
            "SHOPLIB_HUB_INNER_URL": f"http://127.0.0.1:{free_port()}", "SHOPLIB_HUB_PROXY_API": f"http://127.0.0.1:{free_port()}",
            "SHOPLIB_HUB_ADMIN_TOKEN": self.token, "SHOPLIB_HUB_POLL": "3", "SHOPLIB_HUB_PATIENCE": "300", "SHOPLIB_HUB_AT_ONCE": "3",
            "PYTHONPATH": str(ROOT), "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}",
        }  # fmt: skip
        self.log = folder / "hub.log"
        command = [sys.executable, "-m", "jupyterhub", "-f", str(ROOT / "binder/hub/jupyterhub_config.py")]
        self.process = subprocess.Popen(
            command, cwd=folder, env=env, stdout=self.log.open("w"), stderr=subprocess.STDOUT, start_new_session=True
        )

    def ask(
        self, method: str, path: str, body: object = None, *, root: str = "/hub/api", quiet: bool = False
    ) -> object:
        request = urllib.request.Request(
            f"{self.url}{root}{path}", method=method, data=None if body is None else json.dumps(body).encode(),
            headers={"Authorization": f"token {self.token}", "Content-Type": "application/json"},
        )  # fmt: skip
        try:
            with urllib.request.urlopen(request, timeout=300) as answer:
                raw = answer.read()
                return json.loads(raw) if raw else None
        except OSError:
            if quiet:
                return None
            raise

    async def call(self, *x: object, **more: object) -> object:
        return await asyncio.to_thread(self.ask, *x, **more)

    async def up(self) -> None:
        for _ in range(600):
            if await self.call("GET", "/", quiet=True):
                return
            if self.process.poll() is not None:
                break
            await asyncio.sleep(0.2)
        raise SystemExit(self.log.read_text()[-3000:])

    async def server(self, login: str) -> float:
        """Start the server of a person; how long it took."""
        begun = time.monotonic()
        await self.call("POST", f"/users/{login}", quiet=True)
        await self.call("POST", f"/users/{login}/server", quiet=True)
        while True:
            found = await self.call("GET", f"/users/{login}")
            servers = found["servers"]
            if servers and servers[""]["ready"]:
                return time.monotonic() - begun
            if not servers or (
                not servers[""]["ready"] and not servers[""]["pending"]
            ):  # it ended, or the hub was busy
                await self.call("POST", f"/users/{login}/server", quiet=True)
            if time.monotonic() - begun > 400:
                raise TimeoutError(f"server of {login}")
            await asyncio.sleep(0.3)

    def stop(self) -> None:
        self.process.send_signal(signal.SIGTERM)
        try:
            self.process.wait(60)
        except subprocess.TimeoutExpired:
            for pid in below(self.process.pid):
                os.kill(pid, signal.SIGKILL)
            self.process.kill()


class Kernel:
    """A kernel of a person, through the proxy, by WebSocket."""

    def __init__(self, hub: Hub, login: str) -> None:
        self.hub, self.login, self.id, self.socket = hub, login, "", None

    async def start(self) -> None:
        made = await self.hub.call("POST", "/kernels", {"name": "python3"}, root=f"/user/{self.login}/api")
        self.id = made["id"]
        where = self.hub.url.replace("http", "ws") + f"/user/{self.login}/api/kernels/{self.id}/channels"
        self.socket = await websockets.connect(
            where,
            additional_headers={"Authorization": f"token {self.hub.token}"},
            max_size=None,
            max_queue=None,
            open_timeout=120,
            ping_timeout=None,
        )

    async def run(self, code: str, patience: float = 240) -> str:
        """The printed output of a cell; an error is raised."""
        key, said, over = uuid.uuid4().hex, [], set()
        header = {
            "msg_id": key,
            "msg_type": "execute_request",
            "username": "",
            "session": key,
            "version": "5.3",
            "date": "",
        }
        content = {
            "code": code,
            "silent": False,
            "store_history": False,
            "user_expressions": {},
            "allow_stdin": False,
            "stop_on_error": True,
        }
        await self.socket.send(
            json.dumps({"header": header, "parent_header": {}, "metadata": {}, "content": content, "channel": "shell"})
        )
        async with asyncio.timeout(patience):
            while True:
                raw = await self.socket.recv()
                if isinstance(raw, bytes):
                    continue
                message = json.loads(raw)
                if message["parent_header"].get("msg_id") != key:
                    continue
                match message["header"]["msg_type"]:
                    case "stream":
                        said.append(message["content"]["text"])
                    case "error":
                        raise RuntimeError("\n".join(message["content"]["traceback"])[-1500:])
                    case "execute_reply":
                        over.add("reply")
                    case "status" if message["content"]["execution_state"] == "idle":
                        over.add("idle")
                if len(over) == 2:  # the two channels are not in step
                    return "".join(said)


class Learner:
    """One learner: what was acknowledged, and how long it took."""

    def __init__(self, hub: Hub, login: str) -> None:
        self.hub, self.login = hub, login
        self.saved: list[str] = []
        self.took: list[float] = []
        self.pids: tuple[int, int] = (0, 0)
        self.started = self.opened = 0.0
        self.again = 0  # kernels that ended before they answered
        self.kernel = Kernel(hub, login)

    async def open(self) -> None:
        self.started = await self.hub.server(self.login)
        await self.page()

    async def page(self) -> None:
        begun = time.monotonic()
        for left in (
            2,
            1,
            0,
        ):  # with many servers on one machine two kernels may draw the same port; a person tries again
            self.kernel = Kernel(self.hub, self.login)
            try:
                await self.kernel.start()
                said = await self.kernel.run(OPEN)
                break
            except (websockets.WebSocketException, TimeoutError):
                if not left:
                    raise
                self.again += 1
        self.pids = tuple(map(int, said.split("PID")[1].split()[:2]))
        self.opened = self.opened or time.monotonic() - begun
        said = await self.kernel.run(GUESS)
        assert "STEP see" in said, said

    async def answer(self, count: int) -> None:
        for _ in range(count):
            typed = f"{len(self.saved) + 1}.{secrets.randbelow(1000):03d} kN"
            begun = time.monotonic()
            assert "SAVED" in await self.kernel.run(ANSWER.format(typed=typed))
            self.took.append(time.monotonic() - begun)
            self.saved.append(typed)
            await asyncio.sleep(0.5)

    async def killed(self, server: bool) -> None:
        """The kernel, or the server with it, is killed while an answer is on its way; then the learner goes on."""
        kernel, of = self.pids
        on_its_way = asyncio.create_task(self.kernel.run(ANSWER.format(typed="0.001 kN"), patience=5))
        await asyncio.sleep(0.01)
        for pid in ([of] if server else []) + [kernel]:
            os.kill(pid, signal.SIGKILL)
        await asyncio.gather(on_its_way, return_exceptions=True)
        if server:
            await asyncio.sleep(4)  # the hub asks every three seconds
            await self.hub.server(self.login)
        await self.page()


async def wave(hub: Hub, place: str, learners: list[str]) -> None:
    """A class of so many works; half of the answers, then kills, then the other half."""
    people = [Learner(hub, login) for login in learners]
    gate = asyncio.Semaphore(3)

    async def opened(one: Learner) -> None:
        async with gate:
            await one.open()

    begun = time.monotonic()
    await asyncio.gather(*(opened(p) for p in people))
    all_open = time.monotonic() - begun
    memory = [sum(pss(pid) for pid in p.pids) for p in people]
    watch = Kernel(hub, "teacher")
    await hub.server("teacher")
    await watch.start()
    await watch.run(
        "from shoplib.desk.widgets.class_desk import ClassDesk\nimport asyncio\ndesk = ClassDesk(); desk.read()\nawait asyncio.sleep(1)"
    )
    work = asyncio.gather(*(p.answer(ANSWERS // 2) for p in people))
    looked = []
    for _ in range(3):
        start = time.monotonic()
        await watch.run(
            "desk.page.children = (); desk.show('Who is where')\nwhile not desk.page.children: await asyncio.sleep(0.01)\nassert '<table' in desk.page.children[0].page.children[0].value"
        )
        looked.append(time.monotonic() - start)
    await work
    victims = people[::3]
    await asyncio.gather(*(p.killed(server=n == 0) for n, p in enumerate(victims)))
    await asyncio.gather(*(p.answer(ANSWERS - ANSWERS // 2) for p in people))
    with psycopg.connect(place) as c:
        rows = c.execute("SELECT login, typed FROM attempt").fetchall()
    lost = [(p.login, t) for p in people for t in p.saved if (p.login, t) not in rows]
    twice = len(rows) - len(set(rows)) if len(people) > 1 else 0
    took = sorted(t for p in people for t in p.took)
    load = os.getloadavg()[0]
    print(
        f"{len(people):2} learners (load {load:.0f}): all open after {all_open:.0f} s; server {statistics.median(p.started for p in people):.1f} s, "
        f"page {statistics.median(p.opened for p in people):.1f} s (medians); memory per learner {statistics.mean(memory):.0f} MB; "
        f"answer saved: median {1e3 * statistics.median(took):.0f} ms, p95 {1e3 * took[int(0.95 * (len(took) - 1))]:.0f} ms; "
        f"class desk {1e3 * statistics.median(looked):.0f} ms; killed: {len(victims)} kernels, 1 server; "
        f"kernels that did not start {sum(p.again for p in people)}; acknowledged {sum(len(p.saved) for p in people)}, lost {len(lost)}", flush=True,
    )  # fmt: skip
    assert not lost, lost
    assert twice >= 0
    for login in [*learners, "teacher"]:
        await hub.call("DELETE", f"/users/{login}/server", quiet=True)


async def run(counts: list[int]) -> None:
    admin = os.environ["SHOPLIB_TEST_POSTGRES"]
    name, secret = f"hub_{uuid.uuid4().hex[:10]}", secrets.token_hex(16)
    folder = Path(tempfile.mkdtemp(prefix="hub-class-"))
    with psycopg.connect(admin, autocommit=True) as c:
        c.execute(f"CREATE DATABASE {name}")
    place = admin.rpartition("/")[0] + f"/{name}"
    tail = name[-6:]
    people = [Person(f"w{n}.{k}.{tail}", f"Learner {k} of {n}") for n in counts for k in range(n)]
    teacher = Person("teacher", "Teacher", "instructor")
    hub = None
    made: list[str] = []
    try:
        borders.make_borders(place, owner=f"o_{tail}", writer=f"w_{tail}")
        made = borders.make_logins(place, [teacher, *people], secret=secret)
        with Classroom.open(place) as room:
            of = room.new_class("Wave", who="teacher")
            room.enrol(of, people, who="teacher")
            room.assign(of, "topic", "preload", who="teacher")
            room.assign(of, "lesson", next(iter(all_guided())), who="teacher")
        hub = Hub(folder, place, secret, "teacher")
        begun = time.monotonic()
        await hub.up()
        print(f"hub and proxy up after {time.monotonic() - begun:.1f} s", flush=True)
        for n in counts:
            await wave(hub, place, [p.login for p in people if p.login.startswith(f"w{n}.")])
    except BaseException:
        print((folder / "hub.log").read_text()[-4000:] if (folder / "hub.log").exists() else "", file=sys.stderr)
        raise
    finally:
        if hub is not None:
            hub.stop()
        with psycopg.connect(admin, autocommit=True) as c:
            c.execute(f"DROP DATABASE {name} WITH (FORCE)")
            for role in [*made, f"o_{tail}", f"w_{tail}"]:
                c.execute(f'DROP ROLE IF EXISTS "{role}"')
        shutil.rmtree(folder, ignore_errors=True)


if __name__ == "__main__":
    asyncio.run(run([int(x) for x in sys.argv[1:]] or [1, 10, 30]))
