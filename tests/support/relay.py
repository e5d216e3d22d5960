# SPDX-License-Identifier: MIT
"""A faulty connection between a client and a server: what comes back is split into other chunks,
cut off, slowed down or never ends."""

import contextlib
import socket
import threading

PATIENCE = 120  # seconds after which a relay gives up waiting for its peer: a hang guard


class Relay:
    """Asks the server what it is asked with GET, and gives the answer back as `how` says:

        chunks    in chunks of several sizes, with an extension and a trailer
        short     half of the body that its length tells
        torn      half of the body, in chunks, and no last chunk
        dead      nothing at all, until the peer gives up
        drip      one byte of a head after the other, for ever
        endless   chunks without end
        (a text)  that text, as it is

    `lines` has the first lines of all requests, `heads` their headers by names in lower case."""

    def __init__(self, target, how, host="127.0.0.1"):
        self.target, self.how = target, how
        self.lines, self.heads = [], []
        self.ended = threading.Event()
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        self.listener = socket.create_server((host, 0), family=family)
        self.port = self.listener.getsockname()[1]
        self.host = f"[{host}]:{self.port}" if ":" in host else f"{host}:{self.port}"
        self.threads = []
        self.thread = threading.Thread(target=self.accept)
        self.thread.start()

    def end(self):
        self.ended.set()
        with contextlib.suppress(OSError):
            self.listener.shutdown(socket.SHUT_RDWR)
        self.listener.close()
        for thread in [self.thread, *self.threads]:
            thread.join()

    def accept(self):
        with contextlib.suppress(OSError):
            while not self.ended.is_set():
                peer, _ = self.listener.accept()
                self.threads.append(threading.Thread(target=self.serve, args=(peer,)))
                self.threads[-1].start()

    def serve(self, peer):
        peer.settimeout(PATIENCE)
        with peer, contextlib.suppress(OSError):
            got = b""
            while b"\r\n\r\n" not in got:
                part = peer.recv(65536)
                if not part:
                    return
                got += part
            first, *rest = got.split(b"\r\n\r\n")[0].decode().split("\r\n")
            head = {name.lower(): value.strip()
                    for name, _, value in (line.partition(":") for line in rest)}
            self.lines.append(first)
            self.heads.append(head)
            self.answer(peer, first.split()[1], head)

    def answer(self, peer, path, head):
        if isinstance(self.how, bytes):
            peer.sendall(self.how)
        elif self.how == "dead":
            peer.recv(1)
        elif self.how == "drip":
            peer.sendall(b"HTTP/1.1 200 OK\r\nX-Drip: ")
            while not self.ended.wait(0.2):
                peer.sendall(b"x")
        elif self.how == "endless":
            peer.sendall(b"HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n")
            while not self.ended.is_set():
                peer.sendall(b"10000\r\n" + b" " * 0x10000 + b"\r\n")
        else:
            self.reframe(peer, path, head)

    def reframe(self, peer, path, head):
        path = path[path.index("/api"):] if path.startswith("http://") else path
        key = head.get("authorization", " ").split(" ", 1)[1]
        told = self.target.ask("GET", path, key=key or None)
        framed = {**told.headers, "connection": "close"}
        if self.how != "short":
            del framed["content-length"]
            framed["transfer-encoding"] = "chunked"
        lines = [f"HTTP/1.1 {told.status} X", *(f"{name}: {value}" for name, value in framed.items())]
        peer.sendall("\r\n".join(lines).encode() + b"\r\n\r\n")
        half = told.body[:len(told.body) // 2]
        if self.how == "short":
            peer.sendall(half)
        elif self.how == "torn":
            peer.sendall(b"%x\r\n%s\r\n" % (len(half), half))
        else:
            self.send_chunks(peer, told.body)

    @staticmethod
    def send_chunks(peer, body):
        size = 1
        while body:
            part, body = body[:size], body[size:]
            peer.sendall(b"%X;at=x\r\n%s\r\n" % (len(part), part))
            size = size * 3 % 1000 + 1
        peer.sendall(b"0\r\nX-Trailer: x\r\n\r\n")


def hosts():
    """This machine's own numbers; 127.0.0.1 always, ::1 where the kernel has it."""
    found = ["127.0.0.1"]
    with contextlib.suppress(OSError):
        socket.create_server(("::1", 0), family=socket.AF_INET6).close()
        found.append("::1")
    return found
