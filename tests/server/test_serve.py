"""The server listens so that answers come at once."""

from __future__ import annotations

import asyncio
import socket

from wherestood.server.serve import HOST, listen


def test_answers_are_sent_at_once_however_small() -> None:
    # RFC 896's algorithm holds a second small piece back until the first is received,
    # which RFC 1122, 4.2.3.2 lets the other side tell up to half a second late.
    async def held_back() -> bool:
        accepted: asyncio.Future[bool] = asyncio.get_running_loop().create_future()

        def met(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            link = writer.get_extra_info("socket")
            at_once = link.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)
            accepted.set_result(not at_once)
            writer.close()

        listening = listen(0)
        port = listening.getsockname()[1]
        async with await asyncio.start_server(met, sock=listening):
            _, writer = await asyncio.open_connection(HOST, port)
            told = await accepted
            writer.close()
            await writer.wait_closed()
        return told

    assert not asyncio.run(held_back())
