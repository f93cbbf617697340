"""A line of the record in print: when it was written, and its photograph."""

from __future__ import annotations

import datetime
import re
from collections.abc import Sequence
from typing import Any

from shoplib.record.job import Entry, Line

WIDEST, HIGHEST = 52.0, 50.0  # mm of a photograph in print


def moment(line: Line | Entry) -> str:
    """The computer's clock to the minute: local time with its offset where it was recorded, and UTC."""
    offset = offset_of(line)
    if not offset:
        return f"{line.at[:10]} {line.at[11:16]} UTC"
    day, clock = local(line)
    return f"{day} {clock} {offset} ({line.at[11:16]} UTC)"


def short_moment(line: Line | Entry) -> str:
    """The computer's clock to the minute in local time with its offset.

    UTC is beside it where the sheet is issued, closed and signed.
    """
    day, clock = local(line)
    return f"{day} {clock} {offset_of(line) or 'UTC'}"


def offset_of(line: Line | Entry) -> str:
    """The offset of local time from UTC; "" where it was not recorded or is zero."""
    body = line.body if isinstance(line, Line) else line.line.body
    return str(body.get("offset") or "")


def local(line: Line | Entry) -> tuple[str, str]:
    """Date and time of day, local where the offset was recorded, else UTC."""
    at, offset = datetime.datetime.fromisoformat(line.at), offset_of(line)
    if offset:
        hours, minutes = int(offset[1:3]), int(offset[4:6])
        at += (-1 if offset[0] == "-" else 1) * datetime.timedelta(hours=hours, minutes=minutes)
    return at.date().isoformat(), at.strftime("%H:%M")


def photo(line: Line, of: str = "", to: int | None = None) -> dict[str, Any]:
    """The data for the template of a photograph: its print picture and words.  ``to``: the line that it belongs to."""
    w, h = (max(1, int(line.body.get(k) or 1)) for k in ("width", "height"))
    caption = ": ".join(x for x in (of, str(line.body.get("caption", ""))) if x)
    return {"file": f"{line.body['thumb']}.jpg", "caption": caption, "n": line.n, "who": line.who,
            "at": moment(line), "to": to, **{k: str(line.body.get(k, "")) for k in ("original", "taken")},
            "wide": round(min(WIDEST, HIGHEST * w / h), 2),
            "alt": caption or f"Photograph of line {line.n}"}  # fmt: skip


def spans(numbers: Sequence[int]) -> str:
    """Numbers of lines, runs shortened: 2 to 5, 9."""
    runs: list[list[int]] = []
    for n in sorted(set(numbers)):
        if runs and n == runs[-1][1] + 1:
            runs[-1][1] = n
        else:
            runs.append([n, n])
    return ", ".join(str(a) if a == b else f"{a}, {b}" if b == a + 1 else f"{a} to {b}" for a, b in runs)


def lines_in_words(numbers: Sequence[int]) -> str:
    """The numbers of lines of the record: “line 3”, “lines 3, 4”, “lines 3 to 6”."""
    return f"line{'s' * (len(numbers) > 1)} {spans(numbers)}"


_COMMA = re.compile(r"(?<![\d.,])(\d+),(\d+)(?![\d.,])")


def with_point(typed: str) -> str:
    """Numbers that were typed with a decimal comma, with the decimal sign of the sheet: 0,06 mm is 0.06 mm."""
    return _COMMA.sub(r"\1.\2", typed)


_PROMPT = re.compile(r"[:;] (?:type|look up|choose|find) [^;]*")


def on_paper(remark: str) -> str:
    """A remark of the program without what it asks for on the screen: paper answers nothing."""
    return _PROMPT.sub("", remark)
