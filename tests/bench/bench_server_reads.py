# SPDX-License-Identifier: MIT
"""Reads of the standings, compared with nginx serving the same bytes from its cache of open
files.

Both servers are pinned to one core, the load generator to another. They run at the same time but
are asked in turns, so that whatever else the machine does affects both. Every ratio is of two
runs side by side.
"""

import os
import re
import socket
import subprocess
import tempfile

from tests.bench import service
from tests.support import client, figures, machine

ROUNDS, SECONDS, CONNECTIONS = 7, 3, 64

NGINX = """
daemon off;
worker_processes 1;
pid {folder}/nginx.pid;
error_log {folder}/error.log;
events {{ worker_connections 1024; }}
http {{
    access_log off;
    client_body_temp_path {folder}/body;
    proxy_temp_path {folder}/proxy;
    fastcgi_temp_path {folder}/fastcgi;
    uwsgi_temp_path {folder}/uwsgi;
    scgi_temp_path {folder}/scgi;
    sendfile on;
    tcp_nopush on;
    tcp_nodelay on;
    keepalive_timeout 60;
    keepalive_requests 100000000;
    open_file_cache max=100 inactive=60s;
    open_file_cache_valid 60s;
    server {{
        listen 127.0.0.1:{port};
        location = /standings {{
            alias {folder}/standings.json.gz;
            default_type application/json;
            add_header Content-Encoding gzip;
            add_header Cache-Control "{cache_control}";
        }}
    }}
}}
"""


def get(port, path, headers):
    """Status, headers (names in lower case) and the body as it came over the wire."""
    answer = client.ask(port, "GET", path, headers=headers)
    return answer.status, answer.headers, answer.body


def free_port():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


def start_nginx(folder, nginx, body, cache_control):
    """Writes the configuration; returns the command and its port."""
    port = free_port()
    os.chmod(folder, 0o755)  # its worker is another user where it is started by root
    with open(os.path.join(folder, "standings.json.gz"), "wb") as file:
        file.write(body)
    config = os.path.join(folder, "nginx.conf")
    with open(config, "w", encoding="utf-8") as file:
        file.write(NGINX.format(folder=folder, port=port, cache_control=cache_control))
    return machine.pinned(0, [nginx, "-c", config, "-p", folder]), port


def answers(port):
    """True once something listens there."""
    with socket.socket() as one:
        return one.connect_ex(("127.0.0.1", port)) == 0


def run_wrk(wrk, port, path):
    """Requests a second, and the 99th percentile in ms."""
    command = [wrk, "-t1", f"-c{CONNECTIONS}", f"-d{SECONDS}s", "--latency",
               "-H", "Accept-Encoding: gzip", f"http://127.0.0.1:{port}{path}"]
    out = subprocess.run(machine.pinned(1, command), check=True, stdout=subprocess.PIPE,
                         text=True).stdout
    if "Socket errors" in out or "Non-2xx" in out:
        raise RuntimeError(out)
    p99 = re.search(r"99%\s+([\d.]+)(us|ms|s)", out)
    scale = {"us": 1e-3, "ms": 1, "s": 1e3}[p99.group(2)]
    return float(re.search(r"Requests/sec:\s+([\d.]+)", out).group(1)), \
        float(p99.group(1)) * scale


def run_conditional(tool, port, path, tag):
    """As run_wrk, for requests that are answered with 304."""
    out = subprocess.run(
        machine.pinned(1, [tool, str(port), path, tag, str(CONNECTIONS), str(SECONDS * 1000)]),
        check=True, stdout=subprocess.PIPE, text=True).stdout
    count, micros, _, p99 = map(int, out.split())
    return count / micros * 1e6, p99 / 1e3


def compare(section, name, ours, theirs, least):
    """Runs two functions in turns: ours, theirs, ours, theirs."""
    ratios, rates, p99s, their_rates = [], [], [], []
    for turn in range(ROUNDS + 1):
        rate, p99 = ours()
        their_rate, _ = theirs()
        if turn == 0:
            continue  # the first warms both up
        ratios.append(rate / their_rate)
        rates.append(rate)
        their_rates.append(their_rate)
        p99s.append(p99)
    section.figure(f"{name}", "/s", rates, f"keep-alive, {CONNECTIONS} connections, one core")
    section.figure(f"{name}, nginx", "/s", their_rates, "open_file_cache, same bytes, same core")
    section.figure(f"{name}, to nginx", "x", ratios, f"{ROUNDS} rounds by turns", least=least)
    section.figure(f"{name}, p99", "ms", p99s, "at full load")


def measure(section, nginx, wrk):
    path = f"/api/v1/events/{service.SLUG}/standings"
    gzip = {"Accept-Encoding": "gzip"}
    with tempfile.TemporaryDirectory() as folder:
        tool = machine.build_tool(folder, "conditional")
        data = service.Data(os.path.join(folder, "data"), machine.DEMO)
        with service.serve(data, core=0) as server:
            status, headers, body = get(server.port, path, gzip)
            if status != 200 or headers["content-encoding"] != "gzip":
                raise RuntimeError(f"the standings: {status}")
            command, port = start_nginx(folder, nginx, body, headers["cache-control"])
            with machine.process(command):
                machine.wait_for(lambda: answers(port), 10, "nginx")
                ours, theirs = (server.port, path), (port, "/standings")
                status, _, other = get(*theirs, gzip)
                if status != 200 or other != body:
                    raise RuntimeError("nginx does not serve the same bytes")
                tags = {one: get(*one, gzip)[1]["etag"] for one in (ours, theirs)}
                for one in (ours, theirs):
                    status, _, _ = get(*one, {**gzip, "If-None-Match": tags[one]})
                    if status != 304:
                        raise RuntimeError(f"{one}: {status} where 304 was due")
                compare(section, f"standings, gzip, {len(body) / 1024:.0f} KiB",
                        lambda: run_wrk(wrk, *ours), lambda: run_wrk(wrk, *theirs), 1.2)
                compare(section, "304 of the standings",
                        lambda: run_conditional(tool, *ours, tags[ours]),
                        lambda: run_conditional(tool, *theirs, tags[theirs]), 1.1)


def main():
    section = figures.Section("6-reads", "Reads against nginx")
    nginx, wrk = machine.tool("nginx"), machine.tool("wrk")
    for name, path in (("nginx", nginx), ("wrk", wrk)):
        if path is None:
            section.missing("reads against nginx", f"{name} is not installed")
            return
    measure(section, nginx, wrk)


if __name__ == "__main__":
    main()
