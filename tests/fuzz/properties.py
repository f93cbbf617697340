"""What must hold whatever is typed."""

from __future__ import annotations

import contextlib
import io
import json
import math
import os
import re
import signal
import unicodedata

from shoplib.cli import main
from shoplib.core.errors import BadInput, ShoplibError

LONG = int(os.environ.get("SHOPLIB_FUZZ", "0"))  # inputs in all of a long run; 0: the bounded run
MOST_SECONDS = 2.0 if LONG else 20.0  # of processor time; in the bounded run only a hang counts
HIDDEN = ("Cc", "Cs", "Zl", "Zp")
BIDI = "\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"


class TooSlow(BaseException):
    """One input took longer than it may.  Not an Exception, so that nothing takes it for bad input."""


@contextlib.contextmanager
def in_time():
    def stop(*_):
        raise TooSlow(f"more than {MOST_SECONDS} s of processor time for one input")

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, MOST_SECONDS)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        signal.signal(signal.SIGPROF, before)


def speakable(text, allowed="\n\t"):
    """No control character, lone surrogate or sign that turns the line around."""
    for c in text:
        assert c in allowed or not (unicodedata.category(c) in HIDDEN or c in BIDI), f"U+{ord(c):04X} in {text!r}"


def refusal(error, working, raw):
    """A refusal names a declared field or the unknown one, and says what to type."""
    assert error.problems, "refused without saying why"
    speakable(str(error))
    names = {f.name for f in working.fields} | set(working.renamed)
    unknown = [k for k in raw if k not in names]
    for problem in error.problems:
        root = re.split(r"[\[.]", problem.field)[0]
        if root not in names:
            assert unknown, f"{problem.field!r} is neither declared nor typed"
            assert any(f.name in problem.why for f in working.fields), "the inputs there are, are not named"
            continue
        assert problem.why
        assert problem.example or "type " in problem.why or of_fields(problem.why, working), (
            f"{problem}: nothing to type"
        )


def of_fields(why, working):
    """Whether a message speaks of inputs by name: what goes with what is what to type then."""
    names = {f.name for f in working.fields} | {c.name for f in working.fields for c in f.columns}
    return any(re.search(rf"\b{re.escape(n)}\b", why) for n in names)


def finite(value, where="result"):
    if isinstance(value, dict):
        for k, v in value.items():
            finite(v, f"{where}.{k}")
    elif isinstance(value, list | tuple):
        for i, v in enumerate(value):
            finite(v, f"{where}[{i}]")
    elif isinstance(value, float):
        assert math.isfinite(value), where


def texts(value):
    """Every text of plain data."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for k, v in value.items():
            yield from (k, *texts(v)) if isinstance(k, str) else texts(v)
    elif isinstance(value, list | tuple):
        for v in value:
            yield from texts(v)


def answer(working, raw, folder=None):
    """The result of these inputs, everything that it must keep held; None when they were refused in words."""
    try:
        with in_time():
            result = working(raw, folder=folder)
            plain = result.to_json()
            said = result.as_text()
    except BadInput as error:
        refusal(error, working, raw)
        return None
    finite(plain)
    written = json.dumps(plain, ensure_ascii=False, allow_nan=False)
    written.encode("utf-8")
    speakable(said)
    for text in texts({k: v for k, v in plain.items() if k != "inputs"}):
        speakable(text)
    return result


def command(arguments):
    """(exit code, what was written to the two streams), both strict UTF-8 as a terminal has it."""
    streams = [io.TextIOWrapper(io.BytesIO(), "utf-8", errors="strict") for _ in range(2)]
    with contextlib.redirect_stdout(streams[0]), contextlib.redirect_stderr(streams[1]):
        try:
            with in_time():
                code = main(arguments)
        except SystemExit as ended:  # argparse
            code = ended.code
    told = []
    for stream in streams:
        stream.flush()
        told.append(stream.buffer.getvalue().decode("utf-8"))
    return code, *told


def as_argument(value):
    try:
        return value if isinstance(value, str) else json.dumps(value)
    except ValueError:  # Python writes no whole number of so many digits
        return "9" * 5000


def same_by_command(working, raw):
    """The command line takes or refuses, in words, whatever stands on it."""
    code, out, err = command(["work", working.name, "--json", *(f"{k}={as_argument(v)}" for k, v in raw.items())])
    assert code in (0, 2), code
    speakable(err)
    assert "Traceback" not in err
    if code == 0:
        finite(json.loads(out, parse_constant=lambda name: float(name)))
    else:
        assert err
        assert not out


__all__ = ["LONG", "BadInput", "ShoplibError", "answer", "command", "same_by_command", "speakable"]
