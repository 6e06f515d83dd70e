"""A notebook server that answers at once, for a workbench that feels like a tool.

By default the operating system holds small answers back for some 40 ms, in case more
follow (Nagle's algorithm); a click on the workbench would wait for that.
"""

from __future__ import annotations

from typing import Any

from jupyter_server.services.kernels.connection.channels import (
    ZMQChannelsWebsocketConnection,
)


class PromptConnection(ZMQChannelsWebsocketConnection):
    """The connection between page and kernel, without waiting."""

    def connect(self) -> Any:
        """Connect, and send what there is to send at once."""
        self.websocket_handler.set_nodelay(True)
        return super().connect()
