"""A kernel whose ports are taken by others before it opens them still starts and answers."""

import asyncio
import json
import socket
from contextlib import ExitStack
from pathlib import Path

import pytest
from jupyter_client.connect import port_names
from jupyter_server.services.kernels.kernelmanager import ServerKernelManager

from shoplib.desk.server.kernel_ports import KernelWithOwnPorts
from shoplib.desk.server.spare_kernel import SpareKernel


def taken(manager_class, others):
    """A manager that finds all five ports of its kernel taken, between the choice of the ports and the start."""

    class Taken(manager_class):
        strangers = False

        async def _async_launch_kernel(self, kernel_cmd, **named):
            for name in () if self.strangers else port_names:  # at a restart the ports are its own
                stranger = others.enter_context(socket.socket())
                stranger.bind(("127.0.0.1", getattr(self, name)))
                stranger.listen()
            self.strangers = True
            await super()._async_launch_kernel(kernel_cmd, **named)

    return Taken


async def answers(manager, seconds):
    client = manager.client()
    client.start_channels()
    try:
        await client.wait_for_ready(timeout=seconds)
    finally:
        client.stop_channels()


@pytest.fixture
def runtime(monkeypatch, tmp_path):
    monkeypatch.setenv("JUPYTER_RUNTIME_DIR", str(tmp_path))


def test_ports_that_are_taken_do_not_matter(runtime):
    async def start():
        with ExitStack() as others:
            manager = taken(KernelWithOwnPorts, others)(autorestart=False)
            await manager.start_kernel()
            try:
                await answers(manager, 60)
                file = Path(manager.connection_file)
                said, known = json.loads(file.read_text()), manager.get_connection_info()
                assert file.stat().st_mode & 0o077 == 0
                assert {n: said[n] for n in port_names} == {n: known[n] for n in port_names}
                await manager.restart_kernel(now=True)  # with the same ports: its clients know them
                assert {n: said[n] for n in port_names} == {n: manager.get_connection_info()[n] for n in port_names}
                await answers(manager, 60)
            finally:
                await manager.shutdown_kernel(now=True)

    asyncio.run(start())


def test_what_the_others_do_is_a_fault_without_it(runtime):
    """The same with the manager of jupyter_server: its kernel ends."""

    async def start():
        with ExitStack() as others:
            manager = taken(ServerKernelManager, others)(autorestart=False)
            await manager.start_kernel()
            try:
                with pytest.raises(RuntimeError, match="Kernel died"):
                    await answers(manager, 60)
            finally:
                await manager.shutdown_kernel(now=True)

    asyncio.run(start())


def test_the_server_uses_it():
    assert SpareKernel().kernel_manager_class.endswith("KernelWithOwnPorts")
