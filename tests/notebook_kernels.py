"""The kernels in which nbval runs the notebooks, made safe and quick.

jupyter_client chooses five free ports and closes them again, and the kernel opens them a second later.  About once in a
thousand times another connection takes one in between: that kernel says so, never answers, and never ends either.  Over
sockets that are files, nobody can.  (``shoplib open`` has ports, and kernels that choose them: desk/server/kernel_ports.)
"""

import os
import tempfile
import uuid


def pytest_configure(config):
    if getattr(config.option, "nbval", False):
        import nbval.kernel

        if os.name == "posix":
            nbval.kernel.KernelManager = over_files(nbval.kernel.KernelManager)
        nbval.kernel.pformat = lambda message: message["msg_type"]  # a log that nobody keeps: half of nbval's own time


def over_files(manager):
    """The class of a kernel's manager, with sockets in the temporary folder instead of ports."""

    class OverFiles(manager):
        def __init__(self, **named):
            sockets = os.path.join(tempfile.gettempdir(), f"kernel-{uuid.uuid4().hex}")  # "-1" to "-5" follow
            super().__init__(transport="ipc", ip=sockets, **named)

    return OverFiles
