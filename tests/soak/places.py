# SPDX-License-Identifier: MIT
"""Where a soak runs: networks that can be cut and slowed down, a disk that can be filled, a clock
that can be moved.

With the rights for it, everything is in namespaces of this program: the networks of the server,
of the field with the desks and of the crowd, joined by links, and a small file system. Without
them all is on the loopback, and the disk is full by a limit on the size of files. The rest of the
machine sees none of it, and it ends with this program.
"""

import asyncio
import ctypes
import os
import resource
import socket
import struct
import subprocess
import sys
import threading
import time

CLONE_NEWNET = 0x40000000
INSIDE = "CAIRN_SOAK_INSIDE"
CROWD_ADDRESSES = 200  # a crowd does not come from one address
DISK_BYTES = 64 << 20
READY_SECONDS = 20


def enter_namespaces(wanted=True):
    """Runs this program anew inside namespaces, where that is allowed; returns whether it is in
    them. To be called before anything else."""
    if os.environ.pop(INSIDE, None):
        subprocess.run(["ip", "link", "set", "lo", "up"], check=True)
        return True
    if not wanted:
        return False
    unshare = ["unshare", "--mount", "--net"]
    if os.geteuid() != 0:
        unshare.append("--map-root-user")
    tried = ("ip link set lo up && ip link add soak0 type veth peer name soak1 && "
             "mount -t tmpfs -o size=4096 none /mnt")
    try:
        allowed = subprocess.run([*unshare, "sh", "-c", tried], capture_output=True, timeout=20,
                                 check=False).returncode == 0
    except (OSError, subprocess.TimeoutExpired):
        allowed = False
    if allowed:
        sys.stdout.flush()
        os.environ[INSIDE] = "1"
        os.execvp(unshare[0], [*unshare, sys.executable, "-m", "tests.soak.soak", *sys.argv[1:]])
    return False


def enter_network(path):
    """Moves this thread into a network: the sockets that it makes from now on are there."""
    libc = ctypes.CDLL(None, use_errno=True)
    handle = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    try:
        if libc.setns(handle, CLONE_NEWNET) != 0:
            raise OSError(ctypes.get_errno(), "setns")
    finally:
        os.close(handle)


class Network:
    """A network linked to the server's; held by a process that ends with this one."""

    def __init__(self, number, addresses=1):
        self.server_address = f"10.77.{number}.1"
        self.addresses = [f"10.77.{number}.{10 + n}" for n in range(addresses)]
        self.link = f"soak{number}"
        self.holder = subprocess.Popen(["unshare", "--net", "sh", "-c", "echo here; exec cat"],
                                       stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        if self.holder.stdout.readline() != b"here\n":
            raise RuntimeError("no network of its own")
        self.path = f"/proc/{self.holder.pid}/ns/net"
        self.wrap = ("nsenter", f"--net={self.path}", "--")
        try:
            self._join()
        except BaseException:
            self.end()
            raise

    def _join(self):
        far = self.link + "far"
        run = subprocess.run
        run(["ip", "link", "add", self.link, "type", "veth", "peer", "name", far, "netns",
             str(self.holder.pid)], check=True)
        run(["ip", "address", "add", self.server_address + "/24", "dev", self.link], check=True)
        run(["ip", "link", "set", self.link, "up"], check=True)
        lines = ["link set lo up", *(f"address add {a}/24 dev {far}" for a in self.addresses),
                 f"link set {far} up"]
        run([*self.wrap, "ip", "-batch", "-"], input="\n".join(lines).encode(), check=True)

    def enter(self):
        enter_network(self.path)

    def cut(self, is_cut):
        """From now on no packet passes, and neither side is told."""
        subprocess.run(["ip", "link", "set", self.link, "down" if is_cut else "up"], check=True)

    def end(self):
        self.holder.stdin.close()
        self.holder.wait(READY_SECONDS)
        self.holder.stdout.close()


class Loopback:
    """Takes the place of a network where none can be made. It cannot be cut."""

    server_address = "127.0.0.1"
    wrap = ()

    def __init__(self, number, addresses=1):
        self.addresses = [f"127.77.{number}.{10 + n}" for n in range(addresses)]

    def enter(self):
        pass

    def cut(self, is_cut):
        pass

    def end(self):
        pass


class Relay:
    """Passes bytes on in a network after a delay, in pieces, and can break connections. Desks
    speak through it: not every kernel can delay packets by itself."""

    def __init__(self, network, port):
        self.network, self.target = network, (network.server_address, port)
        self.delay = 0.0      # seconds, each way
        self.torn = False     # who connects is hung up on
        self.host, self.port = "127.0.0.1", None
        self.lines = set()
        self.loop = None
        self.ready = threading.Event()
        self.thread = threading.Thread(target=self._run, daemon=True)
        self.thread.start()
        if not self.ready.wait(READY_SECONDS) or self.port is None:
            raise RuntimeError("the relay does not start")

    def _run(self):
        self.network.enter()
        try:
            asyncio.run(self._serve())
        finally:
            self.ready.set()

    async def _serve(self):
        self.loop = asyncio.get_running_loop()
        self.over = asyncio.Event()
        server = await asyncio.start_server(self._line, self.host, 0)
        self.port = server.sockets[0].getsockname()[1]
        self.ready.set()
        await self.over.wait()
        server.close()
        self._hang_up()

    async def _pass(self, reader, writer):
        """One way; ends with the line."""
        pieces = asyncio.Queue()

        async def send():
            while True:
                due, piece = await pieces.get()
                await asyncio.sleep(max(0.0, due - self.loop.time()))
                if piece is None:
                    return
                writer.write(piece)
                await writer.drain()

        sender = asyncio.ensure_future(send())
        try:
            while piece := await reader.read(1400):
                pieces.put_nowait((self.loop.time() + self.delay, piece))
            pieces.put_nowait((self.loop.time() + self.delay, None))
            await sender
        finally:
            sender.cancel()

    async def _line(self, reader, writer):
        """A connection of a desk, and the one to the server that belongs to it."""
        writers = [writer]
        self.lines.add(writer)
        try:
            if self.torn:
                return
            far_reader, far_writer = await asyncio.open_connection(*self.target)
            writers.append(far_writer)
            self.lines.add(far_writer)
            ways = [asyncio.ensure_future(self._pass(reader, far_writer)),
                    asyncio.ensure_future(self._pass(far_reader, writer))]
            await asyncio.wait(ways, return_when=asyncio.FIRST_COMPLETED)
            for way in ways:
                way.cancel()
            await asyncio.gather(*ways, return_exceptions=True)
        except OSError:
            pass
        finally:
            for one in writers:
                self.lines.discard(one)
                one.transport.abort()

    def _hang_up(self):
        for writer in list(self.lines):
            # A reset and no orderly end: what is on its way is lost.
            sock = writer.transport.get_extra_info("socket")
            if sock is not None:
                sock.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            writer.transport.abort()

    def tear(self, is_torn):
        self.torn = is_torn
        if is_torn:
            self.loop.call_soon_threadsafe(self._hang_up)

    def end(self):
        self.loop.call_soon_threadsafe(self.over.set)
        self.thread.join(READY_SECONDS)


class SmallDisk:
    """A small file system, which is filled by a file."""

    def __init__(self, path):
        self.path = path
        os.makedirs(path)
        subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={DISK_BYTES}", "none", path],
                       check=True)
        self.filler = os.path.join(path, "filler")

    def fill(self, _pid, room):
        """Fills the disk but for `room` bytes."""
        with open(self.filler, "wb", buffering=0) as file:
            try:
                while True:
                    file.write(bytes(65536))
            except OSError:
                file.truncate(max(file.tell() - room, 0))

    def free(self, _pid):
        os.remove(self.filler)

    def end(self):
        subprocess.run(["umount", "--lazy", self.path], check=True)


class LimitedFiles:
    """A disk that is full by a limit on the size of the server's files."""

    def __init__(self, path):
        self.path = path
        os.makedirs(path)

    def fill(self, pid, room):
        largest = max(os.path.getsize(os.path.join(self.path, name))
                      for name in os.listdir(self.path))
        resource.prlimit(pid, resource.RLIMIT_FSIZE, (largest + room, resource.RLIM_INFINITY))

    def free(self, pid):
        try:
            resource.prlimit(pid, resource.RLIMIT_FSIZE,
                             (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
        except ProcessLookupError:
            pass  # the next process has no limit

    def end(self):
        pass


class Inside:
    """A library that is loaded into the server: it moves the server's wall clock, and reports
    what the server has allocated. It acts on programs that are started with `environment`."""

    def __init__(self, folder, clock, allocated):
        os.makedirs(folder)
        self.path = os.path.join(folder, "moved")
        self.told = os.path.join(folder, "allocated")
        self.move(0)
        with open(self.told, "wb") as file:
            file.write(bytes(16))
        self.environment = {**os.environ, "LD_PRELOAD": f"{clock}:{allocated}",
                            "MOVED_CLOCK": self.path, "ALLOCATED": self.told,
                            # A sanitizer insists on being loaded first.
                            "ASAN_OPTIONS": os.environ.get("ASAN_OPTIONS", "") +
                                            ":verify_asan_link_order=0"}

    def allocated(self):
        """MiB that the server has allocated."""
        with open(self.told, "rb") as file:
            return struct.unpack("qq", file.read(16))[0] / (1 << 20)

    def move(self, seconds):
        """Sets how far the clock is off, in the mapped file: the server sees it at once."""
        mode = "r+b" if os.path.exists(self.path) else "wb"
        with open(self.path, mode, buffering=0) as file:
            file.write(struct.pack("q", seconds))


def wait_until(what, seconds):
    """Waits until what() is true; returns whether it became so in time."""
    until = time.monotonic() + seconds
    while not what():
        if time.monotonic() > until:
            return False
        time.sleep(0.02)
    return True
