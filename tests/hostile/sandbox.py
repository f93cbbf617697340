"""Runs a command of the program in a process of its own, under hard limits on processor time and memory.

It imports the program once and forks for each request, so that the limits are for the file and not for the imports.
A request is one line of JSON on standard input, the answer one line on standard output.
"""

from __future__ import annotations

import json
import os
import resource
import sys
import tempfile
import traceback
from typing import Any

CPU = 5  # seconds of processor time
MEMORY = 300_000_000  # bytes


def take_photograph(name: str) -> int:
    """Take a photograph from a file; 2 when it is refused."""
    from shoplib.record import photos
    from shoplib.record.errors import BadPhoto

    with open(name, "rb") as file:
        try:
            photos.read_photo(file.read())
        except BadPhoto as error:
            print(error, file=sys.stderr)
            return 2
    return 0


def waste(what: str) -> int:
    """Go over a limit, to show that it holds."""
    if what == "memory":
        return len(bytearray(MEMORY + 100_000_000))
    while True:
        pass


def work(arguments: list[str]) -> int:
    """One request, in the child."""
    from shoplib.cli import main

    others = {"photograph": take_photograph, "waste": waste}
    return others[arguments[0]](arguments[1]) if arguments[0] in others else main(arguments)


def limit() -> None:
    """From here on: so much more memory and processor time, then the system ends this process."""
    used = sum(resource.getrusage(resource.RUSAGE_SELF)[:2])
    with open("/proc/self/statm", encoding="ascii") as file:
        data = int(file.read().split()[5]) * resource.getpagesize()
    seconds = int(used) + CPU + 1
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 1))
    resource.setrlimit(resource.RLIMIT_DATA, (data + MEMORY, data + MEMORY))


def child(request: dict[str, Any], out: int, err: int) -> int:
    """In the child: its own streams, folder and environment, then the work under limits."""
    os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
    os.dup2(out, 1)
    os.dup2(err, 2)
    os.chdir(request["folder"])
    os.environ["SHOPLIB_STORE"] = os.path.join(request["folder"], "jobs.db")
    limit()
    try:
        code = work(request["arguments"])
    except SystemExit as error:
        code = int(error.code or 0)
    except BaseException:  # noqa: BLE001 -- told to the parent, whatever it is
        traceback.print_exc()
        code = 70
    sys.stdout.flush()
    sys.stderr.flush()
    return code


def answer(request: dict[str, Any]) -> dict[str, Any]:
    """Fork, wait, and tell what came of it."""
    with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
        pid = os.fork()
        if pid == 0:
            os._exit(child(request, out.fileno(), err.fileno()))
        _, status, used = os.wait4(pid, 0)
        streams = []
        for stream in (out, err):
            stream.seek(0)
            streams.append(stream.read(1_000_000).decode("utf-8", "replace"))
    return {
        "code": os.waitstatus_to_exitcode(status), "out": streams[0], "err": streams[1],
        "seconds": round(used.ru_utime + used.ru_stime, 2), "memory": used.ru_maxrss // 1024,
    }  # fmt: skip


def main() -> None:
    """Import everything, then serve."""
    import numpy  # noqa: F401 -- imported for the children
    import PIL.Image  # noqa: F401 -- imported for the children
    import pypdf  # noqa: F401 -- imported for the children

    from shoplib.record import extra_fonts
    from shoplib.record.exchange import _validator
    from shoplib.topics import get

    _validator()
    extra_fonts.typst_fonts("")
    get("torque_units")({"torque": "40 N*m"})
    for line in sys.stdin:
        print(json.dumps(answer(json.loads(line))), flush=True)


if __name__ == "__main__":
    main()
