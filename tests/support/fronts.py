# SPDX-License-Identifier: MIT
"""nginx and Varnish with the configurations that are shipped, in front of a real server.

Each runs in a temporary folder on a free port and is ended by its own process id. Of the shipped
files only addresses and folders are replaced.
"""

import contextlib
import os
import random
import re
import shutil
import signal
import socket
import subprocess
import tempfile
import time

from tests.support import serving
from tests.support.cairn import ROOT

READY_SECONDS = 60


def free_port():
    """A port for a program that must be told one. It is outside the range from which the kernel
    chooses, so no connection of another test takes it meanwhile."""
    with open("/proc/sys/net/ipv4/ip_local_port_range", encoding="ascii") as file:
        first, last = map(int, file.read().split())
    others = [*range(10240, first), *range(last + 1, 65536)] or [0]
    while True:
        with socket.socket() as peer, contextlib.suppress(OSError):
            peer.bind(("0.0.0.0", random.choice(others)))
            return peer.getsockname()[1]


def replace_once(text, old, new):
    """Replaces a text of a shipped file; fails where the file no longer has it."""
    if text.count(old) != 1:
        raise AssertionError(f"{old!r} is there {text.count(old)} times")
    return text.replace(old, new)


def shipped(*parts):
    with open(os.path.join(ROOT, "deploy", *parts), encoding="utf-8") as file:
        return file.read()


class Front:
    """What nginx and Varnish have in common. Both are asked like a server."""

    ask = serving.Server.ask
    get = serving.Server.get
    send = serving.Server.send
    connect = serving.Server.connect
    raw = serving.Server.raw
    name = ""
    trust = None

    def __init__(self, origin):
        self.folder = tempfile.mkdtemp(prefix="cairn-front-")
        self.port = free_port()
        self.answers = []
        self.process = None
        try:
            command = self.prepare(origin.port)
            with open(os.path.join(self.folder, "output"), "ab") as output:
                self.process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=output,
                                                stderr=output)
            self.wait_ready()
        except BaseException:
            self.end()
            raise

    def prepare(self, origin_port):
        """Writes the configuration; returns the command."""
        raise NotImplementedError

    def output(self):
        with open(os.path.join(self.folder, "output"), encoding="utf-8", errors="replace") as file:
            return file.read()

    def wait_ready(self):
        until = time.monotonic() + READY_SECONDS
        while True:
            try:
                if self.get("/healthz").status == 200:
                    return
            except OSError:
                pass
            if self.process.poll() is not None or time.monotonic() > until:
                raise AssertionError(f"{self.name} is not ready: {self.output()}")
            time.sleep(0.05)

    def end(self):
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            try:
                self.process.wait(READY_SECONDS)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()
        shutil.rmtree(self.folder, ignore_errors=True)


NGINX_MAIN = """daemon off;
pid {folder}/pid;
error_log {folder}/error.log;
worker_processes 1;
{user}
events {{ worker_connections 512; }}
http {{
    access_log off;
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/proxy;
    fastcgi_temp_path {folder}/fastcgi;
    uwsgi_temp_path {folder}/uwsgi;
    scgi_temp_path {folder}/scgi;
    include {folder}/cairn.conf;
}}
"""


class Nginx(Front):
    name = "nginx"

    def prepare(self, origin_port):
        text = shipped("nginx", "cairn.conf")
        text = replace_once(text, "server 127.0.0.1:8080;", f"server 127.0.0.1:{origin_port};")
        text = replace_once(text, "listen 80;", f"listen 127.0.0.1:{self.port};")
        text = replace_once(text, "/var/lib/nginx/cairn", f"{self.folder}/cache")
        return self.configure(text.replace("/etc/nginx/cairn-directory", self.directory))

    @property
    def directory(self):
        """Where the list of events and hosts stands, if a test makes one."""
        return os.path.join(self.folder, "directory")

    def configure(self, text):
        """Puts a configuration in place of conf.d; returns the command."""
        with open(os.path.join(self.folder, "cairn.conf"), "w", encoding="utf-8") as file:
            file.write(text)
        main = os.path.join(self.folder, "nginx.conf")
        # As root the workers would change to a user that cannot enter the temporary folder.
        user = "user root;" if os.geteuid() == 0 else ""
        with open(main, "w", encoding="utf-8") as file:
            file.write(NGINX_MAIN.format(folder=self.folder, user=user))
        program = shutil.which("nginx", path=os.environ["PATH"] + ":/usr/sbin")
        return [program, "-e", f"{self.folder}/error.log", "-p", self.folder, "-c", main]

    def output(self):
        told = super().output()
        path = os.path.join(self.folder, "error.log")
        if os.path.exists(path):
            with open(path, encoding="utf-8", errors="replace") as file:
                told += file.read()
        return told


class Varnish(Front):
    name = "varnish"

    def prepare(self, origin_port):
        text = shipped("varnish", "cairn.vcl")
        text = replace_once(text, '.port = "8080";', f'.port = "{origin_port}";')
        path = os.path.join(self.folder, "cairn.vcl")
        with open(path, "w", encoding="utf-8") as file:
            file.write(text)
        program = shutil.which("varnishd", path=os.environ["PATH"] + ":/usr/sbin")
        return [program, "-F", "-j", "none", "-n", os.path.join(self.folder, "work"),
                "-a", f"127.0.0.1:{self.port}", "-f", path, "-s", "malloc,32m",
                "-p", "thread_pools=1", "-p", "thread_pool_min=20"]


FRONTS = (Nginx, Varnish)


def requests_of(log, path):
    """How often the server behind was asked for a path, by its access log."""
    return len(re.findall(rf" [A-Z]+ {re.escape(path)} \d+ \d+$", log, re.M))
