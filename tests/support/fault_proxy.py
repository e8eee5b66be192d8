"""A loopback proxy that does to requests what networks do: lose replies, cut bodies, answer first.

It reads a whole request, then does what the faults say, else hands it on over a connection of its
own. Faults are tried in order; each counts down and goes away when it is used up.
"""

from __future__ import annotations

import asyncio
import threading
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal, Self

if TYPE_CHECKING:
    from types import TracebackType

PORTAL = (
    b"HTTP/1.1 200 OK\r\nContent-Type: text/html; charset=utf-8\r\nConnection: close\r\n\r\n"
    b"<!doctype html><title>Welcome</title><h1>Accept the terms to use this Wi-Fi</h1>"
)
Kind = Literal["drop_reply", "portal", "cut_request", "cut_reply", "hold", "slow", "refuse"]


@dataclass
class Fault:
    """One fault.

    `kind`: drop_reply (the server did it, nobody hears), portal (200 with a page of its own),
    cut_request / cut_reply (half of it), hold (the reply waits for `release`), slow (`delay_s` before
    handing on), refuse (the connection ends at once). `path` is a prefix; the first `skip` matches
    pass; `times` None means for ever.
    """

    kind: Kind
    path: str = "/api/v1/exchange"
    method: str = ""
    skip: int = 0
    times: int | None = 1
    delay_s: float = 0.0
    hits: int = 0
    struck: threading.Event = field(default_factory=threading.Event)
    release: threading.Event = field(default_factory=threading.Event)

    def takes(self, method: str, path: str) -> bool:
        """Whether this request meets the fault; counts it."""
        if not path.startswith(self.path) or self.method not in ("", method):
            return False
        if self.skip > 0:
            self.skip -= 1
            return False
        if self.times is not None and self.hits >= self.times:
            return False
        self.hits += 1
        return True


class FaultProxy:
    """Listens on `port` of loopback and speaks to `target` port; use as a context."""

    def __init__(self, port: int, target: int) -> None:
        self.port, self.target = port, target
        self.faults: list[Fault] = []
        self.seen: list[tuple[str, str]] = []  # (method, path) of every request, in order
        self.most_exchanges = 0  # at a time
        self._exchanges = 0
        self._served: set[asyncio.Task[Any] | None] = set()  # nobody else holds on to them
        self._loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self._loop.run_forever, daemon=True)

    @property
    def address(self) -> str:
        """The origin that a browser sees."""
        return f"http://127.0.0.1:{self.port}"

    def fault(self, kind: Kind, **more: object) -> Fault:
        """Add a fault and return it."""
        one = Fault(kind, **more)  # type: ignore[arg-type]
        self.faults.append(one)
        return one

    def heal(self) -> None:
        """Take all faults away and let go of what they hold."""
        faults, self.faults = self.faults, []
        for one in faults:
            one.release.set()

    def __enter__(self) -> Self:
        self._thread.start()
        asyncio.run_coroutine_threadsafe(self._listen(), self._loop).result(10)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self.heal()
        asyncio.run_coroutine_threadsafe(self._end(), self._loop).result(10)
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(10)
        self._loop.close()

    async def _listen(self) -> None:
        self._server = await asyncio.start_server(self._serve, "127.0.0.1", self.port)
        self.port = self._server.sockets[0].getsockname()[1]

    async def _end(self) -> None:
        self._server.close()
        others = [t for t in asyncio.all_tasks() if t is not asyncio.current_task()]
        for task in others:
            task.cancel()
        await asyncio.gather(*others, return_exceptions=True)

    async def _serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        is_exchange = False
        task = asyncio.current_task()
        self._served.add(task)
        try:
            head = await reader.readuntil(b"\r\n\r\n")
            method, path, _ = head.split(b"\r\n", 1)[0].decode().split(" ")
            size = 0
            for line in head.decode("latin-1").split("\r\n"):
                if line.lower().startswith("content-length:"):
                    size = int(line.split(":")[1])
            body = await reader.readexactly(size)
            self.seen.append((method, path))
            is_exchange = path.startswith("/api/v1/exchange")
            self._exchanges += is_exchange
            self.most_exchanges = max(self.most_exchanges, self._exchanges)
            fault = next((one for one in self.faults if one.takes(method, path)), None)
            reply = await self._reply(fault, head, body)
            writer.write(reply)
            await writer.drain()
        except (OSError, asyncio.IncompleteReadError, asyncio.CancelledError):
            pass  # the browser, the server or this proxy went away: that is a network's life
        finally:
            self._exchanges -= is_exchange
            writer.close()
            self._served.discard(task)

    async def _reply(self, fault: Fault | None, head: bytes, body: bytes) -> bytes:
        if fault is None:
            return await self._hand_on(head, body)
        try:
            if fault.kind == "portal":
                return PORTAL
            if fault.kind == "refuse":
                return b""
            if fault.kind == "cut_request":
                await self._hand_on(head, body[: len(body) // 2])
                return b""
            if fault.kind == "slow":
                await asyncio.sleep(fault.delay_s)
            reply = await self._hand_on(head, body)
            if fault.kind == "cut_reply":
                return reply[: len(reply) * 2 // 3]
            if fault.kind == "drop_reply":
                return b""
        finally:
            fault.struck.set()
        if fault.kind == "hold":
            await asyncio.to_thread(fault.release.wait, 60)
        return reply

    async def _hand_on(self, head: bytes, body: bytes) -> bytes:
        reader, writer = await asyncio.open_connection("127.0.0.1", self.target)
        try:
            kept = [
                line for line in head.split(b"\r\n") if not line.lower().startswith(b"connection:")
            ]
            writer.write(b"\r\n".join([*kept[:-2], b"Connection: close", b"", b""]) + body)
            await writer.drain()
            if writer.can_write_eof():
                writer.write_eof()
            return await reader.read()
        finally:
            writer.close()
