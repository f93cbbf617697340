"""A Jupyter server's connection to the browser that sends every message at once."""

from __future__ import annotations

from typing import Any

from jupyter_server.services.kernels.connection.channels import ZMQChannelsWebsocketConnection


class NoDelaySocket(ZMQChannelsWebsocketConnection):
    """Without it a small message waits until the browser has acknowledged the previous one, which takes up to
    40 ms (RFC 896 of the sender against the delayed ACK of RFC 1122, 4.2.3.2 of the receiver)."""

    def connect(self) -> Any:
        """Connect on a socket without this delay."""
        self.websocket_handler.set_nodelay(True)
        return super().connect()
