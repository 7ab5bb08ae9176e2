"""Stopping without a loss: connections that have begun are taken, and no new one begins.

A client is connected as soon as the kernel has answered it; the service sees the connection only
with its first bytes (``slow_clients.wait_for_data``). A listening socket that is closed in between
is forgotten with all that have begun to connect to it, and their requests are lost: ``ECONNRESET``
as they send. So the kernel first drops whatever would begin a connection, and hands over every
other one, with bytes or without; only when a client far away has had time to send what it was about
to send is the socket closed.

To a client whose beginning is dropped it looks as if it was lost on its way, and it begins again
after a second: it is then refused, or reaches the service that has taken this one's place.
"""

from __future__ import annotations

import ctypes
import socket
import struct
from contextlib import suppress
from typing import Final

LINGER_S: Final = 0.3
"""Time for connections that have begun: a round trip to the other side of the earth, and less than
the second after which a client begins again (RFC 6298, 2.1)."""

_SO_ATTACH_FILTER: Final = 26  # Linux; Python has no name for it
_LOAD_BYTE: Final = 0x30
_AND: Final = 0x54
_JUMP_IF_EQUAL: Final = 0x15
_RETURN: Final = 0x06
_FLAGS_AT: Final = 13
"""Byte of a TCP header that has its flags (RFC 9293, 3.1)."""

_SYN: Final = 0x02
_SYN_OR_ACK: Final = 0x12
_WHOLE: Final = 0xFFFF_FFFF
_DROP_BEGINNINGS: Final = (
    (_LOAD_BYTE, 0, 0, _FLAGS_AT),
    (_AND, 0, 0, _SYN_OR_ACK),
    (_JUMP_IF_EQUAL, 0, 1, _SYN),
    (_RETURN, 0, 0, 0),
    (_RETURN, 0, 0, _WHOLE),
)
"""A packet filter (classic BPF) that drops segments with SYN and without ACK."""


def begin_no_more(listener: socket.socket) -> None:
    """Let the kernel take no new connection and hand over at once those that have begun.

    Systems that cannot do it lose what is on its way when the socket is closed. Sockets of the file
    system have no handshakes, and this changes nothing for them.
    """
    program = b"".join(struct.pack("HBBI", *each) for each in _DROP_BEGINNINGS)
    kept = ctypes.create_string_buffer(program)
    described = struct.pack("HP", len(_DROP_BEGINNINGS), ctypes.addressof(kept))
    with suppress(OSError, AttributeError):
        listener.setsockopt(socket.SOL_SOCKET, _SO_ATTACH_FILTER, described)
        listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_DEFER_ACCEPT, 0)
