"""Retrying a write when its answer was lost.

When the connection breaks or the disk fails during COMMIT, it is not known whether the transaction was saved.  The
same call with the same uid settles it: a line with that uid is saved once.
"""

from __future__ import annotations

import functools
import random
import time
import uuid
from collections.abc import Callable
from typing import Any, TypeVar, cast

from shoplib.record.errors import Busy, Failing, Full, ReadOnly, StoreError, Uncertain, Unreachable

T = TypeVar("T")
F = TypeVar("F", bound=Callable[..., Any])


def settled(call: Callable[[], T], seconds: float) -> T:
    """The result of ``call``; it is retried for this many seconds while it is not known whether it was saved.

    :param call: saves something under one uid, each time it is called
    :param seconds: how long at most
    :raises Uncertain: still not known whether it was saved
    """
    until, unknown = time.monotonic() + seconds, None
    while True:
        try:
            return call()
        except Uncertain as error:
            unknown = error
        except (Busy, Full, ReadOnly, Unreachable):
            if unknown is None:  # nothing was saved, for certain
                raise
        if time.monotonic() > until:
            raise Uncertain(f"{unknown}") from unknown
        time.sleep(random.uniform(0.02, 0.1))  # noqa: S311 -- so that several programs do not retry at the same moment


def asked_again(method: F) -> F:
    """A method of the store that is retried with the same uid while it is not known whether it was saved.

    :param method: takes ``uid`` by keyword
    """

    @functools.wraps(method)
    def run(store: Any, *args: Any, **more: Any) -> Any:
        if more.get("uid") is None:
            more["uid"] = uuid.uuid4().hex
        return settled(lambda: method(store, *args, **more), store.wait)

    return cast("F", run)


def may_be_saved(error: StoreError) -> bool:
    """Whether a COMMIT that ended in this error may still have been saved.

    :param error: of the database
    """
    return isinstance(error, Failing) or not isinstance(error, Busy | Full)
