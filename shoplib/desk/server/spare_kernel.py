"""One kernel in reserve: it has imported what a form needs, so that a page or a notebook does not wait for that.

A page or a notebook in the folder of the notebooks gets the reserve; a new one is made a little later.  The reserve is
not listed, and it is not ended for being idle.  A kernel that nobody has open is ended by the server's own culling.
"""

from __future__ import annotations

import asyncio
import contextlib
from typing import Any

from jupyter_client.kernelspec import NATIVE_KERNEL_NAME
from jupyter_server._tz import utcnow
from jupyter_server.services.kernels.kernelmanager import AsyncMappingKernelManager
from traitlets import default

IMPORTS = "--InteractiveShellApp.exec_lines=['import shoplib.desk.warm_up']"
ONE = "shoplib.desk.server.kernel_ports.KernelWithOwnPorts"
PAUSE = 4.0  # seconds until the next reserve is made: the page that has just been opened comes first


class SpareKernel(AsyncMappingKernelManager):
    """The server's kernels, and one in reserve."""

    def __init__(self, **named: Any) -> None:
        super().__init__(**named)
        self._spare = ""  # the id of the reserve, once it has started
        self._maker: asyncio.Task[None] | None = None
        self._closing = False

    @default("kernel_manager_class")  # type: ignore[untyped-decorator] # traitlets has no types for it
    def _manager_of_one(self) -> str:
        return ONE

    async def make_spare(self, after: float = 0.0) -> None:
        """Start the reserve, unless there is one or one is on its way."""
        if not (self._spare or self._closing or (self._maker and not self._maker.done())):
            self._maker = asyncio.create_task(self._make(after))

    async def _make(self, after: float) -> None:
        await asyncio.sleep(after)
        if not self._closing:
            self._spare = await super()._async_start_kernel(path="", extra_arguments=[IMPORTS])

    async def _take(self) -> str:
        """The reserve, if it still runs; it is no reserve any more."""
        taken, self._spare = self._spare, ""
        if not taken or taken not in self:
            return ""
        kernel = self.get_kernel(taken)
        if not await kernel.is_alive():
            return ""
        kernel.last_activity = utcnow()
        return taken

    async def _async_start_kernel(self, *, kernel_id: Any = None, path: Any = None, **named: Any) -> str:
        """Give the reserve to whoever asks for a Python kernel in the folder of the notebooks; else start one."""
        usual = named.get("kernel_name") in (None, "", NATIVE_KERNEL_NAME)
        taken = await self._take() if kernel_id is None and usual and not (path or "").strip("/") else ""
        started = taken or await super()._async_start_kernel(kernel_id=kernel_id, path=path, **named)
        await self.make_spare(PAUSE)
        return str(started)

    start_kernel = _async_start_kernel

    def list_kernels(self) -> list[Any]:
        """The kernels that somebody uses."""
        return [model for model in super().list_kernels() if model["id"] != self._spare]

    async def cull_kernel_if_idle(self, kernel_id: str) -> None:
        """The reserve waits as long as it must."""
        if kernel_id != self._spare:
            await super().cull_kernel_if_idle(kernel_id)

    async def shutdown_all(self, now: bool = False) -> None:
        """End all, and make no reserve any more."""
        self._closing = True
        if self._maker is not None:
            with contextlib.suppress(asyncio.CancelledError):  # it may be waiting, or in the middle of a start
                if not self._spare:
                    await asyncio.wait([self._maker], timeout=PAUSE + 6)
        await super().shutdown_all(now=now)
