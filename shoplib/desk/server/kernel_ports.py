"""A kernel chooses its own ports.

jupyter_client chooses five free ports and closes them again; the kernel opens them a second later.  On a busy machine
another connection can take one in between, and that kernel ends or never answers.  ipykernel chooses ports itself where
its connection file says 0, and writes them into that file: nobody can take them in between.
"""

from __future__ import annotations

import asyncio
import json
from pathlib import Path
from typing import Any

from jupyter_client.connect import port_names
from jupyter_client.provisioning import LocalProvisioner
from jupyter_server.services.kernels.kernelmanager import ServerKernelManager

EVERY = 0.02  # seconds between two looks into the connection file
LONGEST = 180.0  # seconds until a kernel has chosen, on a very busy machine


class OwnPorts(LocalProvisioner):
    """Starts a kernel that chooses its ports; a restart keeps the ports that its clients know."""

    _choosing = False  # whether the kernel that is started now chooses

    async def pre_launch(self, **named: Any) -> dict[str, Any]:
        """Where the manager has no ports yet, the kernel chooses them."""
        self._choosing = self.parent.transport == "tcp" and not self.parent.shell_port
        return dict(await super().pre_launch(**named))

    async def launch_kernel(self, cmd: list[str], **named: Any) -> Any:
        """Start it, and wait until it has opened its ports or has ended; it cannot be used earlier anyway."""
        if not self._choosing:
            return await super().launch_kernel(cmd, **named)
        file = Path(self.parent.connection_file)
        found = json.loads(file.read_text(encoding="utf-8"))
        file.write_text(json.dumps(found | dict.fromkeys(port_names, 0)), encoding="utf-8")
        started = await super().launch_kernel(cmd, **named)
        try:
            chosen = await asyncio.wait_for(self._chosen(file), LONGEST)
        except TimeoutError:
            chosen = {}
        for name, port in chosen.items():
            setattr(self.parent, name, port)
        self.connection_info = started | chosen
        return self.connection_info

    async def _chosen(self, file: Path) -> dict[str, int]:
        """The ports in the connection file; none if the kernel has ended.  Then the restarter starts another one."""
        while await self.poll() is None:
            try:
                found = json.loads(file.read_text(encoding="utf-8"))
                ports = {name: int(found[name]) for name in port_names}
            except (OSError, ValueError, KeyError):  # it is being written
                ports = {}
            if ports and all(ports.values()):
                return ports
            await asyncio.sleep(EVERY)
        return {}


class KernelWithOwnPorts(ServerKernelManager):
    """The manager of one kernel.  Other kernels than ipykernel may not know how to choose."""

    kernel_id: Any
    provisioner: Any

    async def _async_pre_start_kernel(self, **named: Any) -> Any:
        if self.provisioner is None and self.ipykernel:
            self.kernel_id = self.kernel_id or named.get("kernel_id")
            self.provisioner = OwnPorts(kernel_id=self.kernel_id, kernel_spec=self.kernel_spec, parent=self)
        return await super()._async_pre_start_kernel(**named)

    pre_start_kernel = _async_pre_start_kernel
