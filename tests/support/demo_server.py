"""The older name of `live_server`, for the tests that still use it."""

from support.live_server import LiveServer as DemoServer
from support.live_server import free_port
from support.live_server import live_server as demo_server

__all__ = ["DemoServer", "demo_server", "free_port"]
